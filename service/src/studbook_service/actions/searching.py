"""Searches for parts, in the process that is kept for them."""

import asyncio
from collections.abc import Callable
from functools import partial
from typing import TypeVar

import msgspec

from studbook.history.canonical import Tree
from studbook.wire.entries import Answer
from studbook.wire.part_states import PartsQuery, PartStates
from studbook.wire.searches import CarryOver, CarryOverAnswer, Inventory, SearchTerms, StudSearch, StudSearchAnswer
from studbook_service.actions.answering import known, lineage
from studbook_service.actions.desk import Desk
from studbook_service.actions.refusals import Refusal, engine_refusals
from studbook_service.actions.shelf import read_shelf
from studbook_service.night.at_hand import at_hand
from studbook_service.store import Bearer
from studbook_service.translate.carry_over import carry_over_answer
from studbook_service.translate.origins import origins, trees_of
from studbook_service.translate.searches import stud_search_answer

A = TypeVar("A", bound=Answer)


async def studs(desk: Desk, bearer: Bearer, wanted: StudSearch) -> bytes:
    """Search for the parts at one corner that come closest to a camber curve.

    Raises:
        Refusal: `not_found`, `ambiguous`, `bad_request`, `fields_missing`, `cannot_close`, `busy`.
    """
    low, high = wanted.roll_center_in or (0.0, 0.0)
    if low > high:
        raise Refusal("bad_request", f"roll_center_in: {low:g} to {high:g} in is no window, lowest first")
    id_ = await known(desk, bearer.team, wanted.revision)
    chain, shelf = await lineage(desk, bearer.team, id_), await _shelf(desk, bearer, wanted)
    answer = await _searched(desk, partial(_studs, chain, wanted, shelf), wanted.time_s)
    answer.revision = id_.hex()
    return msgspec.json.encode(answer)


async def carry_over(desk: Desk, bearer: Bearer, wanted: CarryOver) -> bytes:
    """Search for the parts by which one car handles at the front like another.

    Raises:
        Refusal: `not_found`, `ambiguous`, `bad_request`, `fields_missing`, `cannot_close`, `busy`.
    """
    source, id_ = await known(desk, bearer.team, wanted.source), await known(desk, bearer.team, wanted.revision)
    like, chain = await asyncio.gather(lineage(desk, bearer.team, source), lineage(desk, bearer.team, id_))
    shelf = await _shelf(desk, bearer, wanted)
    answer = await _searched(desk, partial(_carry_over, like, chain, wanted, shelf), wanted.time_s)
    answer.source, answer.revision = source.hex(), id_.hex()
    return msgspec.json.encode(answer)


async def _searched(desk: Desk, work: Callable[[], A], within_s: float) -> A:
    with engine_refusals():
        return await desk.searcher.run(work, within_s=within_s)


async def _shelf(desk: Desk, bearer: Bearer, wanted: SearchTerms) -> PartStates | None:
    """Read how the team's studs stand, where a search may put them in. Whoever may search may read the shelf."""
    return None if wanted.inventory == "listed" else await read_shelf(desk, bearer, PartsQuery(kind="stud"))


def _studs(chain: list[bytes], wanted: StudSearch, shelf: PartStates | None) -> StudSearchAnswer:
    trees = trees_of(chain)
    inventory = _inventory(shelf, trees[0], wanted, wanted.corner)
    return stud_search_answer(trees[0], origins=origins(trees), wanted=wanted, inventory=inventory)


def _carry_over(like: list[bytes], chain: list[bytes], wanted: CarryOver, shelf: PartStates | None) -> CarryOverAnswer:
    sources, trees = trees_of(like), trees_of(chain)
    return carry_over_answer(
        sources[0],
        trees[0],
        source_origins=origins(sources),
        origins=origins(trees),
        wanted=wanted,
        inventory=_inventory(shelf, trees[0], wanted, "lf", "rf"),
    )


def _inventory(shelf: PartStates | None, tree: Tree, wanted: SearchTerms, *corners: str) -> Inventory | None:
    if shelf is None or wanted.inventory == "listed":
        return None
    return at_hand(shelf, tree, taken_from=wanted.inventory, corners=corners)
