"""Shocks, springs and bars as an answer: forces at shaft speeds, damping at the wheels, natural frequencies."""

from collections.abc import Mapping
from typing import Final

import numpy as np
from msgspec import UNSET, UnsetType

from studbook.history.canonical import Tree
from studbook.wire.answers import Missing
from studbook.wire.damping import (
    AxleRide,
    DampingAnswer,
    DampingCorner,
    DampingQuery,
    ShockAnswer,
    ShockAtSpeed,
    ShockCycle,
)
from studbook_service.engine import VERSION
from studbook_service.engine.dampers import Cycle, ShockCurves, at_speed, cycle, equivalent_shim
from studbook_service.engine.linkage import solve_travel
from studbook_service.engine.ride import damping_ratio, natural_frequency, series_rate, wheel_damping
from studbook_service.engine.wheel import motion
from studbook_service.translate import cautions
from studbook_service.translate.bars_and_stops import bar_answer
from studbook_service.translate.corner import shock_mount
from studbook_service.translate.document import END, FRONT, REAR, DocumentReader, checked, note_missing
from studbook_service.translate.errors import CannotClose, FieldsMissing
from studbook_service.translate.front_end import front_end
from studbook_service.translate.rear_end import mount_motion, rear_end
from studbook_service.translate.rolling import gears, stagger, static_tire_deflection
from studbook_service.translate.shocks import fitted_shock, gas_push
from studbook_service.translate.springs import fitted_spring, front_wheel_rate
from studbook_service.translate.states import figures, finite, rounded
from studbook_service.translate.words import CORNER

SPEEDS_IN_PER_S: Final = (1.0, 3.0, 5.0, 10.0)
SHOCK_FORCES: Final = (
    "compression_lb",
    "rebound_lb",
    "compression_slope_lb_s_per_in",
    "rebound_slope_lb_s_per_in",
)


def damping_answer(tree: Tree, *, origins: Mapping[str, Tree], request: DampingQuery) -> DampingAnswer:
    """Compute everything about a document's shocks, springs, bars, tires and gears.

    Raises:
        FieldsUnfit: a value is out of type or bounds.
        FieldsMissing: there is nothing to compute with.
    """
    reader, missing = DocumentReader(tree=checked(tree)), list[Missing]()
    ratios, rates = _motion(reader, tree, origins, missing)
    corners = {name: _corner(reader, name, ratios.get(name), rates.get(name), request, missing) for name in END}
    answer = DampingAnswer(
        engine=VERSION,
        cautions=list(cautions.DAMPING),
        assumptions=reader.assumed,
        missing=missing,
        front_bar=bar_answer(reader, "front", missing),
        rear_bar=bar_answer(reader, "rear", missing),
        front_stagger=stagger(reader, "front", request, missing),
        rear_stagger=stagger(reader, "rear", request, missing),
        gears=gears(reader, request, missing),
    )
    for name, corner in corners.items():
        if corner != DampingCorner():
            setattr(answer, name, corner)
    answer.rear_ride = _rear_ride(reader, corners, ratios)
    parts = (*END, "front_bar", "rear_bar", "front_stagger", "rear_stagger", "gears")
    if all(getattr(answer, part) is UNSET for part in parts):
        raise FieldsMissing(missing)
    return answer


def _motion(
    reader: DocumentReader, tree: Tree, origins: Mapping[str, Tree], missing: list[Missing]
) -> tuple[dict[str, dict[str, float]], dict[str, float]]:
    """Give motion ratios by corner and part (shock, spring), and the wheel rates of the front.

    A linkage that cannot be assembled leaves the shocks' own figures.
    """
    ratios: dict[str, dict[str, float]] = {}
    rates: dict[str, float] = {}
    try:
        front = front_end(tree, origins=origins)
        front.closed_pose()
        for name, travel in zip(front.names, front.travel, strict=True):
            pose, held = solve_travel(front.each[name], travel_in=travel), shock_mount(reader, name)
            ratios[name] = {} if held is None else {"shock": float(motion(pose, held).ratio)}
            rates[name] = front_wheel_rate(reader, name, pose)
    except FieldsMissing as error:
        missing.extend(error.missing)
    except CannotClose as error:
        missing.extend(error.missing_for("damping at the front wheels"))
    reader.lacking.clear()
    try:
        rear = rear_end(reader)
        if rear is None:
            missing.append(Missing(subject="damping at the rear axle", fields=list(reader.lacking)))
        else:
            axle = rear.pose()
            for name in REAR:
                found = {part: mount_motion(reader, axle, name, part) for part in ("shock", "spring")}
                ratios[name] = {part: -float(at.per_bump) for part, at in found.items() if at is not None}
    except CannotClose as error:
        missing.extend(error.missing_for("damping at the rear axle"))
    return ratios, rates


