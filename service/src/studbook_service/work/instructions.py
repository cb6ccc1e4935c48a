"""What the card tells a person to do for each job."""

import math
from collections.abc import Iterable, Iterator
from typing import Any, Final

from msgspec import UNSET

from studbook.history.canonical import Tree
from studbook.history.changes import FieldChange
from studbook.history.leaves import at, is_number, steps
from studbook.wire.fields import unit_of
from studbook.wire.work import PartNeeded
from studbook_service.translate.words import CORNER, inches, signed, turns
from studbook_service.work.car_fields import car_field
from studbook_service.work.items import WHEELS, Item

ASSUMED_AXIS: Final = "A ball is assumed to move along the line of the balls: its stud's own axis was not surveyed."

NONE: Final = "none"

IN_TITLE: Final = (
    *(f"{arm} {component} " for arm in ("upper", "lower") for component in ("stud", "housing")),
    *(f"{component} " for component in ("tire", "spring", "shock", "brakes", "drivetrain", "wheel")),
)
"""Beginnings of field names that the job's title has already."""


def instructions(item: Item, after: Tree) -> list[str]:
    """Write what a job changes, a line for each field, then what it is set to, by the document it leads to.

    Example:
        >>> leaf = FieldChange(("setup", "brakes", "front_share_percent"), before=58, after=60)
        >>> instructions(Item(id="brake-bias", kind="brake_bias", where="", places=frozenset(), leaves=(leaf,)), {})
        ['front share 58 -> 60 percent']
    """
    lines = [line for change in item.leaves if (line := _line(item, change, after))]
    if item.id.startswith("cuts-") and item.kind != "tire_cut":
        lines.append("a cut tire stays cut: fit another")
    return [*lines, *_set_to(item, after)]


def already_fitted(parts: Iterable[PartNeeded]) -> list[str]:
    """Write for each part that is on the car already, by the book, that it is checked.

    Example:
        >>> already_fitted([PartNeeded(kind="stud", name="S-041", tag="s-041", fitted=True)])
        ['s-041 is on the car already by the book of parts: check that it is, then tick this off; its re-checks remain']
    """
    return [
        f"{part.tag} is on the car already by the book of parts: check that it is, then tick this off;"
        " its re-checks remain"
        for part in parts
        if part.fitted
    ]


def ball_movement(tree: Tree, *, wheel: str, arm: str, longer_in: float) -> str | None:
    """Say which way a longer or shorter stud moves its ball, seen from the spindle; None without hard points.

    The ball moves along the stud's axis, from seat to ball. Without a measured one that is the line of the balls, away
    from the spindle where the arm lies outside its bosses, and the other way round where it lies between them.

    Example:
        >>> points = {"upper_ball_in": [0, -24, 18], "lower_ball_in": [0, -26, 7]}
        >>> ball_movement({"survey": {"front": {"rf": {"points": points}}}}, wheel="rf", arm="upper", longer_in=0.5)
        'ball goes UP 0.49 in relative to the spindle'
    """
    axis = _axis(at(tree, ("survey", "front", wheel)) or {}, arm)
    if axis is None or not any(axis):
        return None
    up = longer_in * axis[2] / math.hypot(*axis)
    return f"ball goes {'UP' if up > 0 else 'DOWN'} {abs(up):.2f} in relative to the spindle"


def axis_assumed(item: Item, tree: Tree) -> bool:
    """Say whether a ball's movement is computed from the line of the balls."""
    if item.kind not in {"upper_stud", "lower_stud"}:
        return False
    stud = (*steps("survey.front"), *sorted(item.places), item.kind)
    return all(at(tree, (*stud, leaf)) is None for leaf in ("axis", "axis_points_in"))


def _axis(survey: Tree, arm: str) -> Any:
    stud = survey.get(f"{arm}_stud") or {}
    if "axis" in stud:
        return stud["axis"]
    if "axis_points_in" in stud:
        seat, ball = stud["axis_points_in"]
        return [end - start for start, end in zip(seat, ball, strict=True)]
    lower, upper = (at(survey, ("points", f"{each}_ball_in")) for each in ("lower", "upper"))
    if lower is None or upper is None:
        return None
    sign = (1 if arm == "upper" else -1) * (-1 if stud.get("ball_is") == "inside" else 1)
    return [sign * (end - start) for start, end in zip(lower, upper, strict=True)]


def _line(item: Item, change: FieldChange, after: Tree) -> str:
    field = car_field(change.path)
    grown = _grown(change)
    corner = CORNER.get(field.where, "")
    if grown is not None:
        match field.leaf:
            case "spring.perch.thread_showing_in":
                return _perch(change, grown, after)
            case "tie_rod.length_in":
                return _rod(change, grown, after)
            case "upper_shims.front_in" | "upper_shims.rear_in":
                return _shim(change, grown, after)
            case "upper_stud.length_in" | "lower_stud.length_in":
                goes = ball_movement(after, wheel=field.where, arm=field.leaf[:5], longer_in=grown)
                return f"{_plain(change)} ({signed(grown, 2)} in)" + (f"; {goes}" if goes else "")
    plain = _plain(change)
    if plain and corner and item.where != corner:
        return f"{corner} {plain}"
    return f"{field.where.replace('_', ' ')}: {plain}" if plain and field.component == "ballast" else plain


