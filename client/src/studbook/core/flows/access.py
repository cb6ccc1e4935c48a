"""Who may see and change what: members, tokens, shares, protection. Most of it is a chief's, at the book's home."""

import datetime as dt

from studbook.core.call import Flow, Walk
from studbook.core.errors import local
from studbook.core.references import sheet_name
from studbook.core.request import call, paged
from studbook.history.canonical import SLUG
from studbook.wire.access import (
    AuditLine,
    Me,
    Member,
    MemberChange,
    Members,
    NewMember,
    NewShare,
    NewToken,
    Protection,
    Role,
    Share,
    ShareMade,
    Token,
    TokenMade,
)
from studbook.wire.operations.access import (
    ADD_MEMBER,
    CHANGE_MEMBER,
    END_SHARE,
    END_TOKEN,
    LIST_MEMBERS,
    LIST_SHARES,
    LIST_TOKENS,
    MAKE_SHARE,
    MAKE_TOKEN,
    PROTECT_SHEET,
    READ_AUDIT,
    READ_ME,
    UNPROTECT_SHEET,
)
from studbook.wire.units import opt


def me() -> Flow[Me]:
    """Tell who holds the token and what it allows; for a share, what is shared and until when."""
    return call(READ_ME)


def members() -> Flow[Members]:
    """List the team's members, and the peer where they are kept if that is not this one."""
    return call(LIST_MEMBERS)


def add_member(name: str, *, role: Role = "crew", id: str | None = None) -> Flow[Member]:  # noqa: A002 - the book's own word
    """Add a member.

    Args:
        name: what the crew calls them.
        role: `viewer`, `crew`, `chief`, or `node` for a laptop.
        id: only for one whose entries carry it already, or for a laptop; else one is made.

    Raises:
        ExistsError: there is a member by that id.
        NotHomeError: members are kept at another node.
    """
    return call(ADD_MEMBER, body=NewMember(name=name, role=role, id=opt(id)))


def change_member(
    id: str,  # noqa: A002 - the book's own word
    *,
    name: str | None = None,
    role: Role | None = None,
    ended: bool | None = None,
) -> Flow[Member]:
    """Change what is given about a member; the rest stays.

    Args:
        id: the member.
        name: what the crew calls them from now on.
        role: what they may from now on; it holds for the tokens they have.
        ended: they left; their tokens end with it.

    Raises:
        LastChiefError: the team would be left without a chief.
    """
    return call(CHANGE_MEMBER, id, body=MemberChange(name=opt(name), role=opt(role), ended=opt(ended)))


def tokens() -> Flow[list[Token]]:
    """List the team's tokens, the newest first; without being chief, one's own."""
    return (yield from call(LIST_TOKENS)).items


def make_token(
    member: str | None = None,
    *,
    label: str,
    role: Role | None = None,
    days: int | None = None,
    protected: bool = False,
    introduces: bool = False,
) -> Flow[TokenMade]:
    """Make a token. It is shown this once; a lost response loses it.

    Args:
        member: whose; one's own if not given.
        label: what it is called in lists.
        role: what it allows at most; the member's role if not given.
        days: how long it opens the book; until it is ended if not given.
        protected: a laptop's: it may bring revisions on protected sheets.
        introduces: a laptop's: it may bring entries by authors the team never had.
    """
    request = NewToken(
        label=label, member=opt(member), role=opt(role), days=opt(days), protected=protected, introduces=introduces
    )
    return call(MAKE_TOKEN, body=request)


def end_token(id: str) -> Flow[Token]:  # noqa: A002 - the book's own word
    """End a token by its id, the first 12 digits of its SHA-256."""
    return call(END_TOKEN, id)


def shares() -> Flow[list[Share]]:
    """List what is shared with other teams, the newest first."""
    return (yield from call(LIST_SHARES)).items


def make_share(shared: str, *, label: str, until: dt.datetime) -> Flow[ShareMade]:
    """Let another team read one car or sheet. The token is shown this once; a lost response loses it.

    Args:
        shared: `CAR`, with its sheets, or `CAR/SHEET`.
        label: for whom.
        until: when it ends, with an offset; at most two years ahead.

    Raises:
        BadReferenceError: `shared` is neither.
        BadRequestError: `until` has no offset.
    """
    if until.utcoffset() is None:
        raise local("bad_request", f"until: {until.isoformat()} has no offset from UTC")
    if "/" in shared:
        name = sheet_name(shared)
        request = NewShare(car=name.car, sheet=name.sheet, label=label, until=until)
    elif SLUG.fullmatch(shared):
        request = NewShare(car=shared, label=label, until=until)
    else:
        raise local("bad_reference", f"{shared[:80]!r} names nothing to share: write CAR or CAR/SHEET")
    return call(MAKE_SHARE, body=request)


def end_share(id: str) -> Flow[Share]:  # noqa: A002 - the book's own word
    """End a share before its date."""
    return call(END_SHARE, id)


def protect(sheet: str) -> Flow[Protection]:
    """Let only a chief record on a sheet (`CAR/SHEET`)."""
    name = sheet_name(sheet)
    return call(PROTECT_SHEET, name.car, name.sheet)


def unprotect(sheet: str) -> Flow[Protection]:
    """Let the crew record on a sheet (`CAR/SHEET`) again."""
    name = sheet_name(sheet)
    return call(UNPROTECT_SHEET, name.car, name.sheet)


def audit(*, after: int = 0, page: int = 200) -> Walk[AuditLine]:
    """Walk the record of changes of access, oldest first; pages are fetched as the walk goes on.

    Args:
        after: number of the last line known already.
        page: lines fetched at a time, 1 to 500.
    """
    return paged(lambda cursor: call(READ_AUDIT, query={"after": cursor or after, "limit": page}))
