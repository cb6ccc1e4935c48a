"""From what differs between two documents to the jobs that change it, corner by corner."""

import dataclasses
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from msgspec import UNSET

from studbook.history.canonical import Tree
from studbook.history.changes import FieldChange, diff, same
from studbook.history.leaves import at, steps
from studbook.wire.fields import field as schema_field
from studbook_service.translate.words import CORNER
from studbook_service.work.car_fields import FOLLOWS, FROM_NOTHING, RESET, CarField, car_field
from studbook_service.work.items import FRONT, WHEELS, Item

ByComponent = dict[tuple[str, str], list[FieldChange]]
Sides = tuple[Tree, Tree]

NOTHING: Final[tuple[str, ...]] = ()
HEIGHT: Final[tuple[str, ...]] = ("heights", "scales")

WITH: Final[Mapping[str, tuple[str, ...]]] = {
    "upper_preload": ("upper_stud", "upper_housing"),
    "lower_preload": ("lower_stud", "lower_housing"),
    "upper_stud": ("upper_housing",),
    "lower_stud": ("lower_housing",),
    "gas": ("revalve", "shock"),
    "revalve": ("shock",),
    "cuts": ("tire", "wheel", "offset"),
    "rollout": ("tire", "wheel", "offset"),
    "tire": ("wheel", "offset"),
    "wheel": ("offset",),
}
"""Components whose job is part of the job on another of the same corner, the first that there is."""

SLUG: Final[Mapping[str, str]] = {
    **{
        f"{arm}_{component}": f"{component}-%s-{arm}"
        for arm in ("upper", "lower")
        for component in ("stud", "preload", "housing")
    },
    "upper_arm": "arm-%s-upper",
    "lower_pivots": "pivots-%s-lower",
    "offset": "wheel-%s",
    "revalve": "valves-%s",
}
GROUP: Final[Mapping[str, str]] = {
    **dict.fromkeys(("upper_stud", "lower_stud", "upper_housing", "lower_housing", "upper_arm"), "geometry"),
    **dict.fromkeys(("shims", "lower_pivots", "tie_rod", "bump_spacer"), "geometry"),
    **dict.fromkeys(("upper_preload", "lower_preload"), "preload"),
    **dict.fromkeys(("spring", "rubber", "perch"), "spring"),
    **dict.fromkeys(("bump_stop", "droop_limit"), "travel"),
    **dict.fromkeys(("shock", "revalve", "gas"), "shock"),
    **dict.fromkeys(("wheel", "offset", "tire", "cuts"), "wheel"),
}
"""Which jobs of a corner are one change: done by half it would leave the car in a state that is on no sheet."""

PLAIN: Final[Mapping[str, str]] = {
    "upper_preload": "preload",
    "lower_preload": "preload",
    "offset": "wheel_offset",
    "wheel": "wheel_swap",
}


@dataclass(frozen=True)
class Difference:
    """What differs.

    Attributes:
        items: jobs that change something, in the document's order.
        recorded: what was only written down.
        by_hand: what no job of the table covers.
    """

    items: list[Item] = dataclasses.field(default_factory=list)
    recorded: list[FieldChange] = dataclasses.field(default_factory=list)
    by_hand: list[FieldChange] = dataclasses.field(default_factory=list)


def difference(before: Tree, after: Tree, *, back: bool = False) -> Difference:
    """Find the jobs from one document to another.

    A field that appears or vanishes was only written down, unless none of it can be meant (a packer, a piece of
    ballast). A count of nights or heat cycles that begins again at 0 is another part.

    Args:
        before: what is on the car.
        after: what shall be on it.
        back: `after` is older than `before`.

    Example:
        >>> one, other = ({"setup": {"brakes": {"front_share_percent": share}}} for share in (58, 60))
        >>> [item.id for item in difference(one, other).items]
        ['brake-bias']
    """
    found, by_component, following = Difference(), ByComponent(), []
    for change in diff(before, after):
        field = car_field(change.path)
        if _another_part(field.leaf, change, back=back):
            by_component.setdefault((RESET[field.leaf], field.where), []).append(change)
        elif field.written or _only_recorded(change, field):
            found.recorded.append(change)
        elif field.leaf in FOLLOWS:
            following.append((change, field.where))
        elif field.component:
            by_component.setdefault((field.component, field.where), []).append(change)
        else:
            found.by_hand.append(change)
    components = {component for component, _ in by_component}
    for change, where in following:
        hosts = FOLLOWS[car_field(change.path).leaf]
        follows = any((each, where) in by_component for each in hosts) or ("rod" in components and "rod" in hosts)
        (found.recorded if follows else found.by_hand).append(change)
    found.items.extend(_items(_joined(by_component), before, after, back=back))
    return found


def _only_recorded(change: FieldChange, field: CarField) -> bool:
    """Say whether a field of the schema was recorded for the first time, or is not recorded any more."""
    both = change.before is not UNSET and change.after is not UNSET
    amount = field.leaf in FROM_NOTHING or field.component == "ballast"
    return not both and not amount and schema_field(change.path) is not None


def _another_part(leaf: str, change: FieldChange, *, back: bool) -> bool:
    older, newer = (change.after, change.before) if back else (change.before, change.after)
    return leaf in RESET and newer == 0 and isinstance(older, int | float) and older > 0


def _joined(by_component: ByComponent) -> ByComponent:
    """Put what comes with another job of its corner to that job."""
    joined = dict(by_component)
    for component, hosts in WITH.items():
        for where in WHEELS:
            host = next(((each, where) for each in hosts if (each, where) in joined), None)
            if host is not None and (component, where) in joined:
                joined[host] = joined[host] + joined.pop((component, where))
    return joined


