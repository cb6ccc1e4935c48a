"""Records beside setups: one mechanism for every kind. Listed, read, entered, corrected; nothing is ever deleted.

What cannot have been is refused where a record is entered; where it came by exchange it stands, and is flagged. A
correction is refused only for what it brings in. Other records may decide whether one can be: a push names where the
book stood and which lines were read, and is judged again if one of them moved, ten times at most. A split without a
conflict is settled by an empty correction, which is the same entry on every node.
"""

import datetime as dt
from collections.abc import Awaitable, Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from itertools import takewhile
from typing import Any, TypeVar

import msgspec
from msgspec import UNSET

from studbook.history.canonical import Tree, encode
from studbook.history.changes import FieldChange
from studbook.history.leaves import at, dotted
from studbook.history.merge import AUTHOR
from studbook.wire import fields
from studbook.wire.entries import History, Page
from studbook.wire.operations.records import RECORD_OPERATIONS
from studbook.wire.problem import FieldFault
from studbook.wire.records import KINDS, Flag, NewRecord, Record, RecordChange, RecordKind, Records, record_name
from studbook_service.actions import documents, merges
from studbook_service.actions.context import Context, tree_of
from studbook_service.actions.cursors import cursor_of, place_in
from studbook_service.actions.entries import (
    AHEAD_MOST,
    EntryDraft,
    Precondition,
    Recorded,
    check_time,
    record,
    record_first,
    saw_what_stands,
    tag_of,
)
from studbook_service.actions.facts import decided_by, facts_about
from studbook_service.actions.lines import agreed, by_line
from studbook_service.actions.operations import carries_out
from studbook_service.actions.refusals import Refusal
from studbook_service.actions.results import Tagged, Written, state_tag
from studbook_service.actions.sheets import line_history
from studbook_service.actions.views import revision
from studbook_service.night.facts import Facts, text
from studbook_service.night.impossible import impossible
from studbook_service.night.times import moment, moment_ms, ms_of
from studbook_service.night.whereabouts import DatedRecord
from studbook_service.store import Bearer, BookMoved, Judged, StoredEntry

READ_AT_ONCE = 200
JUDGED_MOST = 10
"""So often a record is judged while others record what it is judged by."""

T = TypeVar("T")


async def list_records(context: Context, bearer: Bearer, kind: RecordKind, page: Page) -> Records:
    """List records by name, page by page.

    Args:
        context: what this process gives every action.
        bearer: who asks.
        kind: of what.
        page: which page, with values of the kind's steps and filters that the records must have (`list_of`).

    Raises:
        Refusal: `bad_request` for a cursor that another list gave.
    """
    narrowed = (*kind.steps[:-1], *kind.filters)
    wanted = {name: value for name in narrowed if (value := getattr(page, name)) is not UNSET}
    of = encode([kind.name, wanted]).decode()
    prefix = _prefix(kind, wanted)
    after = place_in(page.cursor, of=of, name="list").decode(errors="replace") if page.cursor else ""
    # One line more than the page says whether there is another. Where most are passed over, more are read at a time.
    at_once = READ_AT_ONCE if _chosen(kind, wanted) else page.limit + 1
    lines: list[list[StoredEntry]] = []
    more = True
    while more and len(lines) <= page.limit:
        tips = await context.book.head_page(bearer.team, prefix, kind.name, after=after, lines=at_once)
        found = by_line(tips)
        lines += (of_one for of_one in found if _fits(kind, of_one, wanted))
        more = len(found) == at_once
        after = found[-1][0].line if found else after
    shown = lines[: page.limit]
    following = cursor_of(shown[-1][0].line.encode(), of=of) if len(lines) > page.limit else UNSET
    return Records(items=await _shown(context, bearer, kind, shown), next=following)


async def read_record(context: Context, bearer: Bearer, kind: RecordKind, name: str) -> Record:
    """Show one record: its document, or its tips with their merge; and what about it cannot be.

    Raises:
        Refusal: `bad_reference`, `not_found`, `busy`.
    """
    tips = await context.book.tip_entries(bearer.team, line_of(kind, name))
    if not tips:
        raise _missing(kind, name)
    return (await _shown(context, bearer, kind, [tips]))[0]


