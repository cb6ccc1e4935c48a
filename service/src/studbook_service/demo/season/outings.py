"""One outing, made of its row of the nights and of the laps and readings that its sheet has afterward."""

import datetime as dt
import random
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

from studbook.history.canonical import Tree
from studbook.history.leaves import dotted
from studbook_service.demo.scenario import DemoStep
from studbook_service.demo.season.demo_record import written

CORNERS: Final = {"lf": "front", "rf": "front", "lr": "rear", "rr": "rear"}
COLD_LAP_S: Final = 0.3
FADE_S_PER_LAP: Final = 0.012
SCATTER_S: Final = 0.035
OF_THE_ROW: Final = {"start": "start_place", "finish": "finish_place", "words": "words", "notes": "notes"}
HOTTER_DEG_F: Final = (7, 0, -5)
"""Toward the car's middle, center, outside."""


def outing(run: Tree, night: Tree, *, raced: DemoStep, after: DemoStep | None, started: dt.datetime) -> Tree:
    """Write one outing.

    Args:
        run: its row of the nights.
        night: the night it belongs to.
        raced: the step that was raced.
        after: the step that records its readings; without one its laps are drawn about its pace.
        started: when.

    Returns:
        Its document, without the revision's id. The same run has the same laps whenever the demo runs.
    """
    draw = random.Random(f"{night['day']}/{run['car']}/{run['run']}")  # noqa: S311 - lap times, no secret
    readings: dict[str, Any] = {} if after is None else {dotted(each.path): each.after for each in after.changes}
    times = list(_laps(draw, run["laps"], readings.get("measured.run.lap_times_s", ()), run.get("pace", 0)))
    document: Tree = {
        "kind": run["run"].rstrip("-0123456789").replace("-", "_"),
        "started_at": written(started),
        "laps": len(times),
        "lap_times_s": times,
        "track_state": run["state"],
        "weather": night["weather"],
    }
    document |= {theirs: run[ours] for ours, theirs in OF_THE_ROW.items() if ours in run}
    return document | (_read(draw, raced.document, readings) if readings else {})


def _laps(draw: random.Random, count: int, recorded: Sequence[float], pace: float) -> Iterator[float]:
    """Give the laps that were recorded, and go on from their end; else draw them about a pace."""
    yield from recorded
    last = recorded[-1] if recorded else pace
    for lap in range(count - len(recorded)):
        cold = COLD_LAP_S if not recorded and lap == 0 else 0
        yield round(last + cold + FADE_S_PER_LAP * lap + abs(draw.gauss(0, SCATTER_S)), 2)


def _read(draw: random.Random, raced: Tree, readings: Mapping[str, Any]) -> Tree:
    """Give what was read when the car came in: tires, stagger, travels, fuel, groove."""
    wheels = {corner: _tire(draw, corner, raced, readings) for corner in CORNERS}
    travels = {
        f"{corner}_in": readings.get(f"measured.{axle}.{corner}.shock_travel_in") for corner, axle in CORNERS.items()
    }
    stagger = {
        f"{axle}_{when}_in": value
        for axle in ("front", "rear")
        for when, value in (
            ("before", raced["measured"]["stagger"].get(f"{axle}_in")),
            ("after", readings.get(f"measured.run.stagger_hot_{axle}_in")),
        )
    }
    found = {
        "tires": wheels,
        "stagger": _without_none(stagger),
        "shock_travel": _without_none(travels),
        "fuel_burned_lb": readings.get("measured.run.fuel_burned_lb"),
        "groove": readings.get("measured.run.groove"),
    }
    return {key: value for key, value in found.items() if value not in (None, {})}


def _tire(draw: random.Random, corner: str, raced: Tree, readings: Mapping[str, Any]) -> Tree:
    axle = CORNERS[corner]
    surface = 165 if raced["setup"]["surface"].startswith("asphalt") else 138
    middle = surface + (14 if corner in ("rf", "rr") else 0) + draw.gauss(0, 3)
    hot = readings.get(f"measured.{axle}.{corner}.pressure_hot_psi")
    cold = raced["setup"][axle][corner]["tire"]["pressure_cold_psi"]
    temps = [round(middle + more + draw.gauss(0, 1.5)) for more in HOTTER_DEG_F]
    return _without_none({"pressure_before_psi": cold, "pressure_after_psi": hot, "temps_deg_f": temps})


def _without_none(values: Tree) -> Tree:
    return {key: value for key, value in values.items() if value is not None}
