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
from studbook_service.engine.dampers import ShockCurves, at_speed, cycle, equivalent_shim
from studbook_service.engine.linkage import solve_travel
from studbook_service.engine.ride import damping_ratio, natural_frequency, series_rate, wheel_damping
from studbook_service.engine.wheel import motion
from studbook_service.translate import cautions
from studbook_service.translate.bars import bar
from studbook_service.translate.corner import shock_mount
from studbook_service.translate.document import CORNERS, Document, checked, lack
from studbook_service.translate.errors import CannotCloseError, FieldsMissingError
from studbook_service.translate.front_end import front_end, refuse_open
from studbook_service.translate.rear_end import rear_end
from studbook_service.translate.rear_ratios import bump_ratio
from studbook_service.translate.rolling import gears, sink, stagger
from studbook_service.translate.shocks import fitted_shock, gas_push
from studbook_service.translate.springs import fitted_spring, front_wheel_rate
from studbook_service.translate.states import finite, rounded
from studbook_service.translate.words import CORNER

SPEEDS_IN_PER_S: Final = (1.0, 3.0, 5.0, 10.0)
END: Final = {"lf": "front", "rf": "front", "lr": "rear", "rr": "rear"}


def damping_answer(tree: Tree, *, origins: Mapping[str, Tree], asked: DampingQuery) -> DampingAnswer:
    """Compute everything about a document's shocks, springs, bars, tires and gears.

    Args:
        tree: the setup document.
        origins: for each corner with an alignment reading, the document it was entered in.
        asked: the shocks' cycle, the turn and the speed.

    Returns:
        The answer; what could not be computed is in `missing`.

    Raises:
        FieldsUnfitError: a value is out of type or bounds.
        FieldsMissingError: there is nothing to compute with.
    """
    page, missing = Document(tree=checked(tree)), list[Missing]()
    ratios, rates = _motion(page, tree, origins, missing)
    corners = {name: _corner(page, name, ratios.get(name), rates.get(name), asked, missing) for name in END}
    answer = DampingAnswer(
        engine=VERSION,
        cautions=list(cautions.DAMPING),
        assumptions=page.assumed,
        missing=missing,
        front_bar=bar(page, "front", missing),
        rear_bar=bar(page, "rear", missing),
        front_stagger=stagger(page, "front", asked, missing),
        rear_stagger=stagger(page, "rear", asked, missing),
        gears=gears(page, asked, missing),
    )
    for name, corner in corners.items():
        if corner != DampingCorner():
            setattr(answer, name, corner)
    answer.rear_ride = _rear_ride(page, corners, ratios)
    told = (*END, "front_bar", "rear_bar", "front_stagger", "rear_stagger", "gears")
    if all(getattr(answer, part) is UNSET for part in told):
        raise FieldsMissingError(missing)
    return answer


def _motion(
    page: Document, tree: Tree, origins: Mapping[str, Tree], missing: list[Missing]
) -> tuple[dict[str, dict[str, float]], dict[str, float]]:
    """Give motion ratios by corner and part (shock, spring), and the wheel rates of the front.

    A linkage that cannot be assembled leaves the shocks' own figures, and is said.
    """
    ratios: dict[str, dict[str, float]] = {}
    rates: dict[str, float] = {}
    try:
        front = front_end(tree, origins=origins)
        refuse_open(front, front.pose(), when="at ride height")
        for name, travel in zip(front.names, front.travel, strict=True):
            pose, held = solve_travel(front.each[name], travel_in=travel), shock_mount(page, name)
            ratios[name] = {} if held is None else {"shock": float(motion(pose, held).ratio)}
            rates[name] = front_wheel_rate(page, name, pose)
    except FieldsMissingError as error:
        missing.extend(error.missing)
    except CannotCloseError as error:
        missing.append(Missing(subject="damping at the front wheels", fields=[], why=str(error)))
    page.lacking.clear()
    try:
        rear = rear_end(page)
        if rear is None:
            missing.append(Missing(subject="damping at the rear axle", fields=list(page.lacking)))
        else:
            axle = rear.pose()
            for name in ("lr", "rr"):
                found = {part: bump_ratio(page, axle, name, part) for part in ("shock", "spring")}
                ratios[name] = {part: ratio for part, ratio in found.items() if ratio is not None}
    except CannotCloseError as error:
        missing.append(Missing(subject="damping at the rear axle", fields=[], why=str(error)))
    return ratios, rates


