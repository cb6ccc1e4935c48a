"""The time that work took, by what the jobs that were ticked off take."""

from collections.abc import Mapping

import msgspec
from msgspec import UNSET

from studbook.wire.records import fitting
from studbook.wire.season import WorkTime
from studbook.wire.shop import JobTimes, ShopTimes, Work
from studbook_service.night.moments import day_of
from studbook_service.season.told import Season
from studbook_service.season.tyres import CORNERS
from studbook_service.work.changed import difference
from studbook_service.work.items import Item
from studbook_service.work.jobs import KINDS
from studbook_service.work.order import inspections, with_checks

_NO_TIMES = JobTimes()


def worked(season: Season, *, car: str | None) -> WorkTime:
    """Add up the jobs done in the season, for one car or for all."""
    found = WorkTime()
    own = fitting(season.own, ShopTimes).jobs or {}
    for name, tree in season.work.items():
        of_car, _, card = name.partition("/")
        if car not in (None, of_car) or not season.holds(day_of(card)):
            continue
        work = fitting(tree, Work)
        items = _items(season, work) if work.done else {}
        found.cards += 1
        for job in work.done or ():
            item = items.get(job)
            found.jobs += 1
            if item is None:
                found.unknown += 1
                continue
            took, people = _takes(item, own)
            found.done_min += took
            found.people_min += took * people
    found.done_min, found.people_min = round(found.done_min, 2), round(found.people_min, 2)
    return found


def _items(season: Season, work: Work) -> Mapping[str, Item]:
    """Give the jobs that a card between its two revisions may have, by name, with what each brings."""
    before, after = (season.revisions.get(id_ or "") for id_ in (work.since, work.revision))
    items = list(inspections(CORNERS))
    if before and after and before.body and after.body:
        items += difference(*(msgspec.json.decode(each.body) for each in (before, after))).items
    return {item.id: item for item in with_checks(items)}


def _takes(item: Item, own: Mapping[str, JobTimes]) -> tuple[float, int]:
    """Give minutes and people: the team's own for the job or its kind, else the default."""
    times = own.get(item.id) or own.get(item.kind) or _NO_TIMES
    kind = KINDS[item.kind]
    minutes = item.times * kind.minutes if times.time_min is UNSET else item.times * times.time_min
    return minutes, kind.people if times.people is UNSET else times.people
