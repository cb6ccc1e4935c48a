"""A revision's car on its scales: what it weighs now, how stiff it is, and what one step of everything does."""

from collections.abc import Mapping, Sequence

import numpy as np
from msgspec import UNSET

from studbook.history.canonical import Tree
from studbook.wire.answers import Missing
from studbook.wire.loads import AxleRates, LoadsAnswer, WallSheet
from studbook_service.engine import VERSION
from studbook_service.engine.axle_springs import AxleSprings
from studbook_service.engine.car import FourWheelCar, percentages
from studbook_service.engine.equilibrium import CarState
from studbook_service.engine.loads import ChassisChange, on_scales, rescaled
from studbook_service.engine.one_sided import WHEELS, difference_row
from studbook_service.engine.vectors import Array
from studbook_service.translate import cautions
from studbook_service.translate.bars_and_stops import END
from studbook_service.translate.document import Document
from studbook_service.translate.errors import FieldsMissingError
from studbook_service.translate.rescaling import (
    OnItsWheels,
    height_places,
    on_its_wheels,
    weights,
    wheel_inches,
)
from studbook_service.translate.shocks import gas_push
from studbook_service.translate.states import columns, rounded
from studbook_service.translate.weighing import center_of_mass
from studbook_service.translate.whole_car import WholeCar, said, scales
from studbook_service.translate.words import CORNER

RIDE_IN = 1 / 8
GAS_PSI = 10.0
ROLLOUT_IN = 1.0
"""Steps of the sheet for the wall beside a turn: of ride height by a corner's own perch, of gas, of rollout."""


def loads_answer(tree: Tree, *, origins: Mapping[str, Tree], sheet: bool = True) -> LoadsAnswer:
    """Compute what a document's car weighs at each wheel.

    Args:
        tree: the setup document.
        origins: where readings were entered; `scales` for those of the scales.
        sheet: whether the sheet for the wall is wanted.

    Returns:
        The answer; what could not be computed is in `missing`.

    Raises:
        FieldsUnfitError, FieldsMissingError, CannotCloseError: nothing can be computed, and why.
    """
    found = on_its_wheels(tree, origins=origins)
    whole = found.whole if isinstance(found, OnItsWheels) else found
    page = whole.page
    answer = LoadsAnswer(
        engine=VERSION, assumptions=page.assumed, missing=list(whole.missing), cautions=list(cautions.LOADS)
    )
    for name, springs, at in (
        ("front", whole.front_springs, whole.at_in[1, :2]),
        ("rear", whole.rear_springs, whole.at_in[1, 2:]),
    ):
        if springs is not None:
            setattr(answer, name, _rates(whole, name, springs, at))
    page.lacking.clear()
    read = scales(page)
    if read is None:
        answer.missing.append(Missing(subject="weights", fields=list(page.lacking)))
        if answer.front is UNSET and answer.rear is UNSET:
            raise FieldsMissingError(answer.missing)
        return answer
    answer.read = weights(read)
    at_time = page.get("measured.scales.at") or page.get("measured.at")
    if at_time is not None:
        answer.read_at = at_time
    if np.all(np.isfinite(whole.at_in)):
        loads = found.loads_lb if isinstance(found, OnItsWheels) else read
        answer.cg = center_of_mass(page, loads, whole.at_in)
    if isinstance(found, OnItsWheels):
        _now(answer, found)
        if sheet:
            _sheet(answer, found)
    return answer


def _rates(whole: WholeCar, axle: str, springs: AxleSprings, y: Array) -> AxleRates:
    stiffness = springs.rates_lb_per_in
    first = 0 if axle == "front" else 2
    bars = [each for each in whole.bars() if each.axle == axle and each.hooked]
    return AxleRates(
        left_lb_per_in=rounded(stiffness[0, 0]),
        right_lb_per_in=rounded(stiffness[1, 1]),
        coupling_lb_per_in=rounded(stiffness[0, 1]),
        heave_lb_per_in=rounded(stiffness.sum()),
        roll_in_lb_per_deg=rounded(np.radians(y @ stiffness @ y)),
        left_ratio=rounded(-whole.spring_in_per_in[first, first]),
        right_ratio=rounded(-whole.spring_in_per_in[first + 1, first + 1]),
        bar_lb_per_in=rounded(bars[0].rate_lb_per_in) if bars else UNSET,
    )


