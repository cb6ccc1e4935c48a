"""Searches for parts, in the process that is kept for them."""

import asyncio
from collections.abc import Callable
from functools import partial
from typing import TypeVar

from studbook.history.canonical import Tree
from studbook.wire.entries import Answer
from studbook.wire.operations import searches as operations
from studbook.wire.searches import CarryOver, CarryOverAnswer, Inventory, SearchTerms, StudSearch, StudSearchAnswer
from studbook.wire.shelf import Shelf, ShelfQuery
from studbook_service.actions.answers import known_id, lineage
from studbook_service.actions.context import Context
from studbook_service.actions.operations import carries_out
from studbook_service.actions.refusals import Refusal, engine_refusals
from studbook_service.actions.shelf import read_shelf
from studbook_service.night.inventory import stud_inventory
from studbook_service.store import Bearer
from studbook_service.translate.carry_over import carry_over_answer
from studbook_service.translate.origins import origins, trees_of
from studbook_service.translate.searches import stud_search_answer

A = TypeVar("A", bound=Answer)


@carries_out(operations.SEARCH_STUDS)
async def search_studs(context: Context, bearer: Bearer, wanted: StudSearch) -> StudSearchAnswer:
    """Search for the parts at one corner that come closest to a camber curve."""
    low, high = wanted.roll_center_in or (0.0, 0.0)
    if low > high:
        raise Refusal("bad_request", f"roll_center_in: {low:g} to {high:g} in is no window, lowest first")
    id_ = await known_id(context, bearer.team, wanted.revision)
    chain, shelf = await lineage(context, bearer.team, id_), await _shelf(context, bearer, wanted)
    answer = await _searched(context, partial(_studs, chain, wanted, shelf), wanted.time_s)
    answer.revision = id_.hex()
    return answer


@carries_out(operations.SEARCH_CARRY_OVER)
async def search_carry_over(context: Context, bearer: Bearer, wanted: CarryOver) -> CarryOverAnswer:
    """Search for the parts by which one car handles at the front like another."""
    source, id_ = (
        await known_id(context, bearer.team, wanted.source),
        await known_id(context, bearer.team, wanted.revision),
    )
    like, chain = await asyncio.gather(lineage(context, bearer.team, source), lineage(context, bearer.team, id_))
    shelf = await _shelf(context, bearer, wanted)
    answer = await _searched(context, partial(_carry_over, like, chain, wanted, shelf), wanted.time_s)
    answer.source, answer.revision = source.hex(), id_.hex()
    return answer


async def _searched(context: Context, work: Callable[[], A], within_s: float) -> A:
    with engine_refusals():
        return await context.search_process.run(work, within_s=within_s)


async def _shelf(context: Context, bearer: Bearer, wanted: SearchTerms) -> Shelf | None:
    """Read how the team's studs stand, where a search may put them in. Whoever may search may read the shelf."""
    return None if wanted.inventory == "listed" else await read_shelf(context, bearer, ShelfQuery(kind="stud"))


def _studs(chain: list[bytes], wanted: StudSearch, shelf: Shelf | None) -> StudSearchAnswer:
    trees = trees_of(chain)
    inventory = _inventory(shelf, trees[0], wanted, wanted.corner)
    return stud_search_answer(trees[0], origins=origins(trees), wanted=wanted, inventory=inventory)


def _carry_over(like: list[bytes], chain: list[bytes], wanted: CarryOver, shelf: Shelf | None) -> CarryOverAnswer:
    sources, trees = trees_of(like), trees_of(chain)
    return carry_over_answer(
        sources[0],
        trees[0],
        source_origins=origins(sources),
        origins=origins(trees),
        wanted=wanted,
        inventory=_inventory(shelf, trees[0], wanted, "lf", "rf"),
    )


def _inventory(shelf: Shelf | None, tree: Tree, wanted: SearchTerms, *corners: str) -> Inventory | None:
    if shelf is None or wanted.inventory == "listed":
        return None
    return stud_inventory(shelf, tree, taken_from=wanted.inventory, corners=corners)