def _corner(
    reader: DocumentReader,
    name: str,
    ratios: Mapping[str, float] | None,
    wheel_rate: float | None,
    request: DampingQuery,
    missing: list[Missing],
) -> DampingCorner:
    root = f"setup.{END[name]}.{name}"
    corner = DampingCorner(static_tire_deflection_in=static_tire_deflection(reader, root))
    spring = fitted_spring(reader, f"{root}.spring")
    if spring is not None:
        corner.spring_rate_lb_per_in = rounded(spring.rate_lb_per_in)
        corner.second_stopped = UNSET if spring.stopped is None else spring.stopped
    ratio = (ratios or {}).get("shock", np.nan)
    corner.shock_motion_ratio = finite(ratio)
    rate = np.nan if wheel_rate is None else wheel_rate
    sprung, unsprung = _weights(reader, name, root, missing)
    if name in FRONT:
        corner.wheel_rate_lb_per_in = finite(rate)
        corner.sprung_lb = finite(sprung)
        corner.ride_hz, corner.hop_hz = _frequencies(reader, name, root, rate, sprung, unsprung)
    damper = fitted_shock(reader, f"{root}.shock", subject=f"{CORNER[name]} shock")
    if isinstance(damper, Missing):
        missing.append(damper)
    answer = _shock(reader, f"{root}.shock", None if isinstance(damper, Missing) else damper, request)
    if answer.cycle is not UNSET or answer.at:
        _at_wheel(answer, ratio, rate, sprung)
    if answer != ShockAnswer():
        corner.shock = answer
    return corner


def _weights(reader: DocumentReader, name: str, root: str, missing: list[Missing]) -> tuple[float, float]:
    paths = f"measured.scales.{name}_lb", f"{root}.unsprung_lb"
    lacking = reader.unrecorded(*paths)
    if lacking:
        note_missing(missing, "natural frequency and damping ratio", lacking)
    load, unsprung = map(reader.number, paths)
    return load - unsprung, unsprung


def _frequencies(
    reader: DocumentReader, name: str, root: str, rate: float, sprung: float, unsprung: float
) -> tuple[float | UnsetType, float | UnsetType]:
    if not rate > 0:
        return UNSET, UNSET
    tire = reader.get(f"{root}.tire.rate_lb_per_in")
    if tire is None:
        reader.assume(f"{CORNER[name]}: ride frequency is without the tire; {root}.tire.rate_lb_per_in is not recorded")
        return finite(float(natural_frequency(rate_lb_per_in=rate, weight_lb=sprung))), UNSET
    both = series_rate(spring_lb_per_in=rate, tire_lb_per_in=tire)
    ride = natural_frequency(rate_lb_per_in=both, weight_lb=sprung)
    hop = natural_frequency(rate_lb_per_in=rate + tire, weight_lb=unsprung)
    return finite(float(ride)), finite(float(hop))


