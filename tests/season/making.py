"""Seasons made of plain values. All numbers are invented."""

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from hashlib import sha256
from types import MappingProxyType
from typing import Any

import msgspec

from studbook.history.canonical import Tree, canonical, encode
from studbook.history.changes import FieldChange, apply
from studbook.history.leaves import steps
from studbook.wire.night import Outing
from studbook.wire.records import fitting
from studbook.wire.season import CarSeason, Comparison, OutingReport, SeasonReport
from studbook_service.night.times import moment_ms
from studbook_service.season.inputs import RacedRevision, RecordedOuting, RevisionHead, Season
from studbook_service.season.report import report

STUD = "setup.front.rf.upper_stud.length_in"
SHIMS = "setup.front.rf.upper_shims.front_in"
RATE = "setup.front.rf.spring.rate_lb_per_in"
FREE = "setup.front.rf.spring.free_length_in"
COMPOUND = "setup.rear.rr.tire.compound"

BASE: Tree = {
    "setup": {
        "front": {
            "rf": {
                "upper_stud": {"length_in": 1.2},
                "upper_shims": {"front_in": 0.25, "rear_in": 0.25},
                "spring": {"rate_lb_per_in": 425, "free_length_in": 12},
            }
        },
        "rear": {"rr": {"tire": {"compound": "soft"}}},
    },
    "notes": "as surveyed",
}


@dataclass
class Written:
    """A book that grows outing by outing.

    Attributes:
        given: further parts of the season, such as `parts` and `shop_records`.
    """

    outings: list[RecordedOuting] = field(default_factory=list)
    revisions: dict[str, RacedRevision] = field(default_factory=dict)
    heads: dict[str, RevisionHead] = field(default_factory=dict)
    events: dict[str, Tree] = field(default_factory=dict)
    given: dict[str, Any] = field(default_factory=dict)

    def setup(
        self,
        car: str,
        /,
        *,
        note: str = "",
        at: str = "2026-04-01T12:00Z",
        sheet: str = "race",
        after: Sequence[str] = (),
        carried_from: str = "",
        settings: Mapping[str, Any] = MappingProxyType({}),
    ) -> str:
        """Record a revision: the base with these settings, by dotted path."""
        tree = apply([FieldChange(steps(path), after=value) for path, value in settings.items()], BASE)
        body, at_ms = encode(canonical(tree)), moment_ms(at) or 0
        id_ = sha256(f"{car}/{sheet}{note}{after}".encode() + body).hexdigest()
        self.revisions[id_] = RacedRevision(car=car, at_ms=at_ms, note=note, body=body)
        self.heads[id_] = RevisionHead(
            sheet=f"{car}/{sheet}",
            parents=after,
            generation=1 + max((self.heads[each].generation for each in after), default=-1),
            at_ms=at_ms,
            note=note,
            author="m-1",
            author_name="Ada",
            carried_from=carried_from,
        )
        return id_

    def ran(
        self,
        event: str,
        run: str,
        revision: str,
        times: Sequence[float],
        *,
        car: str = "7",
        at: str | None = None,
        flags: Sequence[str] = (),
        **document: Any,
    ) -> str:
        """Record an outing; in order of writing, unless times are given."""
        self.events.setdefault(event, {"place": "North oval"})
        name = f"{event}/{car}/{run}"
        started = (
            at or f"{event[:10]}T{12 + len([outing for outing in self.outings if outing.event == event]) // 4:02}:00Z"
        )
        at_ms = moment_ms(started) or 0
        tree = {"revision": revision, "lap_times_s": list(times), "track_state": "slick", **document}
        self.outings.append(
            RecordedOuting(
                name=name,
                event=event,
                car=car,
                run=run,
                at_ms=at_ms + len(self.outings),
                timed=True,
                document=fitting(tree, Outing),
                flags=flags,
            )
        )
        return name

    def report(self, **asked: Any) -> SeasonReport:
        """Report it."""
        cars = sorted({outing.car for outing in self.outings} | set(self.given.get("names", {})))
        season = Season(
            **{
                "names": {car: f"Number {car}" for car in cars},
                "events": self.events,
                "outings": self.outings,
                "revisions": self.revisions,
                "heads": self.heads,
                **self.given,
                **asked,
            }
        )
        return msgspec.json.decode(msgspec.json.encode(report(season)), type=SeasonReport)


def laps(median_s: float) -> list[float]:
    """Make five laps with this median."""
    return [round(median_s + off, 4) for off in (0.2, -0.05, 0.0, -0.1, 0.1)]


def night(number: int) -> str:
    """Name a night."""
    return f"2026-{5 + number // 28:02}-{1 + number % 28:02}-north"


def ran(found: SeasonReport | CarSeason, name: str) -> OutingReport:
    """Find an outing."""
    cars = found.cars if isinstance(found, SeasonReport) else [found]
    return next(each for car in cars for night_ in car.nights for each in night_.outings if each.outing == name)


def compared(found: Sequence[Comparison], path: str, state: str = "slick") -> Comparison:
    """Find a comparison."""
    return next(each for each in found if (each.path, each.track_state) == (path, state))


def raced(
    dice: random.Random,
    *,
    nights: int,
    settings: Sequence[Mapping[str, Any]],
    effect: Mapping[str, float],
    drift_s: float = 0.02,
    noise_s: float = 0.05,
    cars: Sequence[str] = ("7",),
) -> Written:
    """Race whole nights: each outing with one of these settings in turn, begun anywhere, as fast as they make it.

    Args:
        dice: what is left to chance.
        nights: how many.
        settings: of one outing each.
        effect: seconds per unit of a field.
        drift_s: from one outing to the next.
        noise_s: spread of an outing's median.
        cars: who races.
    """
    book = Written()
    for number in range(nights):
        level = 17 + dice.uniform(-0.5, 0.5)
        order = [dict(each) for each in settings]
        dice.shuffle(order)
        for place, given in enumerate(order):
            for car in cars:
                slower = sum(per * float(given.get(path, 0)) for path, per in effect.items())
                time = level + slower + drift_s * place + dice.gauss(0, noise_s)
                book.ran(night(number), f"heat-{place + 1}", book.setup(car, settings=given), laps(time), car=car)
    return book
