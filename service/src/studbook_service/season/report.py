"""The season's report, put together from its inputs."""

from collections.abc import Sequence
from itertools import groupby
from typing import Final

from msgspec import UNSET

from studbook.wire.entries import Author
from studbook.wire.fields import leaf_change
from studbook.wire.night import Event
from studbook.wire.records import fitting
from studbook.wire.season import (
    Against,
    CarSeason,
    LogNote,
    Night,
    OutingReport,
    RevisionNote,
    SeasonReport,
    TeamSeason,
)
from studbook.wire.shelf import SplitRead
from studbook.wire.units import opt
from studbook_service.night.times import moment
from studbook_service.season import comparisons, parts, steps, tracks
from studbook_service.season.inputs import RevisionHead, Season, SeasonLog, track
from studbook_service.season.nights import CarRun, runs_of
from studbook_service.season.pace import CLEAN_LEAST, CLEAN_WITHIN
from studbook_service.season.statistics import CONFIDENCE
from studbook_service.season.tires import TireUse
from studbook_service.season.work_time import work_time

REPORT_VERSION: Final = 3
"""Rises when any answer changes."""

RULES: Final = f"""
A median is of clean laps: those within {CLEAN_WITHIN - 1:.0%} of the outing's best (common practice, no source), \
from {CLEAN_LEAST} on.
An outing counts with the revision that it names: no later correction rewrites what was raced.
Outings are compared within one night, one track state and the same tires, as far as their tags are \
known; none whose record is impossible, and none after something was turned that was in no revision then.
Changes are since the car's last outing before, also one before the days of the report.
Two factors changed at once are confounded, and neither is credited.
One change between two outings is compared with pairs with nothing changed, from {steps.UNCHANGED_LEAST} such pairs of \
that car and track state on: the difference less their mean, with Student's prediction interval.
A factor over the season: the median fitted to its setting (a straight line) and to the outing's number in the night \
(how track and tires move), by least squares within blocks in which nothing else on the car differed, from \
{comparisons.OUTINGS_LEAST} outings on.
Intervals are of {CONFIDENCE:.0%}, for errors that are independent, near normal and of one spread. A difference is \
reported as one where its chance is below 5 % after Holm's adjustment for how many were tested.
Best and worst at a track are results, no comparison: nights there differ in more than the setup.
""".strip().split("\n")


def report(season: Season, splits: Sequence[SplitRead] = ()) -> SeasonReport:
    """Put a season together.

    Args:
        season: what the book holds of it.
        splits: split lines that it was read from.

    Example:
        >>> report(Season(names={"7": "Number 7"})).cars[0].totals.outings
        0
    """
    tires = TireUse(season.outings, season.parts, season.shop_records)
    cars = [car for car in sorted(season.names) if season.car in (None, car)]
    runs_by_car = {car: runs_of(season, car, tires) for car in cars}
    runs = [run for of_car in runs_by_car.values() for run in of_car]
    against, judged = steps.judge(runs)
    setting_paths = comparisons.setting_paths_of(runs)
    evidence = {car: comparisons.evidence_of(of_car, setting_paths) for car, of_car in runs_by_car.items()}
    questions = {car: comparisons.questions_of(of_car, setting_paths) for car, of_car in evidence.items()}
    of_team = comparisons.questions_of(comparisons.team_evidence(list(evidence.values())), setting_paths)
    compared = comparisons.fill_in([*(each for of_car in questions.values() for each in of_car), *of_team])
    return SeasonReport(
        since=UNSET if season.since is None else season.since.isoformat(),
        to=UNSET if season.to is None else season.to.isoformat(),
        cars=[
            CarSeason(
                car=car,
                name=season.names[car],
                totals=tracks.totals(of_car),
                nights=_nights(season, of_car, against),
                tracks=tracks.track_records(of_car),
                comparisons=[each.comparison for each in questions[car]],
                parts=parts.lives(season, car=car),
                money=parts.money(season, car=car),
                work=work_time(season, car=car),
            )
            for car, of_car in runs_by_car.items()
        ],
        team=UNSET
        if season.car is not None
        else TeamSeason(
            totals=tracks.totals(runs),
            comparisons=[each.comparison for each in of_team],
            parts=parts.lives(season, car=None),
            money=parts.money(season, car=None),
            work=work_time(season, car=None),
        ),
        steps_judged=judged,
        compared=compared,
        rules=RULES,
        splits=list(splits),
    )


def _nights(season: Season, runs: Sequence[CarRun], against: dict[str, Against]) -> list[Night]:
    nights = []
    for event, of_night in groupby(runs, key=lambda run: run.outing.event):
        held = fitting(season.events.get(event, {}), Event)
        outings = [_outing_report(season, run, against) for run in of_night]
        nights.append(Night(event=event, track=track(event), outings=outings, place=held.place, surface=held.surface))
    return nights


def _outing_report(season: Season, run: CarRun, against: dict[str, Against]) -> OutingReport:
    outing, document, way = run.outing, run.outing.document, run.way
    gained = tracks.gained(run)
    return OutingReport(
        outing=outing.name,
        run=outing.run,
        revision=document.revision,
        kind=document.kind,
        note=(run.raced.note or UNSET) if run.raced else UNSET,
        track_state=document.track_state,
        laps=outing.laps,
        best_s=opt(run.pace.best_s),
        median_s=UNSET if run.pace.median_s is None else round(run.pace.median_s, 4),
        clean_laps=run.pace.clean,
        start_place=document.start_place,
        finish_place=document.finish_place,
        gained=opt(gained),
        words=document.words,
        tire_laps=run.tire_laps,
        since=UNSET if run.since is None else run.since.outing.name,
        factors=[factor.title for factor in run.factors],
        changes=[leaf_change(change) for change in run.changes or ()],
        descent=way.descent if way else UNSET,
        descent_detail=(way.detail or UNSET) if way else UNSET,
        revisions=[_noted(id_, season.heads[id_]) for id_ in (way.ids if way else ())],
        logs=[_logged(each) for each in run.logs],
        against=against.get(outing.name, UNSET),
        flags=list(outing.flags),
        left_out=run.left_out or UNSET,
    )


def _noted(id_: str, head: RevisionHead) -> RevisionNote:
    return RevisionNote(
        revision=id_,
        author=Author(id=head.author, name=head.author_name),
        at=moment(head.at_ms),
        note=head.note,
        carried_from=head.carried_from or UNSET,
        erased=head.erased,
    )


def _logged(log: SeasonLog) -> LogNote:
    document = log.document
    return LogNote(
        log=log.name,
        at=moment(log.at_ms),
        changes=list(document.changes or ()),
        by=document.by,
        words=document.words,
        taken_into=document.taken_into,
    )
