"""`studbook members`: who belongs to the team, and what each may."""

from typing import Annotated

from cyclopts import App, Parameter
from msgspec import UNSET

from studbook.blocking import Studbook
from studbook.cli.environment import open_book
from studbook.cli.exit_codes import CommandFailedError
from studbook.cli.options import Json
from studbook.cli.printing import print_json, table
from studbook.core.errors import NotAllowedError
from studbook.wire.access import Member, Role

members = App(name="members", help="Who belongs to the team, and what each may.")

Id = Annotated[str, Parameter(help="The member's id, from studbook members.")]
RoleOption = Annotated[
    Role,
    Parameter(help="viewer reads, crew records, chief manages members and tokens; node: a laptop that syncs."),
]


@members.default
def show(*, json: Json = False) -> None:
    """List the members, those who left too: their entries stay."""
    with open_book() as book:
        found = book.members()
    if json:
        print_json(found)
        return
    rows = [(each.id, _name(each), each.role, "left" * each.ended) for each in found.items]
    print(*table(("id", "name", "role", ""), rows), sep="\n")
    if found.home is not UNSET:
        print(f"(kept at {found.home}, and changed there)")


members.command(show, name="list")


@members.command
def add(
    name: Annotated[str, Parameter(help="What the crew calls them.")],
    /,
    *,
    role: RoleOption = "crew",
    id_: Annotated[
        str | None,
        Parameter(name="--id", help="For a laptop, or one whose entries carry an id already; else one is made."),
    ] = None,
    json: Json = False,
) -> None:
    """Add a member; a token for them is made with `studbook token new --member ID`."""
    with open_book() as book:
        added = book.add_member(name, role=role, id=id_)
    _report(added, json=json)


@members.command
def change(
    member: Id,
    /,
    *,
    name: Annotated[str | None, Parameter(help="What the crew calls them from now on.")] = None,
    role: RoleOption | None = None,
    json: Json = False,
) -> None:
    """Change a member's name or role; their tokens allow no more than their role."""
    if name is None and role is None:
        raise CommandFailedError("say what to change: --name or --role")
    with open_book() as book:
        changed = book.change_member(member, name=name, role=role)
    _report(changed, json=json)


@members.command
def end(member: Id, /, *, json: Json = False) -> None:
    """Let a member leave: their tokens open nothing from now on, their entries stay."""
    with open_book() as book:
        ended = book.change_member(member, ended=True)
    _report(ended, json=json)


@members.command
def back(member: Id, /, *, json: Json = False) -> None:
    """Let a member who left come back, with the tokens that were not ended."""
    with open_book() as book:
        returned = book.change_member(member, ended=False)
    _report(returned, json=json)


def names(book: Studbook) -> dict[str, str]:
    """Give members' names by their ids; none to those who may not list members, and none that were erased."""
    try:
        return {each.id: each.name for each in book.members().items if each.name}
    except NotAllowedError:
        return {}


def _report(member: Member, *, json: bool) -> None:
    if json:
        print_json(member)
    else:
        print(f"{member.id}, {_name(member)}, {member.role}{', left' * member.ended}")


def _name(member: Member) -> str:
    return member.name or "(name erased)"
