"""What the parts ran, their preloads, and what they cost."""

from collections.abc import Iterable, Iterator, Mapping

from msgspec import UNSET

from studbook.wire.season import Money, PartLife, Spent
from studbook.wire.shelf import PartState
from studbook_service.night.facts import number, text
from studbook_service.night.shelf import OutingLaps, shelf
from studbook_service.night.times import day_of, moment
from studbook_service.night.whereabouts import DatedRecord, Stay, by_time, whereabouts
from studbook_service.season.inputs import RecordedOuting, Season


def lives(season: Season, *, car: str | None) -> list[PartLife]:
    """Give what each part ran in the season, on one car or on any.

    Of a car those parts that ran on it; of the team all that ran or whose preload was read.
    """
    ran = [_laps(each) for each in season.outings if season.holds(day_of(each.event)) and car in (None, each.car)]
    states, _ = shelf(season.parts, season.shop_records, ran, season.card_records)
    ever = {
        state.part: state.laps for state in shelf(season.parts, season.shop_records, [*map(_laps, season.outings)])[0]
    }
    found = (_life(season, state, ever[state.part]) for state in states)
    return [life for life in found if life.outings or (car is None and life.preloads)]


def money(season: Season, *, car: str | None) -> Money:
    """Add up what went into parts in the season, for one car or for all."""
    items = sorted(
        (spent for part in season.parts for spent in _spent(season, part, car)),
        key=lambda each: (each.at, each.part, each.what),
    )
    return Money(
        fitted_usd=_sum(items, "fitted"),
        scrapped_usd=_sum(items, "scrapped"),
        work_usd=_sum(items, "work"),
        unpriced=sum(each.price_usd is UNSET for each in items),
        items=items,
    )


def _life(season: Season, state: PartState, ever: int) -> PartLife:
    return PartLife(
        part=state.part,
        laps=state.laps,
        outings=state.outings,
        nights=state.nights,
        laps_ever=ever,
        kind=state.document.kind,
        about=state.document.about,
        price_usd=state.document.price_usd,
        scrapped=state.scrapped,
        preloads=[read for read in state.preloads if season.holds(read.at.date())],
        alerts=list(dict.fromkeys(alert.code for alert in state.alerts)),
    )


def _spent(season: Season, part: str, car: str | None) -> Iterator[Spent]:
    """Find what a part cost: once when it first went on a car, once when it was scrapped, and each work paid for."""
    records = by_time(season.shop_records.get(part, ()))
    price = number(season.parts[part], "price_usd")
    where = whereabouts(records)
    first = next((stay for stay in sorted(where.stays, key=_since) if text(stay.place, "car")), None)
    if first is not None and car in (None, text(first.place, "car")):
        yield from _in(season, part, "fitted", first.record, price)
    scrap = next((each for each in records if each.what == "scrapped"), None)
    if scrap is not None and car in (None, _last_car(records, scrap.at_ms)):
        yield from _in(season, part, "scrapped", scrap, price)
    for record in _once(records):
        cost = number(record.body, "cost_usd")
        if cost is not None and car in (None, text(record.place, "car") or _last_car(records, record.at_ms)):
            yield from _in(season, part, "work", record, cost)


def _in(season: Season, part: str, what: str, record: DatedRecord, price: float | None) -> Iterator[Spent]:
    if season.holds(day_of(record.body.get("at")) or moment(record.at_ms).date()):
        yield Spent(
            part=part,
            what=what,  # type: ignore[arg-type] # one of the three above
            at=moment(record.at_ms),
            record=record.name,
            price_usd=UNSET if price is None else price,
        )


def _last_car(records: Iterable[DatedRecord], at_ms: int) -> str:
    """Give the car that a part was on last, by then; empty where it was on none."""
    before = [each for each in whereabouts(records).stays if text(each.place, "car") and each.since_ms <= at_ms]
    return text(max(before, key=_since).place, "car") if before else ""


def _once(records: Iterable[DatedRecord]) -> Iterable[DatedRecord]:
    """Take one side of each split record, so that nothing is paid twice."""
    sides: Mapping[str, DatedRecord] = {each.name: each for each in records}
    return sides.values()


def _since(stay: Stay) -> int:
    return stay.since_ms


def _laps(outing: RecordedOuting) -> OutingLaps:
    return OutingLaps(event=outing.event, car=outing.car, at_ms=outing.at_ms, laps=outing.laps)


def _sum(items: Iterable[Spent], what: str) -> float:
    return round(sum(each.price_usd for each in items if each.what == what and each.price_usd is not UNSET), 2)
