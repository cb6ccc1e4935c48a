"""How the team's parts stand: derived from what was recorded whenever somebody looks."""

from msgspec import UNSET

from studbook.history.canonical import Tree
from studbook.wire.operations.records import READ_SHELF
from studbook.wire.records import record_name
from studbook.wire.shelf import PartState, Shelf, ShelfQuery
from studbook_service.actions.context import Context, tree_of
from studbook_service.actions.facts import cards_of, entered_ms, latest, shop_records, splits_of
from studbook_service.actions.lines import by_line
from studbook_service.actions.operations import carries_out
from studbook_service.night.facts import number
from studbook_service.night.shelf import OutingLaps, shelf, studs
from studbook_service.night.times import began_ms
from studbook_service.store import Bearer


@carries_out(READ_SHELF)
async def read_shelf(context: Context, bearer: Bearer, query: ShelfQuery) -> Shelf:
    """Say how parts stand: where each is, what it has run, what wants doing.

    A split record is read by its newest tip and listed; of a split shop record or card every side is followed.
    A part on which the sides differ in what matters to putting it in wants settling first.
    """
    parts = by_line(await context.book.head_entries(bearer.team, "part/", "part"))
    outings = by_line(await context.book.head_entries(bearer.team, "outing/", "outing"))
    records, cards = await shop_records(context, bearer.team), await cards_of(context, bearer.team)
    raced = await context.engine_thread.run(lambda: [(tips[0].line, tree_of(latest(tips).body)) for tips in outings])
    entered = await entered_ms(context, bearer.team, raced)

    def derive() -> Shelf:
        documents = {record_name(tips[0].line): tree_of(latest(tips).body) for tips in parts}
        sides = {record_name(tips[0].line): [tree_of(tip.body) for tip in tips] for tips in parts if len(tips) > 1}
        ran = [each for line, tree in raced if (each := _ran(line, tree, entered.get(line)))]
        states, corners = shelf(documents, records, ran, cards, sides=sides)
        return Shelf(
            items=[state for state in states if _wanted(state, query)],
            corners=[each for each in corners if query.car is UNSET or each.car == query.car],
            studs=studs(states),
            splits=splits_of([*parts, *outings]),
        )

    return await context.engine_thread.run(derive)


def _ran(line: str, tree: Tree, entered: int | None) -> OutingLaps | None:
    """Read of an outing what matters to parts; None where nobody can tell when it was."""
    _, event, car, *_ = [*line.split("/"), "", ""]
    at_ms = began_ms(event, tree.get("started_at"), entered_ms=entered)
    if at_ms is None:
        return None
    laps, times = number(tree, "laps"), tree.get("lap_times_s")
    counted = laps if laps is not None else len(times) if isinstance(times, list) else 0
    return OutingLaps(event=event, car=car, at_ms=at_ms, laps=max(0, int(counted)))


def _wanted(state: PartState, query: ShelfQuery) -> bool:
    places = state.places
    return (
        query.part in (UNSET, state.part)
        and query.kind in (UNSET, state.document.kind)
        and (query.where is UNSET or any(place.where == query.where for place in places))
        and (query.car is UNSET or any(place.car == query.car for place in places))
    )
