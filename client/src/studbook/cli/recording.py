"""What the commands for records beside setups share: reading fields from words, entering, correcting, showing."""

import datetime as dt
import re
from collections.abc import Iterable, Sequence
from typing import Any, Final

from msgspec import UNSET

from studbook.blocking import Studbook
from studbook.cli.assignments import as_edits, describe, read_changes
from studbook.cli.endings import CommandFailedError
from studbook.cli.environment import open_book
from studbook.cli.printing import leaf, measured, points, print_answer, print_json, when, who, wrapped
from studbook.history.canonical import Tree
from studbook.history.changes import FieldChange, apply
from studbook.history.leaves import Path, dotted, leaves
from studbook.wire.entries import Merge
from studbook.wire.fields import catalog, field, unit_of
from studbook.wire.records import KINDS, Flag, Record, Records, document_of

_ALONE: Final = frozenset({"shop_times", "tolerances"})
"""Kinds of which a team has one record."""

_CLOCK: Final = re.compile(r"(\d{1,2}):(\d\d)", re.ASCII)
_MORNING: Final = dt.time(6)
"""Before this a night goes on. Common practice, no source."""


def written(kind: str, words: Sequence[str], *, given: Tree | None = None, allow_unknown: bool = False) -> Tree:
    """Make a document of `path=value` words, over what options gave.

    Raises:
        CommandFailedError: with every word that cannot be read.

    Example:
        >>> written("event", ["length_mi=0.375"], given={"surface": "dirt"})
        {'surface': 'dirt', 'length_mi': 0.375}
    """
    document = given or {}
    wanted = read_changes(words, remove=(), document=document, allow_unknown=allow_unknown, of=KINDS[kind].body)
    return apply(wanted, document)


def enter(
    kind: str, name: str, words: Sequence[str], *, given: Tree | None, note: str, allow_unknown: bool, json: bool
) -> None:
    """Enter a record."""
    document = written(kind, words, given=given, allow_unknown=allow_unknown)
    with open_book() as book:
        report(book.new_record(kind, name, document, note=note, allow_unknown=allow_unknown), json=json)


def correct(
    kind: str,
    name: str,
    words: Sequence[str],
    *,
    given: Tree | None = None,
    remove: Sequence[str] | None,
    note: str,
    allow_unknown: bool,
    json: bool,
) -> None:
    """Correct a record as it stands, or settle a split one."""
    form = KINDS[kind].body
    with open_book() as book:
        seen = book.record(kind, name)
        document = document_of(seen)
        wanted = read_changes(words, remove=remove or (), document=document, allow_unknown=allow_unknown, of=form)
        known = leaves(document)
        wanted += [FieldChange(path, known.get(path, UNSET), value) for path, value in leaves(given or {}).items()]
        edits, removed = as_edits(wanted)
        if not wanted and not seen.split:
            raise CommandFailedError("say what to correct: path=value, or --remove path")
        if not seen.split and apply(wanted, document) == document:
            raise CommandFailedError(f"nothing to correct: {_called(seen)} says so already")
        corrected = book.change_record(
            kind, name, edits, remove=removed, note=note, tag=seen.tag, allow_unknown=allow_unknown
        )
    if not json:
        for change in wanted:
            print(describe(change, form))
    report(corrected, json=json)


def show(book: Studbook, kind: str, name: str, *, json: bool) -> None:
    """Show a record."""
    record = book.record(kind, name)
    print_answer(record, page, json=json)


def history(kind: str, name: str, *, json: bool) -> None:
    """List what was recorded on a record's line."""
    with open_book() as book:
        found = list(book.record_history(kind, name))
    if json:
        print_json(found)
    else:
        print(
            *(f"{each.id[:12]}  {when(each.at)}  {who(each.author)}  {each.note}".rstrip() for each in found), sep="\n"
        )


def report(record: Record, *, json: bool) -> None:
    """Say what was recorded."""
    if json:
        print_json(record)
        return
    tip = record.tips[0]
    print(f"recorded {_called(record)} as {tip.id[:12]}")
    print(*_flagged(record.flags), sep="\n", end="" if not record.flags else "\n")


def print_records(found: Iterable[Record], lines: Any, *, json: bool, none: str) -> None:
    """Print a list of records: as a program reads them, or as lines laid out by the caller."""
    items = list(found)
    if json:
        print_json(Records(items=items))
    else:
        print(*(lines(items) if items else [none]), sep="\n")


