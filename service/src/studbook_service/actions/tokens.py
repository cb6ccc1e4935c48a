"""Tokens: made once, listed without their secret, ended."""

import datetime as dt
from hashlib import sha256
from typing import Any, cast

from msgspec import UNSET

from studbook.wire.access import NewToken, Role, Token, TokenMade, Tokens
from studbook.wire.operations import access as operations
from studbook_service import store
from studbook_service.actions.context import Context
from studbook_service.actions.members import known_member
from studbook_service.actions.operations import carries_out
from studbook_service.actions.refusals import Refusal, access_refusals, unfit
from studbook_service.store import Bearer, TokenRow, audit_event

ID_DIGITS = 12
RANKS = ("viewer", "crew", "chief")


def token_id(token: str) -> str:
    """Name a token by the beginning of its hash, in lists and in the record.

    Example:
        >>> len(token_id("sbk_7"))
        12
    """
    return sha256(token.encode("ascii")).hexdigest()[:ID_DIGITS]


@carries_out(operations.LIST_TOKENS)
async def list_tokens(context: Context, bearer: Bearer) -> Tokens:
    """List the team's tokens for a chief, their own for anybody else."""
    return Tokens(items=[_shown(row) for row in await _seen(context, bearer)])


@carries_out(operations.MAKE_TOKEN)
async def make_token(context: Context, bearer: Bearer, wanted: NewToken) -> TokenMade:
    """Make a token for a member.

    Raises:
        Refusal: `not_home` for a laptop's token.
    """
    member = await known_member(context, bearer, bearer.member if wanted.member is UNSET else wanted.member)
    role = member.role if wanted.role is UNSET else wanted.role
    _refuse_unfit(wanted, member, role)
    expires = None if wanted.days is UNSET else dt.datetime.now(dt.UTC) + dt.timedelta(days=wanted.days)
    token = store.mint()
    detail: dict[str, Any] = {"member": member.id, "role": role}
    if role == "node":
        detail |= {"protected": wanted.protected, "introduces": wanted.introduces}
    if expires is not None:
        detail["expires"] = expires.isoformat(timespec="seconds")
    event = audit_event(actor=bearer.member, action="token.make", subject=token_id(token), **detail)
    with access_refusals(member.id):
        await context.book.access.add_token(
            bearer.team,
            secret_hash=store.secret_hash(token),
            member=member.id,
            role=role,
            label=wanted.label,
            expires=expires,
            protected=wanted.protected,
            introduces=wanted.introduces,
            audit=event,
        )
    return TokenMade(token=token, about=_shown(await _one(context, bearer, token_id(token))))


@carries_out(operations.END_TOKEN)
async def end_token(context: Context, bearer: Bearer, id_: str) -> Token:
    """End a token, one's own or as a chief anybody's; one that ended before stays as it is."""
    row = await _one(context, bearer, id_)
    if row.revoked_at is not None:
        return _shown(row)
    event = audit_event(actor=bearer.member, action="token.end", subject=id_, member=row.member)
    await context.book.access.revoke_token(bearer.team, id_, audit=event)
    return _shown(await _one(context, bearer, id_))


def _refuse_unfit(wanted: NewToken, member: store.MemberRow, role: str) -> None:
    if member.ended:
        raise unfit("/member", f"member: {member.id} left the team", value=member.id)
    if (member.role == "node") is not (role == "node"):
        raise unfit("/role", f"role: {member.id} is a {member.role} and can have no {role}'s token", value=role)
    if role != "node" and RANKS.index(role) > RANKS.index(member.role):
        raise unfit("/role", f"role: {role} is above what {member.id} may, {member.role}", value=role)
    for name in ("protected", "introduces"):
        if getattr(wanted, name) and role != "node":
            raise unfit(f"/{name}", f"{name}: is for a laptop's token alone", value=True)


async def _seen(context: Context, bearer: Bearer) -> list[TokenRow]:
    rows = await context.book.access.tokens(bearer.team)
    return [row for row in rows if bearer.role == "chief" or row.member == bearer.member]


async def _one(context: Context, bearer: Bearer, id_: str) -> TokenRow:
    found = next((row for row in await _seen(context, bearer) if row.id == id_), None)
    if found is None:
        raise Refusal("not_found", f"there is no token {id_[:80]}")
    return found


def _shown(row: TokenRow) -> Token:
    return Token(
        id=row.id,
        member=row.member,
        role=cast("Role", row.role),
        label=row.label,
        made_at=row.created_at,
        expires_at=row.expires_at or UNSET,
        ended_at=row.revoked_at or UNSET,
        protected=row.protected,
        introduces=row.introduces,
    )
