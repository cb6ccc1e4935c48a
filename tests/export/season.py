"""A season as entries, made without a service. All numbers are invented: nobody drove them."""

import json
import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

from studbook.history.canonical import Tree, canonical, encode
from studbook.history.changes import FieldChange, apply
from studbook.history.ids import Header, entry_id, hash_content
from studbook.history.leaves import at, steps
from studbook_service.store import NewEntry

STUD = "setup.front.rf.upper_stud.length_in"
SHIMS = "setup.front.rf.upper_shims.front_in"
NOTES = "notes"
STATES = ("tacky", "slick", "dry_slick", "rubbered")
RUNS = ("practice-1", "hot-laps", "qualifying", "heat-1", "heat-2", "b-main", "feature", "test-1")
START = datetime(2026, 3, 7, 16, tzinfo=UTC)
LAPS = 12


@dataclass
class Raced:
    """An outing as it was made up: what a test may expect of the tables."""

    event: str
    car: str
    run: str
    state: str
    revision: str
    stud_in: float
    best_lap_s: float


@dataclass
class Season:
    """The entries of a season in the order they were written.

    Attributes:
        document: each car's first setup.
        revisions: beside the first of each car; spread over the outings.
    """

    document: Tree
    cars: int = 3
    nights: int = 4
    runs: int = 3
    revisions: int = 30
    dice: random.Random = field(default_factory=lambda: random.Random(6))  # noqa: S311 - made-up races
    entries: list[NewEntry] = field(default_factory=list)
    raced: list[Raced] = field(default_factory=list)

    def made(self) -> "Season":
        """Write it all."""
        tips = {f"{7 + number}": self._first(f"{7 + number}") for number in range(self.cars)}
        every = self.cars * self.nights * self.runs
        due = 0.0
        for night, car, run in self._outings():
            event, started = f"{night:%Y-%m-%d}-north", night + timedelta(minutes=20 * RUNS.index(run))
            if run == RUNS[0] and car == "7":
                told = {"place": "North oval", "date": f"{night:%Y-%m-%d}", "surface": "dirt", "length_mi": 0.375}
                self.write("event", f"event/{event}", told, started)
            due += self.revisions / every
            while due >= 1:
                tips[car] = self._turned(car, *tips[car], started - timedelta(minutes=5))
                due -= 1
            self._ran(event, car, run, *tips[car], started)
        return self

    def _outings(self) -> Iterator[tuple[datetime, str, str]]:
        for week in range(self.nights):
            for run in RUNS[: self.runs]:
                for number in range(self.cars):
                    yield START + timedelta(days=7 * week // 2), f"{7 + number}", run

    def write(self, kind: str, line: str, body: Tree, when: datetime, *parents: str, note: str = "") -> str:
        """Add an entry."""
        at_ms, body = int(when.timestamp() * 1000), canonical(body)
        header = Header(
            kind=kind,
            line=line,
            parents=tuple(sorted(parents)),
            author="chief",
            at=at_ms,
            content=hash_content(note=note, body=encode(canonical(body))),
        )
        id_ = entry_id(header)
        self.entries.append(
            NewEntry(
                id=bytes.fromhex(id_),
                kind=kind,
                line=line,
                parents=tuple(bytes.fromhex(parent) for parent in header.parents),
                content=bytes.fromhex(header.content),
                note=note,
                body=encode(canonical(body)),
                author="chief",
                at_ms=at_ms,
            )
        )
        return id_

    def _first(self, car: str) -> tuple[str, Tree]:
        self.write("car", f"car/{car}", {"name": f"Number {car}", "number": car, "retired": False}, START)
        part = {"kind": "stud", "stud": {"length_in": 1.7, "taper": {"included_deg": 7.15}}, "price_usd": 45}
        self.write("part", f"part/s-{car}", part, START)
        fitted = {
            "what": "fitted",
            "at": "2026-03-07T10:00-06:00",
            "place": {"where": "car", "car": car, "corner": "rf", "slot": "upper_stud"},
        }
        self.write("shop_record", f"shop/s-{car}/2026-03-07-fitted-1", fitted, START)
        weighed = {"at": "2026-03-07T09:00-06:00", "readings_lb": [[590, 503, 718, 629], [591, 502, 717, 630]]}
        self.write("scale_session", f"weigh/{car}/2026-03-07-1", weighed, START)
        id_ = self.write("sheet", f"car/{car}/sheet/race", self.document, START, note="as surveyed")
        return id_, self.document

    def _turned(self, car: str, tip: str, document: Tree, when: datetime) -> tuple[str, Tree]:
        """Record another stud, other shims, or words alone."""
        changed = document
        while changed == document:
            path = self.dice.choice((STUD, STUD, SHIMS, NOTES))
            value: object = f"round {len(self.entries)}"
            if path == STUD:
                value = round(1.4 + 0.1 * self.dice.randrange(8), 2)
            elif path == SHIMS:
                value = round(0.0625 * self.dice.randrange(1, 6), 4)
            changed = apply([FieldChange(steps(path), after=value)], document)
        return self.write("sheet", f"car/{car}/sheet/race", changed, when, tip, note=f"for {when:%H:%M}"), changed

    def _ran(self, event: str, car: str, run: str, revision: str, document: Tree, when: datetime) -> None:
        stud = float(at(document, steps(STUD)))
        state = STATES[(RUNS.index(run) + when.day) % len(STATES)]
        least = 17 + 0.4 * STATES.index(state) + (stud - 1.8) ** 2 + round(self.dice.uniform(0, 0.05), 3)
        laps = [round(least + abs(lap - 4) / 20, 3) for lap in range(LAPS)]
        tire = {"temps_deg_f": [180, 190.5, 200], "pressure_before_psi": 10, "pressure_after_psi": 12.5}
        told = {
            "revision": revision,
            "kind": run.partition("-")[0] if run not in {"hot-laps", "b-main"} else run.replace("-", "_"),
            "started_at": f"{when:%Y-%m-%dT%H:%M}Z",
            "laps": LAPS,
            "lap_times_s": laps,
            "track_state": state,
            "weather": {"air_deg_f": 71.5},
            "words": {"entry": "=1+1 too free", "middle": 'said "good"', "exit": "tight,\nthen loose"},
            "tires": dict.fromkeys(("lf", "rf", "lr", "rr"), tire),
            "stagger": {"rear_before_in": 2.5, "rear_after_in": 2.625},
            "shock_travel": {"rf_in": 3.25},
            "fuel_burned_lb": 6,
        }
        self.write("outing", f"outing/{event}/{car}/{run}", told, when)
        self.raced.append(Raced(event, car, run, state, revision, stud, min(laps)))


def document() -> Tree:
    """A full front end with what else the answers need."""
    read: Tree = json.loads((Path(__file__).parents[1] / "http" / "document.json").read_bytes())
    return read


def frames(entries: Sequence[NewEntry], many: int = 500) -> Iterator[Sequence[NewEntry]]:
    """Cut entries into runs that are appended at once."""
    return (entries[start : start + many] for start in range(0, len(entries), many))
