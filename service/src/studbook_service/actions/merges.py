"""The merge of a split sheet: computed whenever somebody looks, recorded when somebody accepts it.

Nothing in an accepted merge is anybody's choice, so it has one id on every node; its author `merge` is no member. A
merge with a note is an ordinary revision. What one look costs is bounded: in tips (as many as a revision may follow),
in entries back to what they have in common, in bytes, and in conflicts shown. What lies beyond, or was erased, is
unknown: no side equals it, so all that differs is a conflict.
"""

from collections import deque
from collections.abc import Container, Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple
from uuid import UUID

from msgspec import UNSET

from studbook.history.ancestry import MergePlan, ancestors, plan, unplanned
from studbook.history.canonical import Tree
from studbook.history.changes import same
from studbook.history.leaves import Path, at, dotted
from studbook.history.merge import AUTHOR, MergeConflict, Merged, Unknown, merge
from studbook.wire import entries as wire
from studbook.wire import fields
from studbook.wire.operations import cars as operations
from studbook.wire.setup import Setup
from studbook_service.actions.context import Context, tree_of
from studbook_service.actions.entries import PARENTS_MOST, EntryDraft, Precondition, pushed, record, tag_of
from studbook_service.actions.lines import sheet_line
from studbook_service.actions.operations import carries_out
from studbook_service.actions.refusals import Refusal
from studbook_service.actions.results import Written
from studbook_service.actions.views import revision
from studbook_service.night.times import moment
from studbook_service.store import Bearer, EntryHead

PAGE_LENGTH = 200
TIPS_MOST = PARENTS_MOST
"""Tips merged together; a revision follows no more."""

BASES_MOST = 48
PAST_MOST = 5_000
READ_MOST_BYTES = 6 * 1024 * 1024
CONFLICTS_MOST = 500
LOOKED_BACK_MOST = 300
"""Entries looked into to say who set the fields in conflict."""


class _Found(NamedTuple):
    """A merge, and how it came about; `bases` are the last entries in common whose documents are known."""

    plan: MergePlan
    merged: Merged
    past: "_Past"
    bases: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Past:
    """The entries of a line from its tips back to one on which all later ones hang, or to the beginning.

    Attributes:
        cut: they go back further than is looked.
    """

    heads: dict[str, EntryHead]
    cut: bool = False

    def parents(self, id_: str) -> tuple[str, ...]:
        """Give an entry's parents; what lies further back is in all sides alike and need not be known."""
        head = self.heads.get(id_)
        return () if head is None else tuple(parent.hex() for parent in head.parents)


async def shown_merge(context: Context, team: UUID, line: str, tips: Sequence[bytes], of: type = Setup) -> wire.Merge:
    """Show what the tips of a line make together, with every conflict and whose values they are.

    Raises:
        Refusal: `erased`, what a tip held; `busy`.
    """
    found = await _merge(context, team, line, sorted(tips)[:TIPS_MOST])
    conflicts = found.merged.conflicts[:CONFLICTS_MOST]
    setters = await _setters(context, team, found, [conflict.path for conflict in conflicts])
    return wire.Merge(
        bases=list(found.bases),
        document=found.merged.tree,
        conflicts=[_conflict(conflict, found.plan.tips, setters, of) for conflict in conflicts],
        left=len(tips) - len(found.plan.tips),
        unlisted=len(found.merged.conflicts) - len(conflicts),
    )


@carries_out(operations.ACCEPT_MERGE)
async def accept_merge(context: Context, bearer: Bearer, car: str, sheet: str, precondition: Precondition) -> Written:
    """Record a merge without conflicts, by nobody in particular and at its latest side's time.

    Nothing in such an entry depends on who accepts it, when, or on which node: it has one id everywhere.

    Raises:
        Refusal: `conflicts`, `stale`, `bad_request` for a sheet that is not split, `not_found`, `protected`,
            `erased`, `too_large`, `busy`, `key_reused`.
    """
    line = sheet_line(car, sheet)
    if precondition.new:
        raise Refusal("bad_request", "If-None-Match: a new sheet has nothing to merge")
    tips = await context.book.tip_entries(bearer.team, line)
    ids = tuple(tip.id for tip in tips)
    # Where its author saw other tips than these, the tree matters only if it was accepted before: then it is there.
    tree = tree_of(tips[0].body) if tips else {}
    if precondition.saw(ids):
        if len(ids) < 2:
            raise Refusal("bad_request", f"{line} is not split: there is nothing to merge")
        tree = await merged_tree(context, bearer.team, line, ids)
    at_ms = max((tip.at_ms for tip in tips), default=0)
    draft = EntryDraft(
        line=line,
        kind="sheet",
        compose=lambda _: tree,
        at=moment(at_ms),
        author=AUTHOR,
        parents=ids if precondition.saw(ids) else (),
        afresh=True,
    )
    recorded = await record(context, bearer, draft, precondition)
    return pushed(recorded)