async def add_record(
    context: Context, bearer: Bearer, kind: RecordKind, wanted: NewRecord, precondition: Precondition
) -> Written:
    """Enter a record.

    Raises:
        Refusal: `bad_document`, with every value that does not fit and everything that cannot have been; and all that
            the operation's row names.
    """
    recorded = await _while_it_moves(lambda: _add(context, bearer, kind, wanted, precondition))
    shown = await read_record(context, bearer, kind, wanted.name)
    return Written(shown, shown.tag, made=shown.name if recorded.fresh else "", now=recorded.fresh)


async def _add(
    context: Context, bearer: Bearer, kind: RecordKind, wanted: NewRecord, precondition: Precondition
) -> Recorded:
    line = line_of(kind, wanted.name)
    check_time(wanted.at)
    tree = documents.whole(wanted.document, kind.body)
    if not wanted.allow_unknown:
        documents.refuse_unknown(tree, parents=(), of=kind.body)
    # What stands in the book already is answered, not judged again.
    judged = None
    if not await context.book.tips(bearer.team, line):
        judged, faults = await _judged(context, bearer, kind, wanted.name, tree)
        documents.refuse_faulty(faults)
    draft = EntryDraft(line=line, kind=kind.name, compose=lambda _: tree, note=wanted.note, at=wanted.at, judged=judged)
    exists = f"{_words_for(kind)} {wanted.name} is there already"
    return await record_first(context, bearer, draft, precondition, exists=exists)


async def change_record(
    context: Context, bearer: Bearer, kind: RecordKind, name: str, wanted: RecordChange, precondition: Precondition
) -> Written:
    """Correct a record by an entry more on its line. Where that is split, this settles it.

    A split that has no conflict and is settled without edits and words is nobody's in particular: whoever does it,
    on whatever node, makes the same entry.

    Raises:
        Refusal: `conflicts`, the sides differ on a field that no edit names; and all that the operation's row names.
    """
    await _while_it_moves(lambda: _change(context, bearer, kind, name, wanted, precondition))
    shown = await read_record(context, bearer, kind, name)
    return Written(shown, shown.tag)


async def _change(
    context: Context, bearer: Bearer, kind: RecordKind, name: str, wanted: RecordChange, precondition: Precondition
) -> Recorded:
    line = line_of(kind, name)
    check_time(wanted.at)
    changes = documents.edits(wanted.edits, kind.body)
    tips = await context.book.tip_entries(bearer.team, line)
    split = precondition.split_of(tips)
    chosen = {dotted(change.path) for change in changes}
    merged = await merges.merged_tree(context, bearer.team, line, split, chosen=chosen) if split else {}

    def compose(parents: Sequence[Tree]) -> Tree:
        tree = documents.edited(_left(changes, merged), merged) if split else documents.edited(changes, parents[0])
        if not wanted.allow_unknown:
            documents.refuse_unknown(tree, parents=parents, changes=changes, of=kind.body)
        return tree

    judged = None
    if tips and saw_what_stands(tips, precondition):
        tree = compose([tree_of(tip.body) for tip in tips])
        judged, faults = await _judged(context, bearer, kind, name, tree, tips)
        documents.refuse_faulty(faults, changes=changes)
    nobody = bool(split) and not changes and not wanted.note and wanted.at is UNSET
    at_ms = max((tip.at_ms for tip in tips), default=0)
    draft = EntryDraft(
        line=line,
        kind=kind.name,
        compose=compose,
        note=wanted.note,
        at=moment(at_ms) if nobody else wanted.at,
        author=AUTHOR if nobody else None,
        parents=split,
        afresh=bool(split),
        judged=judged,
    )
    return await record(context, bearer, draft, precondition)


