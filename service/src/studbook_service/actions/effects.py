"""What each revision's change does: computed once, kept in the book, shown by the table of effects.

One row a revision is kept, of the newest engine that computed it: a newer one replaces, an older one neither reads nor
replaces, so two may serve at once. What is kept is no entry and travels nowhere; a crash may take the last of it.
What was computed from something erased meanwhile is not kept and is computed again.
"""

import asyncio
import logging
import time
from collections import OrderedDict
from collections.abc import AsyncIterator, Awaitable, Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from typing import Any, Final, Protocol
from uuid import UUID

import msgspec

from studbook.history.canonical import Tree
from studbook.wire.answers import Travels
from studbook.wire.export import Parts
from studbook_service import engine
from studbook_service.actions.refusals import Refusal, engine_refusals
from studbook_service.store import BookStore
from studbook_service.tables import effects
from studbook_service.tables.definition import TableEntry, with_head
from studbook_service.translate.effects import effects_between
from studbook_service.translate.errors import CannotClose, FieldsMissing, FieldsUnfit
from studbook_service.translate.origins import ORIGINS_MOST
from studbook_service.translate.subjects import SUBJECTS, DocumentAnswers

ENGINE: Final = int(engine.VERSION)

TRAVELS: Final = Travels(low_in=-1, high_in=1, step_in=1)
"""The table tells no curves."""

SEEN_MOST: Final = 32
"""Revisions whose answers stay at hand: the next change on their line needs them too."""

TURNS_WITHIN_S: Final = 10.0
"""How long a table waits for one revision's turns among other computations, before it is shown as pending."""

_log = logging.getLogger("studbook")


class RunInTurn(Protocol):
    """How a piece of work gets its turn in the thread that computes."""

    def __call__(self, work: Callable[[], Any]) -> Awaitable[Any]:
        """Do it."""


@dataclass(frozen=True, slots=True)
class _Seen:
    """A revision with its past.

    Attributes:
        since: its first parent; None where it has none.
        ids: the entries whose documents these are.
        answers: the documents, as the subjects answer about them.
        trees: those of them that answers are made of, by id.
    """

    since: bytes | None
    ids: tuple[bytes, ...]
    answers: DocumentAnswers
    trees: Mapping[bytes, Tree]


class _EngineFailed(Exception):
    """A fault of the engine's: it neither answers nor says for want of what."""