async def merged_tree(
    context: Context, team: UUID, line: str, tips: Sequence[bytes], chosen: Container[str] = ()
) -> Tree:
    """Give what the tips of a line make together; the fields chosen are the caller's to set.

    Raises:
        Refusal: `conflicts`, the sides differ on a field that is not chosen; `too_costly`, there are too many sides;
            `erased`, what a tip held; `busy`.
    """
    if len(tips) > TIPS_MOST:
        detail = f"{line} has {len(tips)} tips, {TIPS_MOST} are merged at once: settle some of them first"
        raise Refusal("too_costly", detail, tag=tag_of(tips), tips=[tip.hex() for tip in tips])
    merged = (await _merge(context, team, line, tips)).merged
    paths = [path for conflict in merged.conflicts if (path := dotted(conflict.path)) not in chosen]
    if paths:
        more = f" and {len(paths) - 1} more" if len(paths) > 1 else ""
        detail = f"the sides of {line} differ on {paths[0]}{more}"
        raise Refusal("conflicts", detail, tag=tag_of(tips), tips=[tip.hex() for tip in tips])
    return merged.tree


async def _merge(context: Context, team: UUID, line: str, tips: Sequence[bytes]) -> _Found:
    past = await _past(context, team, line, tips)
    ids = [tip.hex() for tip in tips]
    planned = await context.engine_thread.run(lambda: _planned(ids, past))
    trees: dict[str, Tree | None] = {tip: await _tree(context, team, tip) for tip in planned.tips}
    left = READ_MOST_BYTES
    for id_ in sorted(planned.entries() - trees.keys()):
        body = await _body(context, team, id_) if left > 0 else b""
        left -= len(body)
        trees[id_] = tree_of(body) if body else None
    merged = await context.engine_thread.run(lambda: merge(planned, trees.__getitem__))
    bases = tuple(id_ for id_ in planned.common if trees.get(id_) is not None)
    return _Found(planned, merged, past, bases)


def _planned(tips: Sequence[str], past: _Past) -> MergePlan:
    return unplanned(tips) if past.cut else plan(tips, past.parents, most=BASES_MOST)


async def _past(context: Context, team: UUID, line: str, tips: Iterable[bytes]) -> _Past:
    """Read back from the newest until all that was read hangs on one entry more, or on none."""
    heads: dict[bytes, EntryHead] = {}
    lacking, before = set(tips), None
    while len(lacking) > 1 and len(heads) < PAST_MOST:
        page = await context.book.history(team, line, before=before, limit=PAGE_LENGTH)
        heads |= {head.id: head for head in page}
        lacking = {*lacking, *(parent for head in page for parent in head.parents)} - heads.keys()
        before = page[-1].generation, page[-1].id
    cut = len(lacking) > 1
    for id_ in () if cut else lacking:
        heads[id_] = await context.entry(team, id_)
    return _Past({id_.hex(): head for id_, head in heads.items()}, cut)


async def _tree(context: Context, team: UUID, id_: str) -> Tree:
    return tree_of((await context.document(team, bytes.fromhex(id_))).body)


async def _body(context: Context, team: UUID, id_: str) -> bytes:
    """Read a document, nothing where it was erased."""
    try:
        return (await context.document(team, bytes.fromhex(id_))).body
    except Refusal as refusal:
        if refusal.code != "erased":
            raise
        return b""


async def _setters(context: Context, team: UUID, found: _Found, paths: Sequence[Path]) -> list[dict[Path, EntryHead]]:
    """Find for each side the entries that last changed each path, back to where the sides parted, or not as far."""
    shared = ancestors(found.plan.common, found.past.parents)
    if len(found.plan.common) > 1:
        shared -= set(found.plan.common)  # each set it its own way
    left = LOOKED_BACK_MOST if paths else 0
    last: dict[str, dict[Path, EntryHead]] = {tip: {} for tip in found.plan.tips}
    todo = deque((tip, tip, list(paths)) for tip in found.plan.tips)
    while todo and left > 0:
        tip, id_, wanted = todo.popleft()
        head = found.past.heads.get(id_)
        if head is None:  # further back than is looked
            continue
        tree = await _tree(context, team, id_)
        before = {parent: await _body(context, team, parent) for parent in found.past.parents(id_)}
        older = {parent: tree_of(body) for parent, body in before.items() if body}
        left -= 1 + len(before)
        further: dict[str, list[Path]] = {}
        for path in wanted:
            held = at(tree, path)
            kept_by = next((parent for parent, old in older.items() if same(at(old, path), held)), None)
            if kept_by is None:
                last[tip][path] = head
            elif kept_by not in shared:
                further.setdefault(kept_by, []).append(path)
        todo += ((tip, parent, inside) for parent, inside in further.items())
    return [last[tip] for tip in found.plan.tips]


def _conflict(
    conflict: MergeConflict, tips: Sequence[str], setters: Sequence[dict[Path, EntryHead]], of: type
) -> wire.Conflict:
    unknown = isinstance(conflict.base, Unknown)
    return wire.Conflict(
        path=dotted(conflict.path),
        base=UNSET if unknown else conflict.base,
        base_unknown=unknown,
        sides=[
            wire.ConflictSide(
                tip=tip, value=value, set_by=revision(last[conflict.path]) if conflict.path in last else UNSET
            )
            for tip, value, last in zip(tips, conflict.sides, setters, strict=True)
        ],
        unit=fields.unit_of(conflict.path, of) or UNSET,
    )