def _corner(
    page: Document,
    name: str,
    ratios: Mapping[str, float] | None,
    wheel_rate: float | None,
    asked: DampingQuery,
    missing: list[Missing],
) -> DampingCorner:
    root = f"setup.{END[name]}.{name}"
    corner = DampingCorner(static_tire_deflection_in=sink(page, root))
    spring = fitted_spring(page, f"{root}.spring")
    if spring is not None:
        corner.spring_rate_lb_per_in = rounded(spring.rate_lb_per_in)
        corner.second_stopped = UNSET if spring.stopped is None else spring.stopped
    ratio = (ratios or {}).get("shock", np.nan)
    corner.shock_motion_ratio = finite(ratio)
    rate = np.nan if wheel_rate is None else wheel_rate
    sprung, unsprung = _weights(page, name, root, missing)
    if name in CORNERS:
        corner.wheel_rate_lb_per_in = finite(rate)
        corner.sprung_lb = finite(sprung)
        corner.ride_hz, corner.hop_hz = _frequencies(page, name, root, rate, sprung, unsprung)
    damper = fitted_shock(page, f"{root}.shock", subject=f"{CORNER[name]} shock")
    if isinstance(damper, Missing):
        missing.append(damper)
    told = _shock(page, f"{root}.shock", None if isinstance(damper, Missing) else damper, asked)
    if told.cycle is not UNSET or told.at:
        _at_wheel(told, ratio, rate, sprung)
    if told != ShockAnswer():
        corner.shock = told
    return corner


def _weights(page: Document, name: str, root: str, missing: list[Missing]) -> tuple[float, float]:
    load, unsprung = page.get(f"measured.scales.{name}_lb"), page.get(f"{root}.unsprung_lb")
    if load is None or unsprung is None:
        fields = [f"measured.scales.{name}_lb"] * (load is None) + [f"{root}.unsprung_lb"] * (unsprung is None)
        lack(missing, "natural frequency and damping ratio", fields)
        return np.nan, np.nan if unsprung is None else unsprung
    return load - unsprung, unsprung


def _frequencies(
    page: Document, name: str, root: str, rate: float, sprung: float, unsprung: float
) -> tuple[float | UnsetType, float | UnsetType]:
    if not rate > 0:
        return UNSET, UNSET
    tire = page.get(f"{root}.tire.rate_lb_per_in")
    if tire is None:
        page.assume(f"{CORNER[name]}: ride frequency leaves the tire out; {root}.tire.rate_lb_per_in is not recorded")
        return finite(float(natural_frequency(rate_lb_per_in=rate, weight_lb=sprung))), UNSET
    both = series_rate(spring_lb_per_in=rate, tire_lb_per_in=tire)
    ride = natural_frequency(rate_lb_per_in=both, weight_lb=sprung)
    hop = natural_frequency(rate_lb_per_in=rate + tire, weight_lb=unsprung)
    return finite(float(ride)), finite(float(hop))


def _shock(page: Document, root: str, damper: ShockCurves | None, asked: DampingQuery) -> ShockAnswer:
    told = ShockAnswer()
    push = gas_push(page, root)
    if push is not None:
        told.gas_lb = rounded(push)
    for way in ("compression", "rebound"):
        stack = page.get(f"{root}.{way}.stack_in")
        if stack and len({diameter for diameter, _ in stack}) == 1:
            diameter, thickness = np.asarray(stack, float).T
            equivalent = equivalent_shim(thickness_in=thickness, diameter_in=diameter)
            setattr(told, f"{way}_stack_in", rounded(equivalent))
            page.assume("Shim stacks are compared by thickness alone: clamp and bleed are left out, it is no force")
        elif stack:
            page.assume("Shim stacks of several diameters are not compared: thickness alone does not tell them")
    if damper is None:
        return told
    speeds = damper.compression.x
    told.measured_from_in_per_s, told.measured_to_in_per_s = rounded(speeds[0]), rounded(speeds[-1])
    found = at_speed(damper, speed_in_per_s=SPEEDS_IN_PER_S)
    for place, speed in enumerate(SPEEDS_IN_PER_S):
        if np.isfinite(found.compression_lb[place]):
            told.at[f"{speed:g}"] = ShockAtSpeed(
                compression_lb=rounded(found.compression_lb[place]),
                rebound_lb=rounded(found.rebound_lb[place]),
                rebound_over_compression_ratio=finite(float(found.rebound_over_compression[place])),
                compression_slope_lb_s_per_in=rounded(found.compression_slope_lb_s_per_in[place]),
                rebound_slope_lb_s_per_in=rounded(found.rebound_slope_lb_s_per_in[place]),
            )
    loop = cycle(damper, stroke_in=asked.stroke_in, frequency_hz=asked.frequency_hz)
    if np.isfinite(loop.work_in_lb):
        told.cycle = ShockCycle(
            stroke_in=asked.stroke_in,
            frequency_hz=asked.frequency_hz,
            peak_in_per_s=rounded(loop.peak_in_per_s),
            work_in_lb=rounded(loop.work_in_lb),
            least_in_lb=rounded(loop.least_in_lb),
            most_in_lb=rounded(loop.most_in_lb),
            coefficient_lb_s_per_in=rounded(loop.coefficient_lb_s_per_in),
        )
    return told


