"""The parts that jobs put in, as the documents name them, and where the book of parts has them."""

from collections.abc import Callable
from typing import Final, NamedTuple

from msgspec import UNSET

from studbook.history.canonical import Tree
from studbook.history.leaves import at, dotted, steps
from studbook.wire.fields import unit_of
from studbook.wire.units import Opt
from studbook.wire.work import PartNeeded
from studbook_service.work.car_fields import RESET, car_field
from studbook_service.work.items import Item


class Spot(NamedTuple):
    """Where on the car a part is wanted: corner, and what it is there."""

    corner: str
    slot: str


Stock = Callable[[PartNeeded, Tree, Spot], PartNeeded]
"""Completes a part by the book, found by kind and name, by the fields of what is fitted, and by its place."""


class _Needs(NamedTuple):
    kind: str
    about: tuple[str, ...] = ()
    name: str = "part"


NEEDS: Final = {
    "upper_stud": _Needs("stud", ("length_in",)),
    "lower_stud": _Needs("stud", ("length_in",)),
    "upper_housing": _Needs("joint", ("ball_offset_in",)),
    "lower_housing": _Needs("joint", ("ball_offset_in",)),
    "upper_arm": _Needs("arm"),
    "spring": _Needs("spring", ("rate_lb_per_in", "free_length_in")),
    "shock": _Needs("shock", ("stroke_in",), name="serial"),
    "wheel": _Needs("wheel", ("width_in", "offset_in")),
    "tire": _Needs("tire", ("compound", "rollout_in")),
}
"""Components that are renewed, the kind of their part, and the fields that describe it besides its name."""


def no_stock(needed: PartNeeded, _fitted: Tree, _spot: Spot) -> PartNeeded:
    """Add nothing, as in a book without parts."""
    return needed


def parts_needed(item: Item, after: Tree, *, stock: Stock, price_usd: Opt[float] = UNSET) -> list[PartNeeded]:
    """List the parts that a job puts in.

    Args:
        item: the job.
        after: the document that it leads to, which names them.
        stock: completes each.
        price_usd: the team's own for this kind of job, where the book of parts has none.

    Example:
        >>> from studbook.history.changes import FieldChange
        >>> leaf = FieldChange(("setup", "rear", "rr", "spring", "part"), before="200 x 14", after="225 x 14")
        >>> spring = Item(id="spring-rr", kind="spring_rear", where="RR", places=frozenset({"rr"}), leaves=(leaf,))
        >>> after = {"setup": {"rear": {"rr": {"spring": {"part": "225 x 14", "rate_lb_per_in": 225}}}}}
        >>> parts_needed(spring, after, stock=no_stock)[0].about
        '225 lb/in'
    """
    found = []
    for (root, component), needs in _renewed(item).items():
        fitted = at(after, (*steps(root), component)) or {}
        sizes = [_size((*steps(root), component, leaf), fitted[leaf]) for leaf in needs.about if leaf in fitted]
        part = PartNeeded(kind=needs.kind, name=str(fitted.get(needs.name, "")), about=", ".join(sizes))
        part = stock(part, fitted, Spot(steps(root)[2], component))
        if part.price_usd is UNSET:
            part.price_usd = price_usd
        part.fitted = part.fitted and not _another(item, root, component, needs)
        found.append(part)
    return found


def _renewed(item: Item) -> dict[tuple[str, str], _Needs]:
    """Give by corner and component what a job renews."""
    found = {}
    for change in item.leaves:
        field = car_field(change.path)
        component = RESET.get(field.leaf, field.component)
        if component in NEEDS:
            found[".".join(change.path[:3]), component] = NEEDS[component]
    return found


def _another(item: Item, root: str, component: str, needs: _Needs) -> bool:
    """Say whether a count began again under one name: then it is another part than the one that is on."""
    paths = {dotted(change.path) for change in item.leaves}
    counts = {f"{root}.{leaf}" for leaf, of in RESET.items() if of == component}
    return bool(paths & counts) and f"{root}.{component}.{needs.name}" not in paths


def _size(path: tuple[str, ...], value: object) -> str:
    unit = unit_of(path).replace("_per_", "/")
    return f"{value:g} {unit}".strip() if isinstance(value, int | float) else str(value)
