"""The front end of one revision as an answer: its alignment, how it moves and steers, and how far to trust that."""

from collections.abc import Mapping
from functools import partial
from typing import Literal

import numpy as np
from msgspec import UNSET, UnsetType

from studbook.history.canonical import Tree
from studbook.wire.answers import (
    AxisSpread,
    FrontAnswer,
    FrontCornerAnswer,
    Missing,
    SheetFit,
    Spread,
    SteerCurve,
    Travels,
    TurnToe,
)
from studbook_service.engine import VERSION
from studbook_service.engine.bump_sheet import fit_tie_inner
from studbook_service.engine.corner import FrontLinkage
from studbook_service.engine.linkage import solve_travel
from studbook_service.engine.spread import COORDINATES, lean_spread, survey_spread
from studbook_service.engine.steering import rack
from studbook_service.engine.vectors import Array
from studbook_service.engine.wheel import WheelAlignment, toe_in, wheel
from studbook_service.translate import cautions
from studbook_service.translate.corner import axis_measured
from studbook_service.translate.document import mount_paths
from studbook_service.translate.front_end import FrontEnd, front_end
from studbook_service.translate.states import (
    TOE_BASE_IN,
    columns,
    front_axle,
    front_states,
    heave_curve,
    limits,
    pose_readings,
    rounded,
    steps_between,
    travel_curve,
    wheelbase,
)
from studbook_service.translate.steering import HALF_TRAVEL_IN, link_lacking, link_shift
from studbook_service.translate.words import CORNER

STEER_POINTS = 21
TURNS_DEG = (-20.0, -10.0, 10.0, 20.0)
OUTCOMES = {
    "camber_deg": "deg",
    "caster_deg": "deg",
    "camber_gain_deg_per_in": "deg_per_in",
    "bump_steer_deg_per_in": "deg_per_in",
}


def front_answer(tree: Tree, *, origins: Mapping[str, Tree], travels: Travels) -> FrontAnswer:
    """Compute everything about a document's front end.

    `travels` is which wheel travels the curves cover, from where the wheels stand.

    Raises:
        FieldsUnfit, FieldsMissing, CannotClose: nothing can be computed, and why.
    """
    front = front_end(tree, origins=origins)
    pose = front.closed_pose()
    here, heaves = pose_readings(pose, shocks=front.shocks()), heave_steps(travels)
    sweep = solve_travel(front.corner.expand(1), travel_in=front.travel[:, None] + heaves)
    swept = wheel(sweep)
    now, axle = front_states(front, here), front_axle(front, here)
    spreads, leans = _spreads(front), axis_spreads(front)
    ends = limits(front, pose, sweep, low_in=travels.low_in, high_in=travels.high_in)
    corners = {}
    for place, name in enumerate(front.names):
        corners[name] = FrontCornerAnswer(
            now=now[name],
            curve=travel_curve(heaves, swept, sweep.closed, (place,)),
            spread=spreads[name],
            axis_spread=[each for each in leans if each.corner == CORNER[name]],
            limits=[each for each in ends if each.corner == CORNER[name]],
            implied=front.implied.get(name, UNSET),
            sheet_fit=_sheet_fit(front, name, here.at),
        )
    answer = FrontAnswer(
        engine=VERSION,
        assumptions=front.reader.assumed,
        missing=front.missing + lacking(front),
        cautions=list(cautions.FRONT),
        lf=corners.get("lf", UNSET),
        rf=corners.get("rf", UNSET),
    )
    if axle is not None:
        answer.axle, answer.heave = axle, heave_curve(heaves, swept)
        _steer(front, answer)
    return answer


def heave_steps(travels: Travels) -> Array:
    """List the travels of a curve, always with 0 among them."""
    return steps_between(travels.low_in, travels.high_in, travels.step_in)


def lacking(front: FrontEnd) -> list[Missing]:
    """List the subjects that these corners lack fields for."""
    reader, wanted = front.reader, dict[str, list[str]]()
    for name in front.names:
        corner, mounts = CORNER[name], f"survey.front.{name}.spring"
        spring = f"setup.front.{name}.spring"
        held = mount_paths(mounts)
        wanted[f"{corner} spring held, motion ratio"] = held
        lengths = (f"{spring}.rate_lb_per_in", f"{spring}.free_length_in", f"{spring}.installed_length_in")
        wanted[f"{corner} wheel rate"] = [*held, *lengths]
    side = {"lf": "left", "rf": "right"}
    bases = [f"survey.wheelbase.{side[name]}_in" for name in front.names if wheelbase(reader, side[name]) is None]
    wanted["anti-dive"] = ["setup.brakes.front_share_percent", "setup.cg.height_in", *bases]
    if len(front.names) == 2:
        wanted["steer curves"] = ["survey.front.steering.kind"]
    return reader.missing(wanted)


