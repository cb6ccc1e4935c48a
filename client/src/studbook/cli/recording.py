"""What the commands of records share: entering, showing, correcting, history."""

import datetime as dt
import re
from collections.abc import Iterable, Sequence
from typing import Annotated, Any, Final

from cyclopts import App, Parameter
from msgspec import UNSET

from studbook.cli.environment import open_book
from studbook.cli.exit_codes import CommandFailedError
from studbook.cli.options import AllowUnknown, Json, Note, Remove
from studbook.cli.parsing import as_edits, change_text, parse_changes
from studbook.cli.printing import bullets, leaf, print_answer, print_json, when, who, with_unit, wrapped
from studbook.formats.faults import in_reading_order
from studbook.history.canonical import Tree
from studbook.history.changes import FieldChange, apply
from studbook.history.leaves import dotted, leaves
from studbook.wire.entries import Merge, Revision
from studbook.wire.fields import unit_of
from studbook.wire.records import KINDS, Flag, Record, Records, document_of

_ALONE: Final = frozenset({"shop_times", "tolerances"})
"""Kinds of which a team has one record."""

_CLOCK: Final = re.compile(r"(\d{1,2}):(\d\d)", re.ASCII)
_MORNING: Final = dt.time(6)
"""Before this a night goes on. Common practice, no source."""


def build_document(kind: str, words: Sequence[str], *, given: Tree | None = None, allow_unknown: bool = False) -> Tree:
    """Make a document of `path=value` words, over what options gave.

    Raises:
        CommandFailedError: with every word that cannot be read.

    Example:
        >>> build_document("event", ["length_mi=0.375"], given={"surface": "dirt"})
        {'surface': 'dirt', 'length_mi': 0.375}
    """
    document = given or {}
    wanted = parse_changes(words, remove=(), document=document, allow_unknown=allow_unknown, of=KINDS[kind].body)
    return apply(wanted, document)


def add_commands(app: App, kind: str, noun: str) -> None:
    """Give a command's app `show`, `correct` and `history` of a kind of record, where it has none of its own.

    Args:
        app: the command.
        kind: a key of `KINDS`.
        noun: the record in the help, such as `a race night`.
    """
    like = f"{KINDS[kind].like[0].upper()}{KINDS[kind].like[1:]}."

    def show_it(name: Annotated[str, Parameter(help=like)], /, *, json: Json = False) -> None:
        with open_book() as book:
            print_answer(book.record(kind, name), page, json=json)

    def correct_it(
        name: Annotated[str, Parameter(help=like)],
        /,
        *fields: str,
        remove: Remove = None,
        note: Note = "",
        allow_unknown: AllowUnknown = False,
        json: Json = False,
    ) -> None:
        correct(kind, name, fields, remove=remove, note=note, allow_unknown=allow_unknown, json=json)

    def list_history(name: Annotated[str, Parameter(help=like)], /, *, json: Json = False) -> None:
        with open_book() as book:
            found = list(book.record_history(kind, name))
        print_answer(found, lambda entries: [_entry_line(each) for each in entries], json=json)

    correcting = f"Correct {noun}, or settle one that was recorded twice: path=value, path+=amount."
    for name, command, text in (
        ("show", show_it, f"Show {noun}."),
        ("correct", correct_it, correcting),
        ("history", list_history, f"List what was recorded of {noun}, newest first."),
    ):
        if name not in set(app):
            app.command(command, name=name, help=text)


def enter(
    kind: str, name: str, words: Sequence[str], *, given: Tree | None, note: str, allow_unknown: bool, json: bool
) -> None:
    """Enter a record."""
    document = build_document(kind, words, given=given, allow_unknown=allow_unknown)
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
        wanted = parse_changes(words, remove=remove or (), document=document, allow_unknown=allow_unknown, of=form)
        known = leaves(document)
        wanted += [FieldChange(path, known.get(path, UNSET), value) for path, value in leaves(given or {}).items()]
        edits, removed = as_edits(wanted)
        if not wanted and not seen.split:
            raise CommandFailedError("say what to correct: path=value, or --remove path")
        if not seen.split and apply(wanted, document) == document:
            raise CommandFailedError(f"nothing to correct: {_name_of(seen)} says so already")
        corrected = book.change_record(
            kind, name, edits, remove=removed, note=note, tag=seen.tag, allow_unknown=allow_unknown
        )
    if not json:
        for change in wanted:
            print(change_text(change, form))
    report(corrected, json=json)


def report(record: Record, *, json: bool) -> None:
    """Print what was recorded, and what about it is impossible."""
    if json:
        print_json(record)
        return
    tip = record.tips[0]
    print(f"recorded {_name_of(record)} as {tip.id[:12]}")
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
    lines = [_name_of(record), *(f"  {_entry_line(tip)}" for tip in record.tips)]
    if record.erased:
        return [*lines, "  its content was erased"]
    lines.append("")
    for path, value in in_reading_order(document_of(record), form):
        lines += wrapped(f"{dotted(path)}: {with_unit(value, unit_of(path, form))}", indent="    ", first="  ")
    if isinstance(record.merge, Merge):
        lines.append("")
        lines.append(
            "  Recorded more than once, and not alike:" if record.merge.conflicts else "  Recorded more than once:"
        )
        for conflict in record.merge.conflicts:
            sides = ", or ".join(
                f"{leaf(side.value)} ({who(side.set_by.author) if side.set_by else 'as it was'})"
                for side in conflict.sides
            )
            lines += wrapped(f"{conflict.path}: {sides}", indent="      ", first="    ")
        command = _correcting(record)
        chosen = " ".join(f"{conflict.path}=..." for conflict in record.merge.conflicts)
        lines.append(f"  settle it: studbook {command} {chosen}".rstrip())
    return [*lines, *_flagged(record.flags)]


def _entry_line(entry: Revision) -> str:
    return f"{entry.id[:12]}  {when(entry.at)}  {who(entry.author)}  {entry.note}".rstrip()


def _name_of(record: Record) -> str:
    """Name a record by its kind and name; by its kind alone where there is one of it."""
    kind = record.kind.replace("_", " ")
    return kind if record.kind in _ALONE else f"{kind} {record.name}"


def _correcting(record: Record) -> str:
    """Give the words of the command that corrects a record."""
    other = {"tolerances": "tolerances", "rules": f"rules {record.name}", "shop_record": f"shop correct {record.name}"}
    return other.get(record.kind, f"{record.kind} correct {record.name}")


def state_words(record: Record) -> str:
    """Name what is wrong with a record: `split`, `flagged`."""
    return ", ".join(word for word in ("split" * record.split, "flagged" * bool(record.flags)) if word)


def now() -> str:
    """Give the time, to the second, with the offset of this place: a crew records several entries in a minute."""
    return dt.datetime.now().astimezone().isoformat(timespec="seconds")


def parse_time(text: str, *, night: str | None = None) -> str:
    """Read a time as people write it; without a date it is of today, without an offset of this place.

    Args:
        text: such as `19:40`, or `2026-05-02T19:40-05:00`.
        night: the name of the event whose night it was, instead of today; before 6:00 is the morning after.

    Raises:
        CommandFailedError: it is none.

    Example:
        >>> parse_time("2026-05-02T19:40-05:00")
        '2026-05-02T19:40-05:00'
        >>> parse_time("19:40", night="2026-05-02-north")[:16], parse_time("0:20", night="2026-05-02-north")[:16]
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
    return bullets("This cannot be:", [flag.detail for flag in flags])
