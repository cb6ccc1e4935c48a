"""Which perch turns reach a cross weight, with the ride heights held or disturbed least."""

from collections.abc import Mapping

import numpy as np
from msgspec import UNSET

from studbook.history.canonical import Tree
from studbook.wire.answers import Missing
from studbook.wire.loads import PerchesAnswer, PerchOutcome, PerchSearch, PerchTurns
from studbook_service.engine import VERSION
from studbook_service.engine.car import FourWheelCar, percentages
from studbook_service.engine.equilibrium import CarState
from studbook_service.engine.loads import ChassisChange, on_scales, rescaled
from studbook_service.engine.one_sided import WHEELS, WheelName
from studbook_service.engine.perches import find_perches, perch_displacement, rounded_turns
from studbook_service.engine.vectors import Array
from studbook_service.translate import cautions
from studbook_service.translate.bars_and_stops import END
from studbook_service.translate.document import Document
from studbook_service.translate.errors import CannotCloseError, FieldsMissingError
from studbook_service.translate.rescaling import (
    car_on_its_wheels,
    height_places,
    weights,
    wheel_inches,
    wheel_pounds,
)
from studbook_service.translate.states import rounded
from studbook_service.translate.whole_car import said
from studbook_service.translate.words import CORNER

HELD_IN = 1e-6


def perches_answer(tree: Tree, *, origins: Mapping[str, Tree], wanted: PerchSearch) -> PerchesAnswer:
    """Find perch turns that reach a cross weight.

    Args:
        tree: the setup document.
        origins: where readings were entered; `scales` for those of the scales.
        wanted: the cross weight, the perches that may turn, the step, and limits.

    Returns:
        The turns, unrounded and to the step, each with what comes of them.

    Raises:
        FieldsUnfitError, FieldsMissingError, CannotCloseError: it cannot be computed, and why.
    """
    found = car_on_its_wheels(tree, origins=origins)
    page = found.whole.page
    may_turn: list[WheelName] = [name for name in WHEELS if name in wanted.perches]
    pitch = _pitch(page, may_turn)
    car = rescaled(found.since.car, found.since.change)
    exact = find_perches(car, cross_percent=wanted.cross_percent, pitch_in=pitch, may_turn=may_turn)
    if not exact.state.closed or not np.all(np.isfinite(exact.turns)):
        raise CannotCloseError("no turns of these perches bring the car to rest at that cross weight")
    turns = rounded_turns(exact.turns, step=wanted.step_turns)
    standing = on_scales(car, ChassisChange(perch_in=perch_displacement(car, turns=turns, pitch_in=pitch)))
    if not standing.closed:
        raise CannotCloseError("the car does not come to rest on its scales after those turns")
    perches: dict[str, PerchTurns] = {
        name: _perch(page, name, float(exact.turns[index]), float(turns[index]), float(pitch[index]))
        for index, name in enumerate(WHEELS)
        if name in may_turn
    }
    answer = PerchesAnswer(
        engine=VERSION,
        assumptions=page.assumed,
        missing=[],
        cautions=list(cautions.LOADS),
        headline="",
        wanted_percent=wanted.cross_percent,
        heights="held" if np.all(np.abs(exact.state.rise_in) < HELD_IN) else "least disturbed",
        reached=bool(exact.reached),
        within_limits=_within(wanted, standing.loads_lb),
        perches=perches,
        before=weights(car.loads_lb),
        exact=_outcome(page, exact.state),
        rounded=_outcome(page, standing),
    )
    answer.headline = _headline(answer, car)
    return answer


def _pitch(page: Document, may_turn: list[WheelName]) -> Array:
    paths = {name: f"setup.{END[name]}.{name}.spring.perch.in_per_turn" for name in WHEELS}
    lacking = [paths[name] for name in may_turn if page.get(paths[name]) is None]
    if lacking:
        raise FieldsMissingError([Missing(subject="perch turns", fields=lacking)])
    return np.array([page.get(paths[name]) if name in may_turn else 1.0 for name in WHEELS], float)


def _perch(page: Document, name: WheelName, exact: float, turns: float, pitch: float) -> PerchTurns:
    way = "in (tighten, raises)" if turns > 0 else "out (loosen, lowers)"
    told = PerchTurns(
        exact_turns=rounded(exact),
        turns=rounded(turns),
        along_spring_in=rounded(turns * pitch),
        text=f"{CORNER[name]} perch: {_turns(turns)} {way}" if turns else f"{CORNER[name]} perch: leave it",
    )
    showing = page.get(f"setup.{END[name]}.{name}.spring.perch.thread_showing_in")
    if showing is not None:
        told.thread_showing_in = rounded(showing + turns * pitch)
        if told.thread_showing_in < 0:
            told.text += f"; only {showing:g} in of thread is left to loosen it by"
    return told


def _turns(turns: float) -> str:
    size = abs(turns)
    return f"{size:.2f}".rstrip("0").rstrip(".") + (" turn" if size == 1 else " turns")


def _within(wanted: PerchSearch, loads_lb: Array) -> bool:
    shares = percentages(loads_lb)
    limits = (
        (shares.bite_lb, wanted.least_bite_lb, wanted.most_bite_lb),
        (shares.left_percent, wanted.least_left_percent, wanted.most_left_percent),
    )
    return all(
        (least is UNSET or float(value) >= least) and (most is UNSET or float(value) <= most)
        for value, least, most in limits
    )


def _outcome(page: Document, standing: CarState) -> PerchOutcome:
    places = height_places(page)
    outcome = PerchOutcome(
        weights=weights(standing.loads_lb),
        change=wheel_pounds(standing.change_lb),
        rise=wheel_inches(standing.rise_in),
        engaged=said(standing.names, standing.engaged),
        lifted=said([CORNER[name] for name in WHEELS], standing.lifted),
    )
    if places is not None:
        outcome.ride_height = wheel_inches(standing.rise_at(x_in=places[0], y_in=places[1]))
    return outcome


def _headline(answer: PerchesAnswer, car: FourWheelCar) -> str:
    """Say what to turn, and what comes of it."""
    turned = [
        f"{CORNER[name]} {_turns(each.turns)} {'in' if each.turns > 0 else 'out'}"
        for name, each in answer.perches.items()
        if each.turns
    ]
    was, now, rise = percentages(car.loads_lb), answer.rounded.weights, answer.rounded.rise
    if not turned:
        return f"Nothing to turn at this step: cross stands at {float(was.cross_percent):.1f} %."
    moved = max(abs(getattr(rise, f"{name}_in")) for name in WHEELS)
    short = "" if answer.reached else " Not reached: a wheel or a stop comes between."
    return (
        f"{', '.join(turned)}: cross {float(was.cross_percent):.1f} -> {now.cross_percent:.1f} %, bite"
        f" {float(was.bite_lb):.0f} -> {now.bite_lb:.0f} lb, heights within {moved:.2f} in.{short}"
    )