def axis_spreads(front: FrontEnd) -> list[AxisSpread]:
    """Give the range that an unmeasured axis leaves open, for each stud that is not the one surveyed."""
    found = []
    arms: tuple[Literal["upper", "lower"], ...] = ("upper", "lower")
    for arm in arms:
        extra = np.broadcast_to(getattr(front.corner.moves, f"{arm}_stud_in"), (len(front.names),))
        open_to = [
            place
            for place, name in enumerate(front.names)
            if abs(extra[place]) > 1e-9 and not axis_measured(front.reader, name, arm)
        ]
        if not open_to:
            continue
        ranges = lean_spread(front.corner, joint=arm, outcomes=partial(_outcomes, front))
        for place in open_to:
            name = front.names[place]
            front.reader.assume(
                f"{CORNER[name]} {arm} stud: its axis was not measured and is taken along the line of the balls;"
                " see the spread for 5 deg of lean"
            )
            found += [
                AxisSpread(
                    corner=CORNER[name],
                    stud=arm,
                    outcome=outcome,
                    least=rounded(ranges[outcome][0][place]),
                    most=rounded(ranges[outcome][1][place]),
                    unit=unit,
                )
                for outcome, unit in OUTCOMES.items()
            ]
    return found


def _outcomes(front: FrontEnd, corner: FrontLinkage) -> dict[str, Array]:
    """Give what a spread is computed for, where the front stands, of corners with a leading axis of trials."""
    at = wheel(solve_travel(corner, travel_in=front.travel))
    return {name: getattr(at, name) for name in OUTCOMES}


def _spreads(front: FrontEnd) -> dict[str, list[Spread]]:
    largest = survey_spread(front.corner, outcomes=partial(_outcomes, front))
    return {
        name: [
            Spread(
                outcome=outcome,
                plus_or_minus=abs(rounded(largest[outcome].change[place])),
                unit=unit,
                worst=COORDINATES[int(largest[outcome].coordinate[place])],
            )
            for outcome, unit in OUTCOMES.items()
        ]
        for place, name in enumerate(front.names)
    }


def _sheet_fit(front: FrontEnd, name: str, at: WheelAlignment) -> SheetFit | UnsetType:
    """Fit the inner end's height to a bump sheet whose dial was zeroed at the travel nearest ride height."""
    sheet = front.reader.get(f"measured.front.{name}.bump_sheet")
    if not sheet or not sheet.get("travel_toe_camber") or not sheet.get("plate_length_in"):
        return UNSET
    rows = np.array(sheet["travel_toe_camber"], dtype=float)
    read = np.degrees(np.arctan2(rows[:, 1], sheet["plate_length_in"]))
    zero = int(np.argmin(np.abs(rows[:, 0])))
    stands_at = float(at.toe_deg[front.names.index(name)])
    fit = fit_tie_inner(
        front.each[name],
        travel_in=front.travel_of(name) + rows[:, 0],
        toe_deg=stands_at + read - read[zero],
    )
    if not bool(fit.converged):
        front.reader.assume(f"{CORNER[name]}: no height of the inner tie-rod end explains the bump sheet")
        return UNSET
    return SheetFit(
        tie_inner_up_in=rounded(fit.shift_in),
        residual_before_deg=rounded(fit.rms_before_deg),
        residual_after_deg=rounded(fit.rms_after_deg),
    )


def _steer(front: FrontEnd, answer: FrontAnswer) -> None:
    """Add the steer curve and the toe change per turn, where the steering is known and modeled."""
    kind = front.reader.get("survey.front.steering.kind")
    if kind is None:
        return
    if kind == "drag_link":
        front.reader.assume("steer curves: a drag link is not modeled")
        return
    half = front.reader.get("setup.front.steering.half_travel_in") or HALF_TRAVEL_IN
    shift = np.linspace(-half, half, STEER_POINTS)
    moved = rack(shift_in=shift)[:, None, :] if kind == "rack" else link_shift(front, shift)
    if moved is None:
        answer.missing.append(Missing(subject="steer curves", fields=link_lacking(front.reader)))
        return
    pose = solve_travel(front.corner.expand(1), travel_in=front.travel[:, None], steer_in=moved)
    at, closed = wheel(pose), pose.closed.all(axis=0)
    left, right = (at.take((place,)) for place in (0, 1))
    ahead = STEER_POINTS // 2
    left_turn, right_turn = left.toe_deg[ahead] - left.toe_deg, right.toe_deg - right.toe_deg[ahead]
    mean = (left_turn + right_turn) / 2
    # Inner less outer either way: in a right turn the right wheel is the inner one, and both turns are below 0.
    toe_out = left_turn - right_turn
    answer.steer = SteerCurve(
        rack_in=columns(shift[closed]),
        left_turn_deg=columns(left_turn[closed]),
        right_turn_deg=columns(right_turn[closed]),
        left_camber_deg=columns(left.camber_deg[closed]),
        right_camber_deg=columns(right.camber_deg[closed]),
        ackermann_deg=columns(toe_out[closed]),
    )
    order = np.argsort(mean[closed])
    across, out = mean[closed][order], toe_out[closed][order]
    for turn in TURNS_DEG:
        if across.size and across[0] <= turn <= across[-1]:
            deg = rounded(np.interp(turn, across, out))
            inches = rounded(toe_in(toe_deg=deg, diameter_in=TOE_BASE_IN))
            answer.turn_toe.append(TurnToe(turn_deg=turn, toe_out_deg=deg, toe_out_in=inches))
