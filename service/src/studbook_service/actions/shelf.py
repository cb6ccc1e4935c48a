"""How the team's parts stand: derived from what was recorded whenever somebody looks."""

from msgspec import UNSET

from studbook.wire.shelf import PartState, Shelf, ShelfAsked
from studbook_service.actions.desk import Desk, tree_of
from studbook_service.actions.facts import cards_of, latest, splits_of, told_of
from studbook_service.actions.lines import by_line
from studbook_service.night.facts import number
from studbook_service.night.moments import began_ms
from studbook_service.night.shelf import Ran, shelf, studs
from studbook_service.store import Bearer, Entry


async def read_shelf(desk: Desk, bearer: Bearer, asked: ShelfAsked) -> Shelf:
    """Say how parts stand: where each is, what it has run, what wants doing.

    A split record is read by its newest tip, and that is said; of a split shop record or card every side is followed.
    A part on which the sides differ in what matters to putting it in wants settling first.

    Raises:
        Refusal: `busy`.
    """
    parts = by_line(await desk.book.head_entries(bearer.team, "part/", "part"))
    outings = by_line(await desk.book.head_entries(bearer.team, "outing/", "outing"))
    told, cards = await told_of(desk, bearer.team), await cards_of(desk, bearer.team)

    def derive() -> Shelf:
        documents = {tips[0].line.partition("/")[2]: tree_of(latest(tips).body) for tips in parts}
        sides = {tips[0].line.partition("/")[2]: [tree_of(tip.body) for tip in tips] for tips in parts if len(tips) > 1}
        ran = [each for tips in outings if (each := _ran(latest(tips)))]
        states, corners = shelf(documents, told, ran, cards, sides=sides)
        return Shelf(
            items=[state for state in states if _wanted(state, asked)],
            corners=[each for each in corners if asked.car is UNSET or each.car == asked.car],
            studs=studs(states),
            splits=splits_of([*parts, *outings]),
        )

    return await desk.worker.run(derive)


def _ran(tip: Entry) -> Ran | None:
    """Read of an outing what matters to parts; None where nobody can tell when it was."""
    _, event, car, *_ = [*tip.line.split("/"), "", ""]
    body = tree_of(tip.body)
    at_ms = began_ms(event, body.get("started_at"))
    if at_ms is None:
        return None
    laps, times = number(body, "laps"), body.get("lap_times_s")
    counted = laps if laps is not None else len(times) if isinstance(times, list) else 0
    return Ran(event=event, car=car, at_ms=at_ms, laps=max(0, int(counted)))


def _wanted(state: PartState, asked: ShelfAsked) -> bool:
    places = state.places
    return (
        asked.part in (UNSET, state.part)
        and asked.kind in (UNSET, state.document.kind)
        and (asked.where is UNSET or any(place.where == asked.where for place in places))
        and (asked.car is UNSET or any(place.car == asked.car for place in places))
    )
