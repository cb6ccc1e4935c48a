"""What a job changes, in the words of the person who does it."""

import math
from collections.abc import Iterable, Iterator
from typing import Any, Final

from msgspec import UNSET

from studbook.history.canonical import Tree
from studbook.history.changes import FieldChange
from studbook.history.leaves import at, steps
from studbook.wire.fields import unit_of
from studbook.wire.work import PartNeeded
from studbook_service.translate.words import CORNER, inches, signed, turns
from studbook_service.work.items import WHEELS, Item
from studbook_service.work.touched import touched

ASSUMED_AXIS: Final = "A ball is taken to go along the line of the balls: its stud's own axis was not surveyed."

NONE: Final = "none"

SAID_ALREADY: Final = (
    *(f"{arm} {thing} " for arm in ("upper", "lower") for thing in ("stud", "housing")),
    *(f"{thing} " for thing in ("tire", "spring", "shock", "brakes", "drivetrain", "wheel")),
)
"""Names of things that stand in the job's title."""


def todo(item: Item, after: Tree) -> list[str]:
    """Say what a job changes, a line for each thing, then what it is set to.

    Args:
        item: the job.
        after: the document that it leads to.

    Example:
        >>> leaf = FieldChange(("setup", "brakes", "front_share_percent"), before=58, after=60)
        >>> todo(Item(id="brake-bias", kind="brake_bias", where="", places=frozenset(), leaves=(leaf,)), {})
        ['front share 58 -> 60 percent']
    """
    lines = [line for change in item.leaves if (line := _line(item, change, after))]
    if item.id.startswith("cuts-") and item.kind != "tire_cut":
        lines.append("a cut tire stays cut: fit another")
    return [*lines, *_set_to(item, after)]


def on_already(parts: Iterable[PartNeeded]) -> list[str]:
    """Say of parts that the book has on the car already that they are not put in again, but looked at.

    Example:
        >>> on_already([PartNeeded(kind="stud", name="S-041", tag="s-041", fitted=True)])
        ['s-041 is on already, says the book of parts: see that it is, then tick this off; what it brings stays to do']
    """
    return [
        f"{part.tag} is on already, says the book of parts: see that it is, then tick this off;"
        " what it brings stays to do"
        for part in parts
        if part.fitted
    ]


def ball_goes(tree: Tree, *, wheel: str, arm: str, longer_in: float) -> str | None:
    """Say which way a longer or shorter stud moves its ball, seen from the spindle; None without hard points.

    The ball moves along the stud's axis, from seat to ball. Without a measured one that is the line of the balls, away
    from the spindle where the arm lies outside its bosses, and the other way round where it lies between them.

    Example:
        >>> points = {"upper_ball_in": [0, -24, 18], "lower_ball_in": [0, -26, 7]}
        >>> ball_goes({"survey": {"front": {"rf": {"points": points}}}}, wheel="rf", arm="upper", longer_in=0.5)
        'ball goes UP 0.49 in relative to the spindle'
    """
    axis = _axis(at(tree, ("survey", "front", wheel)) or {}, arm)
    if axis is None or not any(axis):
        return None
    up = longer_in * axis[2] / math.hypot(*axis)
    return f"ball goes {'UP' if up > 0 else 'DOWN'} {abs(up):.2f} in relative to the spindle"


def axis_assumed(item: Item, tree: Tree) -> bool:
    """Say whether what is told of a ball rests on the line of the balls."""
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
    what = touched(change.path)
    grown = _grown(change)
    corner = CORNER.get(what.where, "")
    if grown is not None:
        match what.leaf:
            case "spring.perch.thread_showing_in":
                return _perch(change, grown, after)
            case "tie_rod.length_in":
                return _rod(change, grown, after)
            case "upper_shims.front_in" | "upper_shims.rear_in":
                return _shim(change, grown, after)
            case "upper_stud.length_in" | "lower_stud.length_in":
                goes = ball_goes(after, wheel=what.where, arm=what.leaf[:5], longer_in=grown)
                return f"{_plain(change)} ({signed(grown, 2)} in)" + (f"; {goes}" if goes else "")
    told = _plain(change)
    if told and corner and item.where != corner:
        return f"{corner} {told}"
    return f"{what.where.replace('_', ' ')}: {told}" if told and what.thing == "ballast" else told


def _plain(change: FieldChange) -> str:
    """Say a field's old and new value."""
    unit = unit_of(change.path)
    leaf = touched(change.path).leaf.removesuffix(f"_{unit}")
    name = leaf.removeprefix("moved.").replace(".", " ").replace("_", " ")
    for repeated in SAID_ALREADY:
        name = name.removeprefix(repeated)
    spoken = unit.replace("_per_", "/").replace("in_lb", "in-lb").replace("_", " ")
    spoken = "" if spoken in {"count", "ratio"} else spoken
    old, new = _said(change.before), _said(change.after)
    if not old or not new:
        return f"{name} as on the sheet"
    if new == NONE:
        old, new, spoken = f"{old} {spoken}".strip(), NONE, ""
    return f"{name} {old} -> {new} {spoken}".strip()


def _said(value: Any) -> str:
    """Say a value; nothing for an array that is no point or direction."""
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
    if any(isinstance(side, bool) or not isinstance(side, int | float) for side in sides):
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
    """Say what a job is set to, where the document has it."""
    for wheel in (each for each in WHEELS if each in item.places):
        corner = at(after, ("setup", "front" if wheel in {"lf", "rf"} else "rear", wheel)) or {}
        target = corner.get("target") or {}
        match item.kind:
            case "upper_stud" | "lower_stud" | "preload" | "housing_screwed" | "housing_pressed":
                arm = "upper" if "upper" in item.id else "lower"
                stud = corner.get(f"{arm}_stud") or {}
                yield from _aims(stud, {"preload_target_in_lb": "preload", "nut_torque_ft_lb": "nut"})
                if "lock" in stud:
                    yield f"locked by {stud['lock']}"
            case "camber_gauge":
                yield from _aims(target, {"camber_deg": "camber", "caster_deg": "caster"})
            case "toe_check":
                yield from (f"{CORNER[wheel]} {aim}" for aim in _aims(target, {"toe_deg": "toe"}))
            case "wheel_torque":
                yield from _aims(corner.get("wheel") or {}, {"nut_torque_ft_lb": "wheel nuts"})


def _aims(group: Tree, names: dict[str, str]) -> Iterator[str]:
    units = {"preload_target_in_lb": "in-lb", "nut_torque_ft_lb": "ft-lb"}
    for leaf, name in names.items():
        if leaf in group:
            yield f"{name} to {group[leaf]:g} {units.get(leaf, 'deg')}"