def line_of(kind: RecordKind, name: str) -> str:
    """Name a record's line.

    Raises:
        Refusal: `bad_reference`, that can be no name of this kind.
    """
    try:
        return kind.line(name)
    except ValueError as error:
        raise Refusal("bad_reference", str(error)) from None


async def _while_it_moves(attempt: Callable[[], Awaitable[T]]) -> T:
    """Judge again as long as others record what a record is judged by.

    Raises:
        Refusal: `busy`, they do without end; and what the attempt raises.
    """
    for _ in range(JUDGED_MOST):
        with suppress(BookMoved):
            return await attempt()
    raise Refusal("busy", "others are recording what this rests on: try again", retry_after_s=1)


async def _judged(
    context: Context, bearer: Bearer, kind: RecordKind, name: str, tree: Tree, tips: Sequence[StoredEntry] = ()
) -> tuple[Judged | None, list[FieldFault]]:
    """Find what cannot be about a record that is to be entered, and say by what of the book that was judged.

    A correction need not mend what was wrong before.
    """
    lines = decided_by(kind.name, name, tree)
    # Before the look: what is written after this may not have been seen.
    judged = Judged((await context.book.team_head(bearer.team)).seq, lines) if lines else None
    before = [(tip.id.hex(), tree_of(tip.body)) for tip in tips]
    facts = await facts_about(
        context, bearer.team, kind.name, [(name, each) for each in (tree, *(old for _, old in before))]
    )
    known = {fault.detail for tip, old in before for fault in impossible(kind.name, name, old, facts, tip=tip)}
    now, at_ms = dt.datetime.now(dt.UTC), moment_ms(tree.get("at"))
    ours = DatedRecord(name=name, tip="", at_ms=ms_of(now) if at_ms is None else at_ms, body=tree)
    if kind.name == "shop_record":
        part = kind.parts(name)["part"]
        facts = replace(facts, shop_records={**facts.shop_records, part: _with(ours, facts.shop_records.get(part, ()))})
    if kind.name == "work":
        facts = replace(facts, cards=_with(ours, facts.cards))
    faults = [*_ahead(tree, now), *impossible(kind.name, name, tree, facts)]
    return judged, [fault for fault in faults if fault.detail not in known]


def _ahead(tree: Tree, now: dt.datetime) -> Iterator[FieldFault]:
    """Find times that are yet to come: what is recorded has been, give or take a day of a clock set wrongly."""
    for member in ("started_at", "at"):
        value = tree.get(member)
        if (moment_ms(value) or 0) > ms_of(now + AHEAD_MOST):
            yield FieldFault(path=member, detail=f"{member}: {value} is more than a day from now", value=value)


def _with(ours: DatedRecord, records: Sequence[DatedRecord]) -> list[DatedRecord]:
    """Put a record that is to be entered in the place of what stands under its name."""
    return [*(each for each in records if each.name != ours.name), ours]


async def _shown(
    context: Context, bearer: Bearer, kind: RecordKind, lines: Sequence[Sequence[StoredEntry]]
) -> list[Record]:
    """Show records with their flags; what they name is read once for all."""
    tips_named = [(record_name(tip.line), tip) for tips in lines for tip in tips]
    named = [(name, tree_of(tip.body)) for name, tip in tips_named if kind.form.fullmatch(name)]
    facts = await facts_about(context, bearer.team, kind.name, named)
    return [await _one(context, bearer, kind, tips, facts) for tips in lines]


async def _one(context: Context, bearer: Bearer, kind: RecordKind, tips: Sequence[StoredEntry], facts: Facts) -> Record:
    ids, split = [tip.id for tip in tips], not agreed(tips)
    shown = Record(
        kind=kind.name,
        name=record_name(tips[0].line),
        tips=[revision(tip) for tip in tips],
        tag=tag_of(ids),
        split=split,
        flags=[
            flag for tip in (tips if split else tips[:1]) if tip.body for flag in _flags(kind, tip, facts, split=split)
        ],
    )
    try:
        if shown.split:
            shown.merge = await merges.shown_merge(context, bearer.team, tips[0].line, ids, kind.body)
        elif tips[0].erased:
            shown.erased = True
        else:
            shown.document = tree_of(tips[0].body)
    except Refusal as refusal:
        if refusal.code != "erased":
            raise
        shown.erased = True
    return shown


