"""Answers of the engine about revisions, computed in the worker's thread and remembered."""

import asyncio
from collections.abc import Awaitable, Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from hashlib import sha256
from typing import TypeVar
from uuid import UUID

import msgspec

from studbook.history.canonical import Tree
from studbook.wire.answers import Effects, Travels, WhatIf
from studbook.wire.entries import Answer
from studbook.wire.problem import FieldFault
from studbook_service import engine
from studbook_service.actions import documents, geometry
from studbook_service.actions.desk import Desk
from studbook_service.actions.lines import resolve
from studbook_service.actions.refusals import Refusal
from studbook_service.store import Bearer
from studbook_service.translate.errors import CannotCloseError, FieldsMissingError, FieldsUnfitError

A = TypeVar("A", bound=Answer)

ORIGINS_MOST = 64


@dataclass(frozen=True, slots=True)
class Answered:
    """An answer that is computed only if it is asked for.

    Attributes:
        tag: names it before it is known: the revisions, the engine and the parameters decide it.
        body: gives it, encoded.
    """

    tag: str
    body: Callable[[], Awaitable[bytes]]


async def front(desk: Desk, bearer: Bearer, reference: str, travels: Travels) -> Answered:
    """Answer how the front end of a revision stands and moves.

    Raises:
        Refusal: `not_found`, `ambiguous`; the body: `fields_missing`, `cannot_close`, `busy`.
    """
    id_ = await _known(desk, bearer.team, reference)

    async def compute() -> Answer:
        chain = await _chain(desk, bearer.team, id_)

        def work() -> Answer:
            trees = _trees(chain)
            return geometry.front(document=trees[0], origins=geometry.origins(trees), travels=travels)

        return await _worked(desk, work)

    return _remembered(desk, bearer.team, _tag("front", [id_], travels), compute)


async def effects(desk: Desk, bearer: Bearer, reference: str, since: str, travels: Travels) -> Answered:
    """Answer what the change from one revision to another does.

    Raises:
        Refusal: `not_found`, `ambiguous`; the body: `fields_missing`, `cannot_close`, `busy`.
    """
    old, new = await _known(desk, bearer.team, since), await _known(desk, bearer.team, reference)

    async def compute() -> Answer:
        before, after = await asyncio.gather(_chain(desk, bearer.team, old), _chain(desk, bearer.team, new))

        def work() -> Effects:
            answer = _effects(_trees(before), _trees(after), travels)
            answer.since, answer.revision = old.hex(), new.hex()
            return answer

        return await _worked(desk, work)

    return _remembered(desk, bearer.team, _tag("effects", [old, new], travels), compute)


async def what_if(desk: Desk, bearer: Bearer, wanted: WhatIf) -> bytes:
    """Answer what edits would do; nothing is stored.

    Raises:
        Refusal: `bad_document`, `not_found`, `ambiguous`, `fields_missing`, `cannot_close`, `busy`.
    """
    changes = documents.edits(wanted.edits)
    id_ = await _known(desk, bearer.team, wanted.revision)
    chain = await _chain(desk, bearer.team, id_)

    def work() -> Effects:
        before = _trees(chain)
        edited = documents.edited(changes, before[0])
        if not wanted.allow_unknown:
            documents.refuse_unknown(edited, parents=before[:1], changes=changes)
        answer = _effects(before, [edited, *before], wanted.travels)
        answer.since = id_.hex()
        return answer

    return msgspec.json.encode(await _worked(desk, work))


async def _known(desk: Desk, team: UUID, reference: str) -> bytes:
    """Resolve a reference and make sure that the team has it."""
    id_ = await resolve(desk, team, reference)
    await desk.document(team, id_)
    return id_


async def _chain(desk: Desk, team: UUID, id_: bytes) -> list[bytes]:
    """Read a document and those it came from, newest first."""
    return [entry.body for entry in await desk.book.ancestors(team, id_, limit=ORIGINS_MOST)]


def _trees(chain: list[bytes]) -> list[Tree]:
    return [msgspec.json.decode(body, type=Tree) for body in chain]


def _effects(before: list[Tree], after: list[Tree], travels: Travels) -> Effects:
    return geometry.effects(
        before=before[0],
        after=after[0],
        before_origins=geometry.origins(before),
        after_origins=geometry.origins(after),
        travels=travels,
    )


def _tag(kind: str, ids: list[bytes], travels: Travels) -> str:
    """Name an answer by ids, not contents: where a reading came from depends on the revisions before."""
    parts = [kind, *(id_.hex() for id_ in ids), engine.VERSION, *map(str, msgspec.structs.astuple(travels))]
    return sha256("\n".join(parts).encode()).hexdigest()[:32]


def _remembered(desk: Desk, team: UUID, tag: str, compute: Callable[[], Awaitable[Answer]]) -> Answered:
    async def body() -> bytes:
        found = desk.answers.get((team, tag))
        if found is None:
            found = msgspec.json.encode(await compute())
            desk.answers.put((team, tag), found, len(found) + 200)
        return found

    return Answered(tag, body)


async def _worked(desk: Desk, work: Callable[[], A]) -> A:
    with _engine_refusals():
        return await desk.worker.run(work)


@contextmanager
def _engine_refusals() -> Iterator[None]:
    """Say in the book's words what the engine cannot do."""
    try:
        yield
    except FieldsMissingError as error:
        faults = [
            FieldFault(path=path, detail=f"{path}: is needed for {missing.subject}")
            for missing in error.missing
            for path in missing.fields
        ]
        raise Refusal("fields_missing", f"{len(faults)} fields are missing", errors=faults) from None
    except FieldsUnfitError as error:
        raise Refusal("bad_document", str(error), errors=error.faults) from None
    except CannotCloseError as error:
        raise Refusal("cannot_close", str(error)) from None