def page(record: Record) -> list[str]:
    """Lay a record out: who recorded it, its fields with their units, what differs, and what cannot be."""
    form = KINDS[record.kind].body
    told = [_called(record)]
    told += [f"  {tip.id[:12]}  {when(tip.at)}  {who(tip.author)}  {tip.note}".rstrip() for tip in record.tips]
    if record.erased:
        return [*told, "  its content was erased"]
    told.append("")
    for path, value in in_order(document_of(record), form):
        told += wrapped(f"{dotted(path)}: {measured(value, unit_of(path, form))}", indent="    ", first="  ")
    if isinstance(record.merge, Merge):
        told.append("")
        told.append(
            "  Recorded more than once, and not alike:" if record.merge.conflicts else "  Recorded more than once:"
        )
        for conflict in record.merge.conflicts:
            sides = ", or ".join(
                f"{leaf(side.value)} ({who(side.set_by.author) if side.set_by else 'as it was'})"
                for side in conflict.sides
            )
            told += wrapped(f"{conflict.path}: {sides}", indent="      ", first="    ")
        command = _settled_by(record)
        chosen = " ".join(f"{conflict.path}=..." for conflict in record.merge.conflicts)
        told.append(f"  settle it: studbook {command} {chosen}".rstrip())
    return [*told, *_flagged(record.flags)]


def in_order(tree: Tree, form: type) -> list[tuple[Path, Any]]:
    """List a document's leaves as its Struct has them, then those it does not know."""
    place = {path: number for number, path in enumerate(catalog(form))}

    def order(found: tuple[Path, Any]) -> tuple[int, Path]:
        known = field(found[0], form)
        return (place[known.path] if known else len(place), found[0])

    return sorted(leaves(tree).items(), key=order)


def _called(record: Record) -> str:
    """Name a record by its kind and name; by its kind alone where there is one of it."""
    kind = record.kind.replace("_", " ")
    return kind if record.kind in _ALONE else f"{kind} {record.name}"


def _settled_by(record: Record) -> str:
    """Give the words of the command that corrects a record."""
    other = {"tolerances": "tolerances", "rules": f"rules {record.name}", "shop_record": f"shop correct {record.name}"}
    return other.get(record.kind, f"{record.kind} correct {record.name}")


def standing(record: Record) -> str:
    """Say in a word or two what is to be settled or mended about a record."""
    return ", ".join(word for word in ("split" * record.split, "flagged" * bool(record.flags)) if word)


def now() -> str:
    """Give the time, to the second, with the offset of this place: a crew does several things in a minute."""
    return dt.datetime.now().astimezone().isoformat(timespec="seconds")


def moment(text: str, *, night: str | None = None) -> str:
    """Read a time as people write it; without a date it is of today, without an offset of this place.

    Args:
        text: such as `19:40`, or `2026-05-02T19:40-05:00`.
        night: the name of the event whose night it was, instead of today; before 6:00 is the morning after.

    Raises:
        CommandFailedError: it is none.

    Example:
        >>> moment("2026-05-02T19:40-05:00")
        '2026-05-02T19:40-05:00'
        >>> moment("19:40", night="2026-05-02-north")[:16], moment("0:20", night="2026-05-02-north")[:16]
        ('2026-05-02T19:40', '2026-05-03T00:20')
    """
    clock = _CLOCK.fullmatch(text)
    try:
        read = _on_the_clock(dt.time(int(clock[1]), int(clock[2])), night) if clock else dt.datetime.fromisoformat(text)
    except ValueError:
        raise CommandFailedError(
            f"{text!r} is no time: write 19:40 or 2026-05-02T19:40, with an offset if not of here"
        ) from None
    there = read if read.utcoffset() is not None else read.astimezone()
    return there.isoformat(timespec="seconds" if there.second else "minutes")


def _on_the_clock(time: dt.time, night: str | None) -> dt.datetime:
    if night is None:
        return dt.datetime.combine(dt.datetime.now().astimezone().date(), time)
    try:
        day = dt.date.fromisoformat(night[:10])
    except ValueError:
        raise CommandFailedError(f"{night!r} begins with no date, such as 2026-05-02-north") from None
    return dt.datetime.combine(day + dt.timedelta(days=time < _MORNING), time)


def _flagged(flags: Sequence[Flag]) -> list[str]:
    return points("This cannot be:", [flag.detail for flag in flags])