def _now(answer: LoadsAnswer, found: OnItsWheels) -> None:
    since, page = found.since, found.whole.page
    answer.now, answer.since, answer.left_out = weights(found.loads_lb), since.causes, since.left_out
    if since.causes:
        answer.height_since = wheel_inches(_heights(page, since.standing)[1])
    answer.engaged = said(since.standing.names, since.standing.engaged)
    answer.lifted = said([CORNER[name] for name in WHEELS], since.standing.lifted)
    bars = found.whole.bars()
    for linked in (True, False) if bars else ():
        force = np.asarray(since.change.spring_lb) + sum(
            difference_row(bar.axle) * bar.rate_lb_per_in * bar.preload_in * (linked - bar.hooked) for bar in bars
        )
        hooked = [bar.axle for bar in bars] if linked else []
        other = on_scales(since.car, since.change._replace(spring_lb=force, hooked=hooked))
        setattr(answer, "bars_hooked" if linked else "bars_unhooked", weights(other.loads_lb))


def _heights(page: Document, standing: CarState) -> tuple[str, Array]:
    """Give rises where the ride heights are read, else over the wheels, and say which, (4, *batch)."""
    places = height_places(page)
    if places is None:
        return "over the wheels", standing.rise_in
    return "where the ride heights are read", standing.rise_at(x_in=places[0], y_in=places[1])


def _sheet(answer: LoadsAnswer, found: OnItsWheels) -> None:
    """Put one step of each thing after the other on the car as it stands now."""
    car, page = rescaled(found.since.car, found.since.change), found.whole.page
    steps: list[tuple[str, Array, Array, Array]] = []
    none = np.zeros(4)
    lacking = []
    for index, name in enumerate(WHEELS):
        pitch = page.get(f"setup.{END[name]}.{name}.spring.perch.in_per_turn")
        if pitch is None:
            lacking.append(f"setup.{END[name]}.{name}.spring.perch.in_per_turn")
        else:
            steps.append((f"{CORNER[name]} perch +1 turn", car.per_perch[:, index] * pitch, none, none))
    own = on_scales(car, ChassisChange(perch_in=car.per_perch))
    rises = _heights(page, own)[1]
    for index, name in enumerate(WHEELS):
        by = RIDE_IN / rises[index, index]
        steps.append((f"{CORNER[name]} ride +1/8 in", car.per_perch[:, index] * by, none, none))
    for index, name in enumerate(WHEELS):
        root = f"setup.{END[name]}.{name}.shock"
        gas, row = gas_push(page, root), found.whole.shock_in_per_in[index]
        if gas is not None and np.all(np.isfinite(row)) and page.get(f"{root}.gas_psi"):
            push = -row * gas / page.get(f"{root}.gas_psi") * GAS_PSI
            steps.append((f"{CORNER[name]} gas +10 psi", none, push, none))
    for index, name in enumerate(WHEELS):
        grown = np.eye(4)[index] * ROLLOUT_IN / (2 * np.pi)
        steps.append((f"{CORNER[name]} rollout +1 in", none, none, grown))
    if lacking:
        answer.missing.append(Missing(subject="a turn of each perch", fields=lacking))
    perch, force, radius = (np.stack(each, axis=1) for each in list(zip(*steps, strict=True))[1:])
    standing = on_scales(car, ChassisChange(perch_in=perch, spring_lb=force, radius_in=radius))
    answer.heights_at, heights = _heights(page, standing)
    answer.sheet = _columns([step[0] for step in steps], standing, heights, car)
    page.assume("Rollout: the loaded radius is taken to grow by 1/2π of it")


def _columns(what: Sequence[str], standing: CarState, heights: Array, car: FourWheelCar) -> WallSheet:
    before, after = percentages(car.loads_lb), percentages(standing.loads_lb)
    return WallSheet(
        what=list(what),
        cross_percent=columns(after.cross_percent - before.cross_percent),
        bite_lb=columns(after.bite_lb - before.bite_lb),
        **{f"{name}_lb": columns(change) for name, change in zip(WHEELS, standing.change_lb, strict=True)},
        **{f"{name}_in": columns(rise) for name, rise in zip(WHEELS, heights, strict=True)},
    )
