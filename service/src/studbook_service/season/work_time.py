"""The time that work took: what the jobs that were ticked off take by the job table."""

from collections.abc import Mapping

import msgspec

from studbook.wire.records import fitting
from studbook.wire.season import WorkTime
from studbook.wire.shop import ShopTimes, WorkRecord
from studbook_service.night.times import day_of
from studbook_service.season.inputs import Season
from studbook_service.work.difference import difference
from studbook_service.work.items import WHEELS, Item
from studbook_service.work.order import inspections, with_checks
from studbook_service.work.plan import minutes_of, people_of


def work_time(season: Season, *, car: str | None) -> WorkTime:
    """Add up the jobs done in the season, for one car or for all."""
    found = WorkTime()
    own = fitting(season.own_times, ShopTimes).jobs or {}
    for name, tree in season.cards.items():
        of_car, _, card = name.partition("/")
        if car not in (None, of_car) or not season.holds(day_of(card)):
            continue
        work = fitting(tree, WorkRecord)
        items = _items(season, work) if work.done else {}
        found.cards += 1
        for job in work.done or ():
            item = items.get(job)
            found.jobs += 1
            if item is None:
                found.unknown += 1
                continue
            took = minutes_of(item, own)
            found.done_min += took
            found.people_min += took * people_of(item, own)
    found.done_min, found.people_min = round(found.done_min, 2), round(found.people_min, 2)
    return found


def _items(season: Season, work: WorkRecord) -> Mapping[str, Item]:
    """Give by name the jobs that a card between its two revisions may have, with what each brings."""
    before, after = (season.revisions.get(id_ or "") for id_ in (work.since, work.revision))
    items = list(inspections(WHEELS))
    if before and after and before.body and after.body:
        items += difference(*(msgspec.json.decode(each.body) for each in (before, after))).items
    return {item.id: item for item in with_checks(items)}