def _items(by_component: ByComponent, before: Tree, after: Tree, *, back: bool) -> list[Item]:
    items: list[Item] = []
    together: dict[str, list[tuple[str, list[FieldChange]]]] = defaultdict(list)
    for (component, where), leaves in by_component.items():
        match component:
            case "pressure" | "rollout" | "clicks" | "ballast":
                together[component].append((where, leaves))
            case "rod":
                items.append(_rod(where, leaves, before, after))
            case "bar":
                items.append(_of_car(f"bar-{where}", "bar", f"{where}-bar", f"{where}-bar", leaves, where=where))
            case "gear":
                items.append(_of_car("gear", "gear", "rear", "gear", leaves))
            case "brake_bias":
                items.append(_of_car("brake-bias", "brake_bias", "cockpit", "brakes", leaves))
            case _:
                items.append(_at_corner(component, where, leaves, before, after, back=back))
    return items + [_together(component, parts, before, after) for component, parts in together.items()]


def _of_car(id_: str, kind: str, place: str, change: str, leaves: Sequence[FieldChange], *, where: str = "") -> Item:
    return Item(id=id_, kind=kind, where=where, places=frozenset({place}), change=change, leaves=tuple(leaves))


def _at_corner(
    component: str, where: str, leaves: Sequence[FieldChange], before: Tree, after: Tree, *, back: bool
) -> Item:
    front = where in FRONT
    root = ("setup", "front" if front else "rear", where)
    sides = (at(before, root) or {}, at(after, root) or {})
    kind, brings = PLAIN.get(component, component), NOTHING
    if component == "spring":
        kind = "spring_big" if _is(sides, "spring.kind", "big") else "spring_coil_over" if front else "spring_rear"
    elif component == "perch":
        kind = "perch_weight_jack" if _is(sides, "spring.kind", "big") else "perch_coil_over"
    elif component in {"upper_housing", "lower_housing"}:
        kind = "housing_pressed" if _is(sides, f"{component}.mount", "pressed") else "housing_screwed"
    elif component in {"tire", "cuts"}:
        kind = _tire_job(component, sides, back=back)
    if (
        GROUP[component] == "wheel"
        and kind != "tire_cut"
        and _differ(sides, "tire.rollout_in", "tire.loaded_radius_in")
    ):
        brings = HEIGHT
    if component in {"shock", "revalve"} and _differ(sides, "shock.gas_psi"):
        brings = HEIGHT
    return Item(
        id=SLUG.get(component, f"{component.replace('_', '-')}-%s") % where,
        kind=kind,
        where=CORNER[where],
        places=frozenset({where}),
        change=f"{where}-{GROUP[component]}",
        leaves=tuple(leaves),
        brings=brings,
    )


def _tire_job(component: str, sides: Sides, *, back: bool) -> str:
    """Say how a tire becomes another: cut, mounted on its wheel, or with the wheel, where the setup names no wheel."""
    if component == "cuts" and not back and at(sides[1], steps("tire.cuts")) is not None:
        return "tire_cut"
    return "wheel_swap" if at(sides[1], steps("wheel.part")) is None else "tire_mount"


def _rod(name: str, leaves: Sequence[FieldChange], before: Tree, after: Tree) -> Item:
    """Make the job of a rod: of the kind the setup gives it, else by how it lies, across the car a lateral bar."""
    rod: Tree = {}
    for tree in (before, after):
        rod |= (at(tree, ("survey", "rear", "rods", name)) or {}) | (at(tree, ("setup", "rear", "rods", name)) or {})
    on, ends = rod.get("on", "axle"), (rod.get("chassis_in"), rod.get("carrier_in"))
    if rod.get("kind") in {"pull", "lift_arm"} or "spring_rate_lb_per_in" in rod:
        kind = "torque_link"
    elif on == "axle" and _lies_across(*ends, otherwise="lateral" in name):
        kind = "lateral_bar"
    else:
        kind = "trailing_bar"
    place = {"birdcage_left": "lr", "birdcage_right": "rr"}.get(on, "rear")
    id_ = f"rod-{name}" if len(name) < 45 else name  # an id is a slug of at most 48
    return _of_car(id_, kind, place, id_, leaves, where=name.replace("_", " "))


def _lies_across(chassis: Any, carrier: Any, *, otherwise: bool) -> bool:
    if chassis is None or carrier is None:
        return otherwise
    return bool(abs(chassis[1] - carrier[1]) > abs(chassis[0] - carrier[0]))


def _together(component: str, parts: Sequence[tuple[str, list[FieldChange]]], before: Tree, after: Tree) -> Item:
    """Make one job of what is done in one round of the car."""
    leaves = tuple(change for _, found in parts for change in found)
    wheels = tuple(where for where, _ in parts)
    if component == "clicks":
        where = ", ".join(CORNER[wheel] for wheel in wheels)
        return Item(id="clicks", kind="clicks", where=where, places=frozenset(wheels), change="clicks", leaves=leaves)
    if component == "ballast":
        old, new = (at(tree, ("setup", "ballast")) or {} for tree in (before, after))
        moves = max(sum(name in old for name in wheels), sum(name in new for name in wheels))
        item = _of_car("ballast", "ballast", "ballast", "ballast", leaves)
        return replace(item, times=moves)
    name = "pressures" if component == "pressure" else "stagger"
    brings = HEIGHT if name == "stagger" else ()
    return Item(id=name, kind=name, where="", places=frozenset(WHEELS), change=name, leaves=leaves, brings=brings)


def _is(sides: Sides, leaf: str, value: str) -> bool:
    return any(at(side, steps(leaf)) == value for side in sides)


def _differ(sides: Sides, *leaves: str) -> bool:
    return any(not same(*(at(side, steps(leaf)) for side in sides)) for leaf in leaves)
