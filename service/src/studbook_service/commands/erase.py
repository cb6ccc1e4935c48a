"""`studbook erase`: forgets what somebody has a right to have forgotten. Ids, hashes and chain stay, and verify.

The bytes stay in backups, in the write-ahead log and in unvacuumed pages until those turn over.
"""

import asyncio
import sys
import time
from collections.abc import Sequence
from typing import Annotated, Final
from uuid import UUID

from cyclopts import Parameter

from studbook_service.actions.team_book import entry_in
from studbook_service.actions.views import revision
from studbook_service.commands.errors import exit_on_error
from studbook_service.commands.node import OwnerBook, open_as_owner, owner_settings
from studbook_service.commands.options import Data, OwnerDatabase, Team
from studbook_service.commands.output import print_line
from studbook_service.exchange import erasures
from studbook_service.exchange.rebuilding import NOTE_MOST
from studbook_service.settings import BadSetting, Settings
from studbook_service.store import NotHome, StoredEntry, audit_event, erase_entries, erase_name
from studbook_service.store.auditing import OWNER

_SHORTEST: Final = 6


def erase(
    *,
    entry: Annotated[
        list[str] | None,
        Parameter(help="Id of an entry, or its first 6 or more digits; may be given several times."),
    ] = None,
    member: Annotated[str | None, Parameter(help="Id of a member whose name is to be forgotten.")] = None,
    reason: Annotated[str | None, Parameter(help="Why; kept in the book. Asked for if not given.")] = None,
    team: Team = None,
    data: Data = None,
    database: OwnerDatabase = None,
) -> None:
    """Erase the note and document of entries, or a member's name, for good: here, and at every node that exchanges.

    Only at the book's home, and only with the address of the role that owns the tables. Says what will be gone, and
    asks for the reason.
    """
    with exit_on_error():
        if (not entry) is (member is None):
            raise BadSetting("say what to erase: --entry ID, or --member ID")
        asyncio.run(_erase(owner_settings(data, database), team, entry or [], member, reason))


async def _erase(
    settings: Settings, team: UUID | None, ids: Sequence[str], member: str | None, reason: str | None
) -> None:
    async with open_as_owner(settings, team) as owner:
        home = await owner.books.access.home(owner.team)
        if home is not None:
            raise NotHome(home)
        if member is None:
            await _erase_entries(owner, [await _find_entry(owner, short) for short in ids], reason)
        else:
            await _erase_name(owner, member, reason)


async def _erase_entries(owner: OwnerBook, found: Sequence[StoredEntry], reason: str | None) -> None:
    print_line("Note and document of these entries will be gone:")
    for entry in found:
        shown = revision(entry)
        print_line(
            f"  {shown.id[:12]}  {shown.line}  {shown.at:%Y-%m-%d %H:%M} UTC  {shown.author.name or shown.author.id}"
        )
        print_line(f"    {shown.note or 'no note'}")
    print_line("What follows them keeps what it took over from them: erase that too where it must go.")
    reason = _confirmed(reason)
    chosen = list(dict.fromkeys(entry.id.hex() for entry in found))
    for start in range(0, len(chosen), erasures.MOST):
        part = chosen[start : start + erasures.MOST]
        erasure = erasures.erasure(part, reason=reason, at_ms=time.time_ns() // 1_000_000)
        recorded = audit_event(actor=OWNER, action="entries.erase", subject="entries", erasure=erasure.id, entries=part)
        await erase_entries(owner.owner_dsn, owner.team, entry_in(erasure), audit=recorded)
        print_line(f"{len(part)} erased, by {erasure.id[:12]}")


async def _erase_name(owner: OwnerBook, member: str, reason: str | None) -> None:
    names = {each.id: each.name for each in await owner.books.access.members(owner.team)}
    if member not in names:
        raise BadSetting(f"no member is {member}: studbook members")
    print_line(f"The name of {member}, {names[member] or '(none)'}, will be forgotten; what they recorded stays.")
    recorded = audit_event(actor=OWNER, action="member.erase", subject=member, reason=_confirmed(reason))
    await erase_name(owner.owner_dsn, owner.team, member, audit=recorded)
    print_line(f"the name of {member} is erased")


async def _find_entry(owner: OwnerBook, short: str) -> StoredEntry:
    """Read the entry that an id or the beginning of one stands for."""
    if not (_SHORTEST <= len(short) <= 64 and set(short) <= set("0123456789abcdef")):
        raise BadSetting(f"{short[:80]!r} is not 6 to 64 of 0-9, a-f")
    ids = await owner.books.find(owner.team, short)
    if len(ids) != 1:
        raise BadSetting(f"{'no entry begins' if not ids else 'several entries begin'} with {short}")
    [entry] = await owner.books.several(owner.team, ids)
    if entry.kind == erasures.KIND:
        raise BadSetting(f"{short} is an erasure: it says why content is gone, and stays")
    return entry


def _confirmed(reason: str | None) -> str:
    """Say that there is no way back, and give the reason; at a terminal it may be typed in."""
    print_line("This cannot be undone. Backups and saved files keep it until they are deleted.")
    if reason is None:
        print("Type the reason to go on, nothing to stop: ", end="", flush=True)  # noqa: T201 - a command speaks to its user
        reason = sys.stdin.readline()
    reason = reason.strip()
    if not reason or len(reason) > NOTE_MOST or not reason.isprintable():
        raise BadSetting(f"nothing was erased: that takes a reason of one line and at most {NOTE_MOST} letters")
    return reason
