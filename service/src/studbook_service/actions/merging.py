"""The merge of a split sheet: computed whenever somebody looks, recorded when somebody accepts it."""

import datetime as dt
from collections.abc import Container, Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple
from uuid import UUID

import msgspec
from msgspec import UNSET

from studbook.history.ancestry import Plan, ancestors, plan
from studbook.history.canonical import Tree
from studbook.history.changes import same
from studbook.history.leaves import Path, at, dotted
from studbook.history.merge import AUTHOR, Conflict, Merged, Unknown, merge
from studbook.wire import entries as wire
from studbook.wire import fields
from studbook_service.actions.bearers import may_write
from studbook_service.actions.desk import Desk
from studbook_service.actions.lines import sheet_line
from studbook_service.actions.recording import Change, Terms, record, tag_of
from studbook_service.actions.refusals import Refusal
from studbook_service.actions.views import EPOCH, revision
from studbook_service.store import Bearer, EntryHead

PAGE_LENGTH = 200


class _Found(NamedTuple):
    """A merge, and how it came about."""

    plan: Plan
    merged: Merged
    past: "_Past"


@dataclass(frozen=True, slots=True)
class _Past:
    """The entries of a line from its tips back to one on which all later ones hang, or to the beginning."""

    heads: dict[str, EntryHead]

    def parents(self, id_: str) -> tuple[str, ...]:
        """Give an entry's parents; what lies further back is in all sides alike and need not be known."""
        head = self.heads.get(id_)
        return () if head is None else tuple(parent.hex() for parent in head.parents)


async def show(desk: Desk, team: UUID, line: str, tips: Sequence[bytes]) -> wire.Merge:
    """Show what the tips of a line make together, with every conflict and whose values they are.

    Raises:
        Refusal: `busy`.
    """
    found = await _merge(desk, team, line, tips)
    paths = [conflict.path for conflict in found.merged.conflicts]
    setters = [await _setters(desk, team, found, tip, paths) for tip in found.plan.tips] if paths else []
    return wire.Merge(
        bases=list(found.plan.common),
        document=found.merged.tree,
        conflicts=[_conflict(conflict, found.plan.tips, setters) for conflict in found.merged.conflicts],
    )


async def accept(desk: Desk, bearer: Bearer, car: str, sheet: str, terms: Terms) -> wire.Pushed:
    """Record a merge without conflicts, by nobody in particular and at its latest side's time.

    Nothing in such an entry depends on who accepts it, when, or on which node: it has one id everywhere.

    Raises:
        Refusal: `conflicts`, `stale`, `bad_request` for a sheet that is not split, `not_found`, `not_allowed`,
            `too_large`, `busy`, `key_reused`.
    """
    may_write(bearer)
    line = sheet_line(car, sheet)
    if terms.new:
        raise Refusal("bad_request", "If-None-Match: a new sheet has nothing to merge")
    tips = await desk.book.tip_entries(bearer.team, line)
    ids = tuple(tip.id for tip in tips)
    # Where its author saw other tips than these, the tree matters only if it was accepted before: then it is there.
    tree = msgspec.json.decode(tips[0].body, type=Tree) if tips else {}
    if terms.saw(ids):
        if len(ids) < 2:
            raise Refusal("bad_request", f"{line} is not split: there is nothing to merge")
        tree = await together(desk, bearer.team, line, ids)
    at_ms = max((tip.at_ms for tip in tips), default=0)
    change = Change(
        line=line,
        kind="sheet",
        compose=lambda _: tree,
        at=EPOCH + dt.timedelta(milliseconds=at_ms),
        author=AUTHOR,
        parents=ids if terms.saw(ids) else (),
    )
    recorded = await record(desk, bearer, change, terms)
    unusual = fields.unusual(tree)
    return wire.Pushed(revision=recorded.revision, tag=recorded.tag, recorded=recorded.fresh, unusual=unusual)


async def together(desk: Desk, team: UUID, line: str, tips: Sequence[bytes], chosen: Container[str] = ()) -> Tree:
    """Give what the tips of a line make together; the fields chosen are the caller's to set.

    Raises:
        Refusal: `conflicts`, the sides differ on a field that is not chosen; `busy`.
    """
    merged = (await _merge(desk, team, line, tips)).merged
    paths = [path for conflict in merged.conflicts if (path := dotted(conflict.path)) not in chosen]
    if paths:
        more = f" and {len(paths) - 1} more" if len(paths) > 1 else ""
        detail = f"the sides of {line} differ on {paths[0]}{more}"
        raise Refusal("conflicts", detail, tag=tag_of(tips), tips=[tip.hex() for tip in tips])
    return merged.tree


async def _merge(desk: Desk, team: UUID, line: str, tips: Sequence[bytes]) -> _Found:
    past = await _past(desk, team, line, tips)
    planned = await desk.worker.run(lambda: plan([tip.hex() for tip in tips], past.parents))
    trees = {id_: await _tree(desk, team, id_) for id_ in planned.entries()}
    merged = await desk.worker.run(lambda: merge(planned, trees.__getitem__))
    return _Found(planned, merged, past)


async def _past(desk: Desk, team: UUID, line: str, tips: Iterable[bytes]) -> _Past:
    """Read back from the newest until all that was read hangs on one entry more, or on none."""
    heads: dict[bytes, EntryHead] = {}
    lacking, before = set(tips), None
    while len(lacking) > 1:
        page = await desk.book.history(team, line, before=before, limit=PAGE_LENGTH)
        heads |= {head.id: head for head in page}
        lacking = {*lacking, *(parent for head in page for parent in head.parents)} - heads.keys()
        before = page[-1].generation, page[-1].id
    for id_ in lacking:
        heads[id_] = await desk.entry(team, id_)
    return _Past({id_.hex(): head for id_, head in heads.items()})


async def _tree(desk: Desk, team: UUID, id_: str) -> Tree:
    return msgspec.json.decode((await desk.document(team, bytes.fromhex(id_))).body, type=Tree)


async def _setters(desk: Desk, team: UUID, found: _Found, tip: str, paths: Sequence[Path]) -> dict[Path, EntryHead]:
    """Find the entries of one side that last changed each path, back to where the sides parted."""
    shared = ancestors(found.plan.common, found.past.parents)
    if len(found.plan.common) > 1:
        shared -= set(found.plan.common)  # each set it its own way
    last: dict[Path, EntryHead] = {}
    todo = {tip: list(paths)}
    while todo:
        id_, wanted = todo.popitem()
        tree = await _tree(desk, team, id_)
        before = {parent: await _tree(desk, team, parent) for parent in found.past.parents(id_)}
        for path in wanted:
            held = at(tree, path)
            older = next((parent for parent, old in before.items() if same(at(old, path), held)), None)
            if older is None:
                last[path] = found.past.heads[id_]
            elif older not in shared:
                todo.setdefault(older, []).append(path)
    return last


def _conflict(conflict: Conflict, tips: Sequence[str], setters: Sequence[dict[Path, EntryHead]]) -> wire.Conflict:
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
        unit=fields.unit_of(conflict.path) or UNSET,
    )
