"""How a front end stands and moves, on one page."""

import itertools
from collections.abc import Sequence
from typing import Final

from msgspec import UNSET, UnsetType

from studbook.cli.environment import bold
from studbook.cli.figures import CORNER
from studbook.cli.numbers import fixed, sideways
from studbook.cli.printing import points, table, wrapped
from studbook.wire.answers import (
    AxisSpread,
    FrontAnswer,
    FrontAxle,
    FrontCornerAnswer,
    Limit,
    Missing,
)

SIDES: Final = {"lf": "LF", "rf": "RF"}


def front_page(answer: FrontAnswer) -> list[str]:
    """Lay an answer out: both corners side by side, roll center, curves, and how far to trust it."""
    corners = {name: each for name in SIDES if isinstance(each := getattr(answer, name), FrontCornerAnswer)}
    page: list[str] = []
    if corners:
        lines = table(
            ["FRONT", *(SIDES[name] for name in corners)],
            [[name, *(cell(corner.now) for corner in corners.values())] for name, cell in CORNER.items()],
            right=frozenset({1, 2}),
        )
        page += [bold(lines[0]), *lines[1:]]
    page += _axle(answer.axle)
    if corners:
        page += ["", *_curves(corners)]
    page += _turns(answer)
    page += _spreads(corners)
    for corner in corners.values():
        page += axis_spreads(corner.axis_spread) + limits(corner.limits)
        page += wrapped(corner.implied.text) if corner.implied is not UNSET else []
    return page + closing(answer.missing, answer.assumptions, answer.cautions)


def axis_spreads(spreads: Sequence[AxisSpread]) -> list[str]:
    """Say what a stud axis that was not measured leaves open."""
    page = []
    for (corner, stud), of_one in itertools.groupby(spreads, key=lambda each: (each.corner, each.stud)):
        rows = [[f"  {_said(each.outcome, each.unit)}", _figure(each.least), _figure(each.most)] for each in of_one]
        title = f"{corner.upper()} {stud} stud axis not measured: 5 deg of lean gives"
        page += ["", *table([title, "from", "to"], rows, right=frozenset({1, 2}))]
    return page


def limits(found: Sequence[Limit]) -> list[str]:
    """Say where a linkage runs out."""
    return [
        f"  {each.corner.upper()} {each.direction} ends at {each.travel_in:.2f} in: the {each.ran_out} runs out"
        for each in found
    ]


def closing(missing: Sequence[Missing], assumptions: Sequence[str], cautions: Sequence[str]) -> list[str]:
    """End a page: what could not be said, what was taken for granted, what to take care of."""
    told: set[str] = set()
    lacks = [
        f"{each.subject.replace('_', ' ')}: {each.why or 'needs ' + _needs(each.fields, told)}" for each in missing
    ]
    return points("Not computed", lacks) + points("Taken for granted", assumptions) + points("Take care", cautions)


def _needs(fields: Sequence[str], told: set[str]) -> str:
    """Name the fields that something lacks, each once on a page, by the groups that they are in."""
    new = [each for each in fields if each not in told]
    above = ["what is named above"] if len(new) < len(fields) else []
    told.update(new)
    groups: dict[str, list[str]] = {}
    for each in new:
        group, _, name = each.rpartition(".")
        groups.setdefault(group, []).append(name)
    said = [f"{group}: {', '.join(names)}" if names[1:] else f"{group}.{names[0]}" for group, names in groups.items()]
    return "; ".join(above + said)


def _axle(axle: FrontAxle | UnsetType) -> list[str]:
    if not isinstance(axle, FrontAxle):
        return []
    center, force = axle.roll_center, axle.force_roll_center
    where = (
        f"{fixed(center.height_in, 2)} in up, {sideways(center.y_in)} of the datum line"
        if center.none_because is UNSET
        else f"none: {center.none_because}"
    )
    return [
        "",
        *wrapped(f"Roll center, by geometry: {where}", indent="  "),
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
    """Say what a point surveyed 1/16 in off would do, the worst point of each corner."""
    rows = [
        [f"  {_said(each.outcome, each.unit)}", SIDES[name], _figure(each.plus_or_minus), each.worst]
        for name, corner in corners.items()
        for each in corner.spread
    ]
    if not rows:
        return []
    return ["", *table(["Survey off by 1/16 in", "", "+ or -", "worst point"], rows, right=frozenset({2}))]


def _said(outcome: str, unit: str) -> str:
    """Write an outcome's name with its unit as people do: `camber_deg` as `camber deg`."""
    return f"{outcome.removesuffix(f'_{unit}')} {unit.replace('_per_', '/')}".replace("_", " ")


def _figure(value: float) -> str:
    return fixed(value, 3)
