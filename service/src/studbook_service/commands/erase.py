"""`studbook erase`: what somebody has a right to have forgotten. Ids, hashes and chain stay, and still verify."""

import asyncio
import sys
import time
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final
from uuid import UUID

from studbook_service.actions.team_book import entry_in
from studbook_service.actions.views import revision
from studbook_service.commands.failing import ending_well
from studbook_service.commands.own_book import OwnedBook, owned_book
from studbook_service.commands.speaking import say
from studbook_service.exchange import erasures
from studbook_service.exchange.rebuilding import NOTE_MOST
from studbook_service.settings import BadSetting, Settings
from studbook_service.store import NotHome, StoredEntry, audit_event, erase_entries, erase_name
from studbook_service.store.auditing import OWNER

_SHORTEST: Final = 6


def erase(
    *,
    entry: list[str] | None = None,
    member: str | None = None,
    reason: str | None = None,
    team: UUID | None = None,
    data: Path | None = None,
    database: str | None = None,
) -> None:
    """Erase the note and document of entries, or a member's name, for good: here, and at every node that exchanges.

    Only at the book's home, and only with the address of the role that owns the tables. Says what will be gone, and
    asks for the reason.

    Args:
        entry: id of an entry, or its first 6 or more digits; may be given several times.
        member: id of a member whose name is to be forgotten.
        reason: why; kept in the book. Asked for if not given.
        team: whose book, where the database keeps several. Also told by STUDBOOK_TOKEN.
        data: folder of the embedded database. STUDBOOK_DATA, or `studbook` in the user's data folder.
        database: address of a PostgreSQL database to use instead, for the role that owns the tables.
    """
    with ending_well():
        if (not entry) is (member is None):
            raise BadSetting("say what to erase: --entry ID, or --member ID")
        settings = Settings.from_environment()
        if settings.database is not None and database is None:
            raise BadSetting("erasing takes the address of the role that owns the tables: --database")
        settings = replace(settings, data=data or settings.data, database=database)
        asyncio.run(_erase(settings, team, entry or [], member, reason))


async def _erase(
    settings: Settings, team: UUID | None, ids: Sequence[str], member: str | None, reason: str | None
) -> None:
    async with owned_book(settings, team) as owned:
        home = await owned.books.access.home(owned.team)
        if home is not None:
            raise NotHome(home)
        if member is None:
            await _entries(owned, [await _found(owned, short) for short in ids], reason)
        else:
            await _name(owned, member, reason)


async def _entries(owned: OwnedBook, found: Sequence[StoredEntry], reason: str | None) -> None:
    say("Note and document of these entries will be gone:")
    for entry in found:
        shown = revision(entry)
        say(f"  {shown.id[:12]}  {shown.line}  {shown.at:%Y-%m-%d %H:%M} UTC  {shown.author.name or shown.author.id}")
        say(f"    {shown.note or 'no note'}")
    say("What follows them keeps what it took over from them: erase that too where it must go.")
    why = _why(reason)
    chosen = list(dict.fromkeys(entry.id.hex() for entry in found))
    for start in range(0, len(chosen), erasures.MOST):
        part = chosen[start : start + erasures.MOST]
        erasure = erasures.erasure(part, reason=why, at_ms=time.time_ns() // 1_000_000)
        recorded = audit_event(actor=OWNER, action="entries.erase", subject="entries", erasure=erasure.id, entries=part)
        await erase_entries(owned.owner, owned.team, entry_in(erasure), audit=recorded)
        say(f"{len(part)} erased, by {erasure.id[:12]}")


async def _name(owned: OwnedBook, member: str, reason: str | None) -> None:
    names = {each.id: each.name for each in await owned.books.access.members(owned.team)}
    if member not in names:
        raise BadSetting(f"no member is {member}: studbook members")
    say(f"That {member} is called {names[member] or '(nothing)'} will be forgotten; what they recorded stays.")
    recorded = audit_event(actor=OWNER, action="member.erase", subject=member, reason=_why(reason))
    await erase_name(owned.owner, owned.team, member, audit=recorded)
    say(f"the name of {member} is erased")


async def _found(owned: OwnedBook, short: str) -> StoredEntry:
    """Read the entry that an id or the beginning of one stands for."""
    if not (_SHORTEST <= len(short) <= 64 and set(short) <= set("0123456789abcdef")):
        raise BadSetting(f"{short[:80]!r} is not 6 to 64 of 0-9, a-f")
    ids = await owned.books.find(owned.team, short)
    if len(ids) != 1:
        raise BadSetting(f"{'no entry begins' if not ids else 'several entries begin'} with {short}")
    [entry] = await owned.books.several(owned.team, ids)
    if entry.kind == erasures.KIND:
        raise BadSetting(f"{short} is an erasure: it says why content is gone, and stays")
    return entry


def _why(reason: str | None) -> str:
    """Say that there is no way back, and ask for the reason."""
    say("This cannot be undone. Backups and saved files keep it until they are deleted.")
    if reason is None:
        print("Type the reason to go on, nothing to stop: ", end="", flush=True)  # noqa: T201 - a command speaks to its user
        reason = sys.stdin.readline()
    why = reason.strip()
    if not why or len(why) > NOTE_MOST or not why.isprintable():
        raise BadSetting(f"nothing was erased: that takes a reason of one line and at most {NOTE_MOST} letters")
    return why
