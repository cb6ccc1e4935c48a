"""`studbook front REF`."""

import itertools
from collections.abc import Callable, Sequence
from typing import Final

from msgspec import UNSET, UnsetType

from studbook.cli.connection import open_book_of
from studbook.cli.number_format import fixed, sideways, toe, toe_fraction
from studbook.cli.options import Json, ReadRef
from studbook.cli.printing import page_end, print_answer, side_by_side, table, wrapped
from studbook.wire.answers import (
    AxisSpread,
    FrontAnswer,
    FrontAxle,
    FrontCornerAnswer,
    FrontState,
    Limit,
    RollCenter,
)


def front(ref: ReadRef, /, *, json: Json = False) -> None:
    """Show how a revision's front end stands and moves."""
    with open_book_of(ref) as (book, [there]):
        answer = book.front(there)
    print_answer(answer, front_page, json=json)


SIDES: Final = {"lf": "LF", "rf": "RF"}


def front_page(answer: FrontAnswer) -> list[str]:
    """Lay an answer out: both corners side by side, roll center, curves, and how far to trust it."""
    corners = {name: each for name in SIDES if isinstance(each := getattr(answer, name), FrontCornerAnswer)}
    page: list[str] = []
    if corners:
        page += side_by_side("FRONT", {SIDES[name]: corner.now for name, corner in corners.items()}, CORNER)
    page += _axle(answer.axle)
    if corners:
        page += ["", *_curves(corners)]
    page += _turns(answer)
    page += _spreads(corners)
    for corner in corners.values():
        page += axis_spreads(corner.axis_spread) + limit_lines(corner.limits)
        page += wrapped(corner.implied.text) if corner.implied is not UNSET else []
    return page + page_end(answer.missing, answer.assumptions, answer.cautions)


def axis_spreads(spreads: Sequence[AxisSpread]) -> list[str]:
    """Describe what a stud axis that was not measured leaves open."""
    page = []
    for (corner, stud), of_one in itertools.groupby(spreads, key=lambda each: (each.corner, each.stud)):
        rows = [
            [f"  {_outcome(each.outcome, each.unit)}", fixed(each.least, 3), fixed(each.most, 3)] for each in of_one
        ]
        title = f"{corner.upper()} {stud} stud axis not measured: 5 deg of lean gives"
        page += ["", *table([title, "from", "to"], rows, right=frozenset({1, 2}))]
    return page


def limit_lines(found: Sequence[Limit]) -> list[str]:
    """Describe where a linkage runs out."""
    return [
        f"  {each.corner.upper()} {each.direction} ends at {each.travel_in:.2f} in: the {each.ran_out} runs out"
        for each in found
    ]


def roll_center_text(center: RollCenter) -> str:
    """Describe where a roll center is, or why there is none."""
    if center.none_because is not UNSET:
        return f"none: {center.none_because}"
    return f"{fixed(center.height_in, 2)} in up, {sideways(center.y_in)} of the datum line"


def _axle(axle: FrontAxle | UnsetType) -> list[str]:
    if not isinstance(axle, FrontAxle):
        return []
    center, force = axle.roll_center, axle.force_roll_center
    return [
        "",
        *wrapped(f"Roll center, by geometry: {roll_center_text(center)}", indent="  "),
        *wrapped(
            f"Roll center, by side force: {fixed(force.height_in, 2)} in up at {sideways(force.at_y_in)};"
            f" {fixed(force.left_share_percent, 0)} % of the side force left, {force.shares_from}",
            indent="  ",
        ),
    ]


def _curves(corners: dict[str, FrontCornerAnswer]) -> list[str]:
    """Give camber and toe at whole inches of travel."""
    figures = {
        name: dict(zip(each.curve.travel_in, zip(each.curve.camber_deg, each.curve.toe_deg, strict=True), strict=True))
        for name, each in corners.items()
    }
    travels = sorted({travel for each in figures.values() for travel in each if travel == round(travel)})
    header = ["wheel travel in", *(f"{SIDES[name]} {what}" for name in figures for what in ("camber deg", "toe deg"))]
    rows = [
        [
            f"{travel:+g}" if travel else "0",
            *(fixed(value, 2) for each in figures.values() for value in each.get(travel, (UNSET, UNSET))),
        ]
        for travel in travels
    ]
    return table(header, rows, right=frozenset(range(len(header))))


def _turns(answer: FrontAnswer) -> list[str]:
    if not answer.turn_toe:
        return []
    rows = [
        [fixed(each.turn_deg, 0), fixed(each.toe_out_deg, 2), fixed(each.toe_out_in, 2)] for each in answer.turn_toe
    ]
    return ["", *table(["steered deg", "toe out deg", "toe out in"], rows, right=frozenset({0, 1, 2}))]


def _spreads(corners: dict[str, FrontCornerAnswer]) -> list[str]:
    """Describe what a point surveyed 1/16 in off would do, the worst point of each corner."""
    rows = [
        [f"  {_outcome(each.outcome, each.unit)}", SIDES[name], fixed(each.plus_or_minus, 3), each.worst]
        for name, corner in corners.items()
        for each in corner.spread
    ]
    if not rows:
        return []
    return ["", *table(["Survey off by 1/16 in", "", "+ or -", "worst point"], rows, right=frozenset({2}))]


def _outcome(outcome: str, unit: str) -> str:
    """Write an outcome's name with its unit as people do: `camber_deg` as `camber deg`."""
    return f"{outcome.removesuffix(f'_{unit}')} {unit.replace('_per_', '/')}".replace("_", " ")


CORNER: Final[dict[str, Callable[[FrontState], str]]] = {
    "camber deg": lambda state: fixed(state.camber_deg, 2),
    "caster deg": lambda state: fixed(state.caster_deg, 2),
    "toe deg": lambda state: fixed(state.toe_deg, 2),
    "toe in at 26 in": lambda state: toe(state.toe_in),
    "  to 1/32": lambda state: toe_fraction(state.toe_in),
    "camber gain deg/in": lambda state: fixed(state.camber_gain_deg_per_in, 2),
    "bump steer deg/in": lambda state: fixed(state.bump_steer_deg_per_in, 3),
    "bump steer in/in": lambda state: fixed(state.bump_steer_in_per_in, 3),
    "wheel up in": lambda state: fixed(state.travel_in, 2),
    "kingpin deg": lambda state: fixed(state.kingpin_deg, 2),
    "scrub in": lambda state: fixed(state.scrub_in, 2),
    "trail in": lambda state: fixed(state.trail_in, 2),
    "swing arm in": lambda state: fixed(state.swing_arm_in, 1),
    "motion ratio": lambda state: fixed(state.motion_ratio, 3),
    "wheel rate lb/in": lambda state: fixed(state.wheel_rate_lb_per_in, 0),
    "anti-dive percent": lambda state: fixed(state.anti_dive_percent, 0),
}

AXLE: Final[dict[str, Callable[[FrontAxle], str]]] = {
    "roll center up in": lambda axle: fixed(axle.roll_center.height_in, 2),
    "roll center across in": lambda axle: sideways(axle.roll_center.y_in),
    "  by side force, up in": lambda axle: fixed(axle.force_roll_center.height_in, 2),
}