def _plain(change: FieldChange) -> str:
    """Write a field's old and new value."""
    unit = unit_of(change.path)
    leaf = car_field(change.path).leaf.removesuffix(f"_{unit}")
    name = leaf.removeprefix("moved.").replace(".", " ").replace("_", " ")
    for title in IN_TITLE:
        name = name.removeprefix(title)
    unit_text = unit.replace("_per_", "/").replace("in_lb", "in-lb").replace("_", " ")
    unit_text = "" if unit_text in {"count", "ratio"} else unit_text
    old, new = _value(change.before), _value(change.after)
    if not old or not new:
        return f"{name} as on the sheet"
    if new == NONE:
        old, new, unit_text = f"{old} {unit_text}".strip(), NONE, ""
    return f"{name} {old} -> {new} {unit_text}".strip()


def _value(value: Any) -> str:
    """Write a value; nothing for an array that is no point or direction."""
    if value is UNSET:
        return NONE
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        numbers = len(value) <= 3 and all(isinstance(each, int | float) for each in value)
        return f"({', '.join(f'{each:g}' for each in value)})" if numbers else ""
    return f"{value:g}" if isinstance(value, int | float) else str(value)


def _grown(change: FieldChange) -> float | None:
    """Give by how much a number grew; absent counts as none of it."""
    sides = [0.0 if side is UNSET else side for side in (change.before, change.after)]
    if any(not is_number(side) for side in sides):
        return None
    return float(sides[1] - sides[0])


def _perch(change: FieldChange, grown: float, after: Tree) -> str:
    way = "in (tighten, raises)" if grown > 0 else "out (loosen, lowers)"
    pitch = at(after, (*change.path[:-1], "in_per_turn"))
    count = f"{abs(grown):.3f} in along the spring"
    if pitch:
        turned = f"{abs(grown) / pitch:.2f}".rstrip("0").rstrip(".")
        count = f"{turned} turn{'' if turned == '1' else 's'}"
    shows = "" if change.after is UNSET else f", {change.after:g} in of thread showing"
    return f"{count} {way}{shows}"


def _rod(change: FieldChange, grown: float, after: Tree) -> str:
    way = "longer" if grown > 0 else "shorter"
    per_turn = at(after, (*change.path[:-1], "moves_per_turn_in"))
    count = f", {turns(grown / per_turn)}" if per_turn else ""
    return f"{abs(grown):.3f} in {way}{count}"


def _shim(change: FieldChange, grown: float, after: Tree) -> str:
    verb = "add" if grown > 0 else "take out"
    out = at(after, (*change.path[:-1], "adding_moves_pivot"))
    moves = ""
    if out in {"inboard", "outboard"}:
        moves = f" (pivot {out if grown > 0 else 'inboard' if out == 'outboard' else 'outboard'})"
    return f"{change.path[-1].removesuffix('_in')} pivot: {verb} {inches(abs(grown))} of shim{moves}"


def _set_to(item: Item, after: Tree) -> Iterator[str]:
    """Write what a job is set to, where the document has it."""
    for wheel in (each for each in WHEELS if each in item.places):
        corner = at(after, ("setup", "front" if wheel in {"lf", "rf"} else "rear", wheel)) or {}
        target = corner.get("target") or {}
        match item.kind:
            case "upper_stud" | "lower_stud" | "preload" | "housing_screwed" | "housing_pressed":
                arm = "upper" if "upper" in item.id else "lower"
                stud = corner.get(f"{arm}_stud") or {}
                yield from _targets(stud, {"preload_target_in_lb": "preload", "nut_torque_ft_lb": "nut"})
                if "lock" in stud:
                    yield f"locked by {stud['lock']}"
            case "camber_gauge":
                yield from _targets(target, {"camber_deg": "camber", "caster_deg": "caster"})
            case "toe_check":
                yield from (f"{CORNER[wheel]} {aim}" for aim in _targets(target, {"toe_deg": "toe"}))
            case "wheel_torque":
                yield from _targets(corner.get("wheel") or {}, {"nut_torque_ft_lb": "lug nuts"})


def _targets(group: Tree, names: dict[str, str]) -> Iterator[str]:
    units = {"preload_target_in_lb": "in-lb", "nut_torque_ft_lb": "ft-lb"}
    for leaf, name in names.items():
        if leaf in group:
            yield f"{name} to {group[leaf]:g} {units.get(leaf, 'deg')}"
