"""The season's report, put together from what the book tells."""

from collections.abc import Sequence
from itertools import groupby
from typing import Final

from msgspec import UNSET

from studbook.wire.entries import Author
from studbook.wire.fields import leaf_change
from studbook.wire.night import Event
from studbook.wire.part_states import SplitRead
from studbook.wire.records import fitting
from studbook.wire.season import (
    Against,
    CarSeason,
    LogNote,
    Night,
    RevisionNote,
    SeasonOuting,
    SeasonReport,
    TeamSeason,
)
from studbook.wire.units import opt
from studbook_service.night.moments import told as moment
from studbook_service.season import comparisons, parts, steps, tracks
from studbook_service.season.nights import Entry, follow
from studbook_service.season.pace import CLEAN_LEAST, CLEAN_WITHIN
from studbook_service.season.statistics import CONFIDENCE
from studbook_service.season.tires import Tires
from studbook_service.season.told import Head, Logged, Season, track
from studbook_service.season.worked import worked

VERSION: Final = 3
"""Rises when any answer changes."""

RULES: Final = f"""
A median is of clean laps: those within {CLEAN_WITHIN - 1:.0%} of the outing's best (common practice, no source), \
from {CLEAN_LEAST} on.
An outing counts with the revision that it names: no later correction rewrites what was raced.
Outings are held against each other within one night, one track state and the same tires, as far as their tags are \
known; none whose record cannot be, and none after something was turned that was in no revision then.
What was changed is told since the car's last outing before, also one before the days asked for.
Two things changed at once are confounded, and neither is credited.
One change between two outings is held against pairs with nothing changed, from {steps.HELD_LEAST} such pairs of that \
car and track state on: the difference less their mean, with Student's prediction interval.
A thing over the season: the median fitted to its setting (a straight line) and to the outing's number in the night \
(how track and tires move), by least squares within blocks in which nothing else on the car differed, from \
{comparisons.OUTINGS_LEAST} outings on.
Intervals are of {CONFIDENCE:.0%}, for errors that are independent, near normal and of one spread. A difference is \
told as one where its chance is below 5 % after Holm's adjustment for how many were asked.
Best and worst at a track tell what was; nights there differ in more than the setup.
""".strip().split("\n")


def report(season: Season, splits: Sequence[SplitRead] = ()) -> SeasonReport:
    """Put a season together.

    Args:
        season: what the book tells.
        splits: split lines that it was read from.

    Example:
        >>> report(Season(names={"7": "Number 7"})).cars[0].totals.outings
        0
    """
    tires = Tires(season.outs, season.parts, season.shop)
    cars = [car for car in sorted(season.names) if season.car in (None, car)]
    followed = {car: follow(season, car, tires) for car in cars}
    entries = [entry for of_car in followed.values() for entry in of_car]
    against, judged = steps.judge(entries)
    told_by = comparisons.telling(entries)
    evidence = {car: comparisons.gather(of_car, told_by) for car, of_car in followed.items()}
    asked = {car: comparisons.ask(of_car, told_by) for car, of_car in evidence.items()}
    of_team = comparisons.ask(comparisons.together(list(evidence.values())), told_by)
    compared = comparisons.answer([*(each for of_car in asked.values() for each in of_car), *of_team])
    return SeasonReport(
        since=UNSET if season.since is None else season.since.isoformat(),
        to=UNSET if season.to is None else season.to.isoformat(),
        cars=[
            CarSeason(
                car=car,
                name=season.names[car],
                totals=tracks.totals(of_car),
                nights=_nights(season, of_car, against),
                tracks=tracks.tracks(of_car),
                comparisons=[each.comparison for each in asked[car]],
                parts=parts.lives(season, car=car),
                money=parts.money(season, car=car),
                work=worked(season, car=car),
            )
            for car, of_car in followed.items()
        ],
        team=UNSET
        if season.car is not None
        else TeamSeason(
            totals=tracks.totals(entries),
            comparisons=[each.comparison for each in of_team],
            parts=parts.lives(season, car=None),
            money=parts.money(season, car=None),
            work=worked(season, car=None),
        ),
        steps_judged=judged,
        compared=compared,
        rules=RULES,
        splits=list(splits),
    )


def _nights(season: Season, entries: Sequence[Entry], against: dict[str, Against]) -> list[Night]:
    nights = []
    for event, of_night in groupby(entries, key=lambda entry: entry.out.event):
        told = fitting(season.events.get(event, {}), Event)
        outings = [_ran(season, entry, against) for entry in of_night]
        nights.append(Night(event=event, track=track(event), outings=outings, place=told.place, surface=told.surface))
    return nights


def _ran(season: Season, entry: Entry, against: dict[str, Against]) -> SeasonOuting:
    out, record, way = entry.out, entry.out.record, entry.way
    gained = tracks.gained(entry)
    return SeasonOuting(
        outing=out.name,
        run=out.run,
        revision=record.revision,
        kind=record.kind,
        note=(entry.raced.note or UNSET) if entry.raced else UNSET,
        track_state=record.track_state,
        laps=out.laps,
        best_s=opt(entry.pace.best_s),
        median_s=UNSET if entry.pace.median_s is None else round(entry.pace.median_s, 4),
        clean_laps=entry.pace.clean,
        start_place=record.start_place,
        finish_place=record.finish_place,
        gained=opt(gained),
        words=record.words,
        tire_laps=entry.tire_laps,
        since=UNSET if entry.since is None else entry.since.out.name,
        things=[thing.said() for thing in entry.things],
        changes=[leaf_change(change) for change in entry.changes or ()],
        descent=way.descent if way else UNSET,
        descent_detail=(way.detail or UNSET) if way else UNSET,
        revisions=[_noted(id_, season.heads[id_]) for id_ in (way.ids if way else ())],
        logs=[_logged(each) for each in entry.logs],
        against=against.get(out.name, UNSET),
        flags=list(out.flags),
        left_out=entry.left_out or UNSET,
    )


def _noted(id_: str, head: Head) -> RevisionNote:
    return RevisionNote(
        revision=id_,
        author=Author(id=head.author, name=head.author_name),
        at=moment(head.at_ms),
        note=head.note,
        carried_from=head.carried_from or UNSET,
        erased=head.erased,
    )


def _logged(log: Logged) -> LogNote:
    record = log.record
    return LogNote(
        log=log.name,
        at=moment(log.at_ms),
        changes=list(record.changes or ()),
        by=record.by,
        words=record.words,
        taken_into=record.taken_into,
    )
