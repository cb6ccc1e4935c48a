"""The team's members: who belongs to it, and what each may. Ids are made and say nothing, the first chief's too."""

from typing import Any, TypeVar, cast

from msgspec import UNSET, UnsetType

from studbook.history import merge
from studbook.wire.access import Me, Member, MemberChange, Members, NewMember, Role, Share
from studbook.wire.operations import access as operations
from studbook_service import store
from studbook_service.actions.context import Context
from studbook_service.actions.lines import place
from studbook_service.actions.operations import carries_out
from studbook_service.actions.refusals import Refusal, access_refusals, unfit
from studbook_service.store import Bearer, audit_event, opaque_id
from studbook_service.store.auditing import OWNER

T = TypeVar("T")

RESERVED = frozenset({merge.AUTHOR, OWNER})
"""Ids that stand for no person."""


@carries_out(operations.READ_ME)
async def read_me(_: Context, bearer: Bearer) -> Me:
    """Show who holds a token; of a share's, what it shows and until when."""
    shown = Me(id=bearer.member, name=bearer.name, role=bearer.role)
    if bearer.scope is not None and bearer.expires is not None:
        car, sheet = place(bearer.scope)
        shown.share = Share(id=bearer.member, car=car, sheet=sheet or UNSET, label=bearer.name, until=bearer.expires)
    return shown


@carries_out(operations.LIST_MEMBERS)
async def list_members(context: Context, bearer: Bearer) -> Members:
    """List the team's members by id, and where they are kept."""
    found = await context.book.access.members(bearer.team)
    home = await context.book.access.home(bearer.team)
    return Members(items=[_shown(member) for member in found], home=UNSET if home is None else home)


@carries_out(operations.ADD_MEMBER)
async def add_member(context: Context, bearer: Bearer, wanted: NewMember) -> Member:
    """Add a member."""
    id_ = opaque_id("m") if wanted.id is UNSET else wanted.id
    if id_ in RESERVED:
        raise unfit("/id", f"id: {id_!r} stands for no person", value=id_)
    member = store.MemberRow(id_, wanted.name, wanted.role)
    event = audit_event(actor=bearer.member, action="member.add", subject=id_, role=wanted.role)
    with access_refusals(id_):
        await context.book.access.add_member(bearer.team, member, audit=event)
    return _shown(member)


@carries_out(operations.CHANGE_MEMBER)
async def change_member(context: Context, bearer: Bearer, id_: str, wanted: MemberChange) -> Member:
    """Change a member's name or role, or end or resume their membership; what is so already is left alone."""
    member = await known_member(context, bearer, id_)
    name, role = _news(wanted.name, member.name), _news(wanted.role, member.role)
    ended = _news(wanted.ended, member.ended)
    if name is None and role is None and ended is None:
        return _shown(member)
    if name is not None and member.erased:
        raise Refusal("erased", f"the name of {id_} was erased, and stays so")
    if role is not None and "node" in {role, member.role}:
        raise unfit("/role", f"role: {id_} is a {member.role}; a laptop stays a laptop and a person none", value=role)
    detail: dict[str, Any] = {} if name is None else {"renamed": True}
    detail |= {} if role is None else {"role": role}
    detail |= {"resumed": True} if ended is False else {}
    event = audit_event(actor=bearer.member, action="member.end" if ended else "member.change", subject=id_, **detail)
    with access_refusals(id_):
        changed = await context.book.access.change_member(
            bearer.team, id_, name=name, role=role, ended=ended, audit=event
        )
    return _shown(changed)


async def known_member(context: Context, bearer: Bearer, id_: str) -> store.MemberRow:
    """Find a member.

    Raises:
        Refusal: `not_found`.
    """
    members = await context.book.access.members(bearer.team)
    found = next((member for member in members if member.id == id_), None)
    if found is None:
        raise Refusal("not_found", f"there is no member {id_[:80]}")
    return found


def _news(given: T | UnsetType, held: T) -> T | None:
    return None if given is UNSET or given == held else given


def _shown(member: store.MemberRow) -> Member:
    role = cast("Role", member.role)
    return Member(id=member.id, name=member.name, role=role, ended=member.ended, erased=member.erased)