def _at_wheel(told: ShockAnswer, ratio: float, rate: float, sprung: float) -> None:
    """Add what the shaft's slopes and its cycle come to at the wheel, where ratio, rate and weight are known."""
    if not np.isfinite(ratio):
        return
    known = rate > 0 and sprung > 0

    def zeta(at_wheel: float) -> float | UnsetType:
        if not known:
            return UNSET
        share = damping_ratio(coefficient_lb_s_per_in=at_wheel, rate_lb_per_in=rate, weight_lb=sprung)
        return rounded(share)

    for at in told.at.values():
        for way in ("compression", "rebound"):
            slope = getattr(at, f"{way}_slope_lb_s_per_in")
            if slope >= 0:
                at_wheel = rounded(wheel_damping(coefficient_lb_s_per_in=slope, motion_ratio=ratio))
                setattr(at, f"wheel_{way}_lb_s_per_in", at_wheel)
                setattr(at, f"{way}_damping_ratio", zeta(at_wheel))
    if told.cycle is not UNSET:
        coefficient = told.cycle.coefficient_lb_s_per_in
        at_wheel = rounded(wheel_damping(coefficient_lb_s_per_in=coefficient, motion_ratio=ratio))
        told.cycle.wheel_coefficient_lb_s_per_in = at_wheel
        told.cycle.damping_ratio = zeta(at_wheel)


def _rear_ride(
    page: Document, corners: Mapping[str, DampingCorner], ratios: Mapping[str, Mapping[str, float]]
) -> AxleRide | UnsetType:
    """Tell the axle's bump: both springs, both shocks, the whole rear's sprung weight."""
    rate = damping = sprung = tires = 0.0
    for name in ("lr", "rr"):
        corner, root = corners[name], f"setup.rear.{name}"
        spring, shock = corner.spring_rate_lb_per_in, corner.shock
        rate += np.nan if spring is UNSET else spring * ratios.get(name, {}).get("spring", np.nan) ** 2
        loop = UNSET if shock is UNSET else shock.cycle
        wheel = UNSET if loop is UNSET else loop.wheel_coefficient_lb_s_per_in
        damping += np.nan if wheel is UNSET else wheel
        sprung += _number(page, f"measured.scales.{name}_lb") - _number(page, f"{root}.unsprung_lb")
        tires += _number(page, f"{root}.tire.rate_lb_per_in")
    if np.isnan(rate) and np.isnan(damping):
        return UNSET
    page.assume("Rear in bump: the springs' rates by their motion ratios squared; the change of a ratio is left out")
    told = AxleRide(rate_lb_per_in=finite(rate), damping_lb_s_per_in=finite(damping), sprung_lb=finite(sprung))
    if rate > 0 and sprung > 0:
        on = rate if np.isnan(tires) else float(series_rate(spring_lb_per_in=rate, tire_lb_per_in=tires))
        told.hz = rounded(natural_frequency(rate_lb_per_in=on, weight_lb=sprung))
        if np.isfinite(damping):
            share = damping_ratio(coefficient_lb_s_per_in=damping, rate_lb_per_in=rate, weight_lb=sprung)
            told.damping_ratio = rounded(share)
    return told


def _number(page: Document, path: str) -> float:
    value = page.get(path)
    return np.nan if value is None else float(value)