def _shock(reader: DocumentReader, root: str, damper: ShockCurves | None, request: DampingQuery) -> ShockAnswer:
    answer = ShockAnswer()
    push = gas_push(reader, root)
    if push is not None:
        answer.gas_lb = rounded(push)
    for way in ("compression", "rebound"):
        stack = reader.get(f"{root}.{way}.stack_in")
        if stack and len({diameter for diameter, _ in stack}) == 1:
            diameter, thickness = np.asarray(stack, float).T
            equivalent = equivalent_shim(thickness_in=thickness, diameter_in=diameter)
            setattr(answer, f"{way}_stack_in", rounded(equivalent))
            reader.assume("Shim stacks are compared by thickness alone, without clamp and bleed; that is no force")
        elif stack:
            reader.assume("Shim stacks of several diameters are not compared: thickness alone does not rank them")
    if damper is None:
        return answer
    speeds = damper.compression.x
    answer.measured_from_in_per_s, answer.measured_to_in_per_s = rounded(speeds[0]), rounded(speeds[-1])
    found = at_speed(damper, speed_in_per_s=SPEEDS_IN_PER_S)
    for place, speed in enumerate(SPEEDS_IN_PER_S):
        if np.isfinite(found.compression_lb[place]):
            answer.at[f"{speed:g}"] = ShockAtSpeed(
                **figures(found, SHOCK_FORCES, place),
                rebound_over_compression_ratio=finite(float(found.rebound_over_compression[place])),
            )
    loop = cycle(damper, stroke_in=request.stroke_in, frequency_hz=request.frequency_hz)
    if np.isfinite(loop.work_in_lb):
        answer.cycle = ShockCycle(
            stroke_in=request.stroke_in,
            frequency_hz=request.frequency_hz,
            **figures(loop, Cycle._fields),
        )
    return answer


def _at_wheel(answer: ShockAnswer, ratio: float, rate: float, sprung: float) -> None:
    """Add what the shaft's slopes and its cycle come to at the wheel, where ratio, rate and weight are known."""
    if not np.isfinite(ratio):
        return
    known = rate > 0 and sprung > 0

    def zeta(at_wheel: float) -> float | UnsetType:
        if not known:
            return UNSET
        share = damping_ratio(coefficient_lb_s_per_in=at_wheel, rate_lb_per_in=rate, weight_lb=sprung)
        return rounded(share)

    for at in answer.at.values():
        for way in ("compression", "rebound"):
            slope = getattr(at, f"{way}_slope_lb_s_per_in")
            if slope >= 0:
                at_wheel = rounded(wheel_damping(coefficient_lb_s_per_in=slope, motion_ratio=ratio))
                setattr(at, f"wheel_{way}_lb_s_per_in", at_wheel)
                setattr(at, f"{way}_damping_ratio", zeta(at_wheel))
    if answer.cycle is not UNSET:
        coefficient = answer.cycle.coefficient_lb_s_per_in
        at_wheel = rounded(wheel_damping(coefficient_lb_s_per_in=coefficient, motion_ratio=ratio))
        answer.cycle.wheel_coefficient_lb_s_per_in = at_wheel
        answer.cycle.damping_ratio = zeta(at_wheel)


def _rear_ride(
    reader: DocumentReader, corners: Mapping[str, DampingCorner], ratios: Mapping[str, Mapping[str, float]]
) -> AxleRide | UnsetType:
    """Describe the axle in bump: both springs, both shocks, the whole rear's sprung weight."""
    rate = damping = sprung = tires = 0.0
    for name in REAR:
        corner, root = corners[name], f"setup.rear.{name}"
        spring, shock = corner.spring_rate_lb_per_in, corner.shock
        rate += np.nan if spring is UNSET else spring * ratios.get(name, {}).get("spring", np.nan) ** 2
        loop = UNSET if shock is UNSET else shock.cycle
        wheel = UNSET if loop is UNSET else loop.wheel_coefficient_lb_s_per_in
        damping += np.nan if wheel is UNSET else wheel
        sprung += reader.number(f"measured.scales.{name}_lb") - reader.number(f"{root}.unsprung_lb")
        tires += reader.number(f"{root}.tire.rate_lb_per_in")
    if np.isnan(rate) and np.isnan(damping):
        return UNSET
    reader.assume("Rear in bump: the springs' rates by their motion ratios squared; the change of a ratio is left out")
    answer = AxleRide(rate_lb_per_in=finite(rate), damping_lb_s_per_in=finite(damping), sprung_lb=finite(sprung))
    if rate > 0 and sprung > 0:
        on = rate if np.isnan(tires) else float(series_rate(spring_lb_per_in=rate, tire_lb_per_in=tires))
        answer.hz = rounded(natural_frequency(rate_lb_per_in=on, weight_lb=sprung))
        if np.isfinite(damping):
            share = damping_ratio(coefficient_lb_s_per_in=damping, rate_lb_per_in=rate, weight_lb=sprung)
            answer.damping_ratio = rounded(share)
    return answer