class ChangeEffects:
    """Computes what changes do, and keeps it.

    Args:
        book: the books of all teams.

    Example::

        await ChangeEffects(book).compute(team, revision, run=engine_thread.run)
    """

    def __init__(self, book: BookStore) -> None:
        self._book = book
        self._seen: OrderedDict[tuple[UUID, bytes], _Seen] = OrderedDict()

    def forget(self) -> None:
        """Forget what was read."""
        self._seen = OrderedDict()

    async def compute(self, team: UUID, id_: bytes, *, run: RunInTurn) -> effects.EffectRows:
        """Compute what a revision does against its first parent, in short pieces, and keep it; not of an erased one.

        Args:
            team: whose revision.
            id_: the revision; it has a parent.
            run: gives each piece its turn.

        Returns:
            The effects; why there are none, if so.

        Raises:
            Refusal: `busy`, by `run`; nothing is kept then.
            StoreUnavailable: the book cannot be reached.
        """
        while True:
            found, computed_from = await self._computed(team, id_, run)
            if not computed_from:  # the revision itself was erased: there is nothing to keep it with
                return found
            encoded = msgspec.json.encode(found)
            if await self._book.effects.keep(team, id_, encoded, engine=ENGINE, computed_from=computed_from):
                return found
            self.forget()  # some of it was erased meanwhile

    async def rows(
        self, team: UUID, pages: AsyncIterator[list[TableEntry]], *, within_s: float, run: RunInTurn
    ) -> AsyncIterator[list[Parts]]:
        """Make the rows of revisions: of what is kept, and for so long of what is computed now.

        Args:
            team: whose revisions.
            pages: the revisions.
            within_s: how long to compute; what is not known by then is shown as pending.
            run: gives each piece of computing its turn.
        """
        begun = time.monotonic()
        async for page in pages:
            changed = [each for each in page if each.entry.parents]
            known, as_of = await self._kept(team, changed), self._seen
            found: list[Parts] = []
            for each in changed:
                if self._seen is not as_of:  # something was erased meanwhile, or access changed
                    known, as_of = await self._kept(team, changed), self._seen
                effect = known.get(each.entry.id)
                if effect is None and time.monotonic() - begun < within_s:
                    yield found
                    found, effect = [], await self._now(team, each.entry.id, run)
                effect = effect or effects.pending_effects("there was no time for it")
                found += with_head(each.entry, effects.rows_of(each, effect))
            yield found

    async def _kept(self, team: UUID, page: Sequence[TableEntry]) -> dict[bytes, effects.EffectRows]:
        kept = await self._book.effects.read(team, [each.entry.id for each in page], engine=ENGINE)
        return {id_: msgspec.json.decode(rows, type=effects.EffectRows) for id_, rows in kept.items()}

    async def _now(self, team: UUID, id_: bytes, run: RunInTurn) -> effects.EffectRows:
        try:
            async with asyncio.timeout(TURNS_WITHIN_S):
                return await self.compute(team, id_, run=run)
        except (Refusal, TimeoutError):
            return effects.pending_effects("other computations were waiting")

    async def _computed(self, team: UUID, id_: bytes, run: RunInTurn) -> tuple[effects.EffectRows, list[bytes]]:
        """Compute, and name the entries whose documents were read: none if the revision itself has none."""
        used: list[bytes] = []
        try:
            new = await self._read(team, id_, run)
            used += new.ids
            old = await self._read(team, new.since or id_, run)
            used += old.ids
            for subject in SUBJECTS:
                for each in (old, new):
                    await run(_watched(partial(_answer, each.answers, subject)))
            return await run(_watched(partial(_rows_between, old.answers, new.answers))), used
        except _EngineFailed:
            _log.exception("effects of revision %s", id_.hex())
            return effects.no_effects("a fault of the engine, which the service's log tells"), used
        except Refusal as refusal:
            if refusal.code == "busy":
                raise
            fields = [fault.path for fault in refusal.errors if fault.path]
            return effects.no_effects(f"needs {', '.join(fields)}" if fields else str(refusal)), used

    async def _read(self, team: UUID, id_: bytes, run: RunInTurn) -> _Seen:
        """Read a revision and those it came from; what was erased of these is passed over."""
        cache, key = self._seen, (team, id_)
        found = cache.get(key)
        if found is None:
            entries = await self._book.ancestors(team, id_, limit=ORIGINS_MOST)
            if not entries or not entries[0].body:
                raise Refusal("erased", f"what revision {id_.hex()[:12]} held was erased")
            chain = {entry.id: entry.body for entry in entries if entry.body}
            held = [seen.trees for (whose, _), seen in cache.items() if whose == team]
            trees = {each: tree for one in held for each, tree in one.items()}
            answers, trees = await run(partial(_answers_of, chain, trees))
            since = entries[0].parents[0] if entries[0].parents else None
            found = cache[key] = _Seen(since, tuple(chain), answers, trees)
        cache.move_to_end(key)
        if len(cache) > SEEN_MOST:
            cache.popitem(last=False)
        return found


def _answers_of(chain: Mapping[bytes, bytes], known: Mapping[bytes, Tree]) -> tuple[DocumentAnswers, dict[bytes, Tree]]:
    """Decode documents by id, the newest first; what is known of them stays the same, so that answers about it do."""
    trees = {id_: known[id_] if id_ in known else msgspec.json.decode(body, type=Tree) for id_, body in chain.items()}
    found = DocumentAnswers(list(trees.values()))
    used = {id(tree) for tree in (found.tree, *found.origins.values())}
    return found, {id_: tree for id_, tree in trees.items() if id(tree) in used}


def _answer(answers: DocumentAnswers, subject: str) -> None:
    """Let a subject answer; what it lacks is listed with what the others lack."""
    with suppress(CannotClose, FieldsMissing, FieldsUnfit):
        answers.about(subject)


def _rows_between(old: DocumentAnswers, new: DocumentAnswers) -> effects.EffectRows:
    return effects.effect_rows(effects_between(old, new, travels=TRAVELS))


def _watched(work: Callable[[], Any]) -> Callable[[], Any]:
    """Say in the book's words what the engine cannot do, and tell a fault of its own from it."""

    def watched() -> Any:
        try:
            with engine_refusals():
                return work()
        except Refusal:
            raise
        except Exception as error:
            raise _EngineFailed(str(error)) from error

    return watched
