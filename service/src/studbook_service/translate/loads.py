"""A car on its scales: what it weighs now, how stiff it is, and what one step of each adjustment does."""

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
from studbook_service.engine.one_sided import WHEELS
from studbook_service.engine.vectors import Array
from studbook_service.translate import cautions
from studbook_service.translate.document import END
from studbook_service.translate.errors import FieldsMissing
from studbook_service.translate.rescaling import (
    OnItsWheels,
    on_its_wheels,
    rises,
    weights,
    wheel_inches,
)
from studbook_service.translate.shocks import gas_push
from studbook_service.translate.states import columns, rounded
from studbook_service.translate.weighing import center_of_mass
from studbook_service.translate.whole_car import WholeCar, names_where, scales, wheels_where
from studbook_service.translate.words import CORNER

RIDE_IN = 1 / 8
GAS_PSI = 10.0
ROLLOUT_IN = 1.0
"""Steps of the sheet for the wall beside a perch turn: ride height by a corner's own perch, gas, rollout."""


def loads_answer(tree: Tree, *, origins: Mapping[str, Tree], wall_sheet: bool = True) -> LoadsAnswer:
    """Compute what a document's car weighs at each wheel.

    `wall_sheet` says whether to add the sheet for the wall.

    Raises:
        FieldsUnfit, FieldsMissing, CannotClose: nothing can be computed, and why.
    """
    found = on_its_wheels(tree, origins=origins)
    whole = found.whole if isinstance(found, OnItsWheels) else found
    reader = whole.reader
    answer = LoadsAnswer(
        engine=VERSION, assumptions=reader.assumed, missing=list(whole.missing), cautions=list(cautions.LOADS)
    )
    for name, springs, at in (
        ("front", whole.front_springs, whole.at_in[1, :2]),
        ("rear", whole.rear_springs, whole.at_in[1, 2:]),
    ):
        if springs is not None:
            setattr(answer, name, _rates(whole, name, springs, at))
    reader.lacking.clear()
    read = scales(reader)
    if read is None:
        answer.missing.append(Missing(subject="weights", fields=list(reader.lacking)))
        if answer.front is UNSET and answer.rear is UNSET:
            raise FieldsMissing(answer.missing)
        return answer
    answer.read = weights(read)
    at_time = reader.get("measured.scales.at") or reader.get("measured.at")
    if at_time is not None:
        answer.read_at = at_time
    if np.all(np.isfinite(whole.at_in)):
        loads = found.loads_lb if isinstance(found, OnItsWheels) else read
        answer.cg = center_of_mass(reader, loads, whole.at_in)
    if isinstance(found, OnItsWheels):
        _now(answer, found)
        if wall_sheet:
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
    since, reader = found.since, found.whole.reader
    answer.now, answer.since, answer.left_out = weights(found.loads_lb), since.causes, since.left_out
    if since.causes:
        answer.height_since = wheel_inches(rises(reader, since.standing)[1])
    answer.engaged = names_where(since.standing.names, since.standing.engaged)
    answer.lifted = wheels_where(since.standing.lifted)
    if found.whole.bars():
        hooked, unhooked = (on_scales(since.car, found.change_with_bars(hooked=each)) for each in (True, False))
        answer.bars_hooked, answer.bars_unhooked = weights(hooked.loads_lb), weights(unhooked.loads_lb)


def _sheet(answer: LoadsAnswer, found: OnItsWheels) -> None:
    """Try one step of each adjustment on the car as it stands now."""
    car, reader = rescaled(found.since.car, found.since.change), found.whole.reader
    steps: list[tuple[str, Array, Array, Array]] = []
    none = np.zeros(4)
    lacking = []
    for index, name in enumerate(WHEELS):
        pitch = reader.get(f"setup.{END[name]}.{name}.spring.perch.in_per_turn")
        if pitch is None:
            lacking.append(f"setup.{END[name]}.{name}.spring.perch.in_per_turn")
        else:
            steps.append((f"{CORNER[name]} perch +1 turn", car.per_perch[:, index] * pitch, none, none))
    own = on_scales(car, ChassisChange(perch_in=car.per_perch))
    by_perch = rises(reader, own)[1]
    for index, name in enumerate(WHEELS):
        by = RIDE_IN / by_perch[index, index]
        steps.append((f"{CORNER[name]} ride +1/8 in", car.per_perch[:, index] * by, none, none))
    for index, name in enumerate(WHEELS):
        root = f"setup.{END[name]}.{name}.shock"
        gas, row = gas_push(reader, root), found.whole.shock_in_per_in[index]
        if gas is not None and np.all(np.isfinite(row)) and reader.get(f"{root}.gas_psi"):
            push = -row * gas / reader.get(f"{root}.gas_psi") * GAS_PSI
            steps.append((f"{CORNER[name]} gas +10 psi", none, push, none))
    for index, name in enumerate(WHEELS):
        grown = np.eye(4)[index] * ROLLOUT_IN / (2 * np.pi)
        steps.append((f"{CORNER[name]} rollout +1 in", none, none, grown))
    if lacking:
        answer.missing.append(Missing(subject="a turn of each perch", fields=lacking))
    perch, force, radius = (np.stack(each, axis=1) for each in list(zip(*steps, strict=True))[1:])
    standing = on_scales(car, ChassisChange(perch_in=perch, spring_lb=force, radius_in=radius))
    answer.heights_at, heights = rises(reader, standing)
    answer.sheet = _columns([step[0] for step in steps], standing, heights, car)
    reader.assume("Rollout: the loaded radius is taken to grow by 1/(2π) of it")


def _columns(what: Sequence[str], standing: CarState, heights: Array, car: FourWheelCar) -> WallSheet:
    before, after = percentages(car.loads_lb), percentages(standing.loads_lb)
    return WallSheet(
        what=list(what),
        cross_percent=columns(after.cross_percent - before.cross_percent),
        bite_lb=columns(after.bite_lb - before.bite_lb),
        **{f"{name}_lb": columns(change) for name, change in zip(WHEELS, standing.change_lb, strict=True)},
        **{f"{name}_in": columns(rise) for name, rise in zip(WHEELS, heights, strict=True)},
    )