def _flags(kind: RecordKind, tip: StoredEntry, facts: Facts, *, split: bool) -> list[Flag]:
    """Say what about one tip cannot be: values out of bounds, and nights that cannot have been."""
    name, tree = record_name(tip.line), tree_of(tip.body)
    faults = fields.check(tree, kind.body)
    if kind.form.fullmatch(name):
        faults += impossible(kind.name, name, tree, facts, tip=tip.id.hex())
    else:
        faults.append(FieldFault(detail=f"{name} is no name of this kind: {kind.like}"))
    of_tip = tip.id.hex() if split else UNSET
    return [Flag(tip=of_tip, **msgspec.structs.asdict(fault)) for fault in faults[: documents.FAULTS_MOST]]


def _left(changes: Sequence[FieldChange], merged: Tree) -> list[FieldChange]:
    """Leave out removals of what the sides disagree on: it stands in no merge, so there is nothing to remove."""
    return [change for change in changes if change.after is not UNSET or at(merged, change.path) is not None]


def _missing(kind: RecordKind, name: str) -> Refusal:
    return Refusal("not_found", f"there is no {_words_for(kind)} {name}")


def _words_for(kind: RecordKind) -> str:
    return kind.name.replace("_", " ")


def _first(kind: RecordKind, wanted: Mapping[str, str]) -> list[str]:
    """Give the first steps as far as they are wanted: what is found by the beginning of its line."""
    return list(takewhile(lambda step: step in wanted, kind.steps[:-1]))


def _chosen(kind: RecordKind, wanted: Mapping[str, str]) -> bool:
    """Say whether lines are chosen by more than how they begin."""
    return len(wanted) > len(_first(kind, wanted))


def _prefix(kind: RecordKind, wanted: Mapping[str, str]) -> str:
    return "/".join([kind.root, *(wanted[step] for step in _first(kind, wanted)), ""])


def _fits(kind: RecordKind, tips: Sequence[StoredEntry], wanted: Mapping[str, str]) -> bool:
    """Say whether a record is one of those wanted; of a split one, whether any of its sides is."""
    name = record_name(tips[0].line)
    steps = kind.parts(name) if kind.form.fullmatch(name) else {}
    if any(steps.get(step) != wanted[step] for step in kind.steps if step in wanted):
        return False
    fixed = {field: wanted[field] for field in kind.filters if field in wanted}
    return not fixed or any(
        all(text(tree_of(tip.body), field) == value for field, value in fixed.items()) for tip in tips
    )


def _bind(kind: RecordKind) -> None:
    """Bind the operations about one kind of record."""
    operations = RECORD_OPERATIONS[kind.name]

    @carries_out(operations.listing)
    async def listing(context: Context, bearer: Bearer, page: Page) -> Records:
        return await list_records(context, bearer, kind, page)

    @carries_out(operations.adding)
    async def adding(context: Context, bearer: Bearer, new: NewRecord, precondition: Precondition) -> Written:
        return await add_record(context, bearer, kind, new, precondition)

    @carries_out(operations.reading)
    async def reading(context: Context, bearer: Bearer, *steps: str) -> Tagged:
        record = await read_record(context, bearer, kind, "/".join(steps))
        return Tagged(record, state_tag(record.tag, record))

    @carries_out(operations.changing)
    async def changing(context: Context, bearer: Bearer, *given: Any) -> Written:
        *steps, change, precondition = given
        return await change_record(context, bearer, kind, "/".join(steps), change, precondition)

    @carries_out(operations.history)
    async def history(context: Context, bearer: Bearer, *given: Any) -> History:
        *steps, page = given
        name = "/".join(steps)
        return await line_history(context, bearer, line_of(kind, name), page, missing=str(_missing(kind, name)))


for _kind in KINDS.values():
    _bind(_kind)
