"""Requests about members, tokens and shares, made of what a caller gives. Pure."""

import datetime as dt

from studbook.core.errors import local
from studbook.core.references import sheet_name
from studbook.history.canonical import SLUG
from studbook.wire.access import MemberChange, NewMember, NewShare, NewToken, Role
from studbook.wire.units import opt


def new_member(name: str, *, role: Role, id: str | None) -> NewMember:  # noqa: A002 - the book's own word
    """Ask for a member."""
    return NewMember(name=name, role=role, id=opt(id))


def member_change(*, name: str | None, role: Role | None, ended: bool | None) -> MemberChange:
    """Ask for a change of a member; None leaves what is."""
    return MemberChange(
        name=opt(name),
        role=opt(role),
        ended=opt(ended),
    )


def new_token(
    member: str | None, *, label: str, role: Role | None, days: int | None, protected: bool, introduces: bool
) -> NewToken:
    """Ask for a token."""
    return NewToken(
        label=label,
        member=opt(member),
        role=opt(role),
        days=opt(days),
        protected=protected,
        introduces=introduces,
    )


def new_share(shared: str, *, label: str, until: dt.datetime) -> NewShare:
    """Ask for a share of `CAR` or `CAR/SHEET`.

    Raises:
        BadReferenceError: it is neither.
        BadRequestError: `until` has no offset.

    Example:
        >>> new_share("7/baseline", label="Pat's crew", until=dt.datetime(2027, 1, 1, tzinfo=dt.UTC)).sheet
        'baseline'
    """
    if until.utcoffset() is None:
        raise local("bad_request", f"until: {until.isoformat()} has no offset from UTC")
    if "/" in shared:
        name = sheet_name(shared)
        return NewShare(car=name.car, sheet=name.sheet, label=label, until=until)
    if not SLUG.fullmatch(shared):
        raise local("bad_reference", f"{shared[:80]!r} names nothing to share: write CAR or CAR/SHEET")
    return NewShare(car=shared, label=label, until=until)
