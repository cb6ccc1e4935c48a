"""The parts that jobs put in, as the documents name them, and where the book of parts has them."""

from collections.abc import Callable
from typing import Final, NamedTuple

from studbook.history.canonical import Tree
from studbook.history.leaves import at, dotted, steps
from studbook.wire.fields import unit_of
from studbook.wire.units import opt
from studbook.wire.work import PartNeeded
from studbook_service.work.items import Item
from studbook_service.work.touched import RESET, touched


class Found(NamedTuple):
    """What the book of parts knows of a part; None where it does not.

    Attributes:
        tag: its own tag.
        where: shelf, trailer, or car and corner.
        fitted: it is on the car, at the place where it is wanted.
    """

    tag: str | None = None
    where: str | None = None
    in_trailer: bool | None = None
    price_usd: float | None = None
    fitted: bool = False


class Spot(NamedTuple):
    """Where on the car a part is wanted: corner, and what it is there."""

    corner: str
    slot: str


Stock = Callable[[PartNeeded, Tree, Spot], Found | None]
"""Looks a part up by its kind and name, by the fields of the setup that say what is fitted, and by where it goes."""


class _Needs(NamedTuple):
    kind: str
    group: str
    name: str
    about: tuple[str, ...]


NEEDS: Final = {
    "upper_stud": _Needs("stud", "upper_stud", "part", ("length_in",)),
    "lower_stud": _Needs("stud", "lower_stud", "part", ("length_in",)),
    "upper_housing": _Needs("joint", "upper_housing", "part", ("ball_offset_in",)),
    "lower_housing": _Needs("joint", "lower_housing", "part", ("ball_offset_in",)),
    "upper_arm": _Needs("arm", "upper_arm", "part", ()),
    "spring": _Needs("spring", "spring", "part", ("rate_lb_per_in", "free_length_in")),
    "shock": _Needs("shock", "shock", "serial", ("stroke_in",)),
    "wheel": _Needs("wheel", "wheel", "part", ("width_in", "offset_in")),
    "tire": _Needs("tire", "tire", "part", ("compound", "rollout_in")),
}
"""Things that are renewed, what their part is called, and by which fields it is known beside its name."""


def nothing_known(_needed: PartNeeded, _fitted: Tree, _spot: Spot) -> Found | None:
    """Stand for a book without parts."""
    return None


def parts_needed(item: Item, after: Tree, *, stock: Stock, price_usd: float | None) -> list[PartNeeded]:
    """List the parts that a job puts in.

    Args:
        item: the job.
        after: the document that it leads to, which names them.
        stock: looks each up.
        price_usd: the team's own for this kind of job, where the book of parts has none.

    Example:
        >>> from studbook.history.changes import FieldChange
        >>> leaf = FieldChange(("setup", "rear", "rr", "spring", "part"), before="200 x 14", after="225 x 14")
        >>> spring = Item(id="spring-rr", kind="spring_rear", where="RR", places=frozenset({"rr"}), leaves=(leaf,))
        >>> after = {"setup": {"rear": {"rr": {"spring": {"part": "225 x 14", "rate_lb_per_in": 225}}}}}
        >>> parts_needed(spring, after, stock=nothing_known, price_usd=None)[0].about
        '225 lb/in'
    """
    found = []
    for (root, thing), needs in _renewed(item).items():
        fitted = at(after, (*steps(root), needs.group)) or {}
        sizes = [_size((*steps(root), needs.group, leaf), fitted[leaf]) for leaf in needs.about if leaf in fitted]
        part = PartNeeded(kind=needs.kind, name=str(fitted.get(needs.name, "")), about=", ".join(sizes))
        known = stock(part, fitted, Spot(steps(root)[2], needs.group)) or Found()
        price = price_usd if known.price_usd is None else known.price_usd
        part.price_usd = opt(price)
        part.where = opt(known.where)
        part.in_trailer = opt(known.in_trailer)
        part.tag = opt(known.tag)
        part.fitted = known.fitted and not _another(item, root, thing, needs)
        found.append(part)
    return found


def _renewed(item: Item) -> dict[tuple[str, str], _Needs]:
    """Give by corner and thing what a job renews."""
    found = {}
    for change in item.leaves:
        what = touched(change.path)
        thing = RESET.get(what.leaf, what.thing)
        if thing in NEEDS:
            found[".".join(change.path[:3]), thing] = NEEDS[thing]
    return found


def _another(item: Item, root: str, thing: str, needs: _Needs) -> bool:
    """Say whether a count began again under one name: then it is another part than the one that is on."""
    paths = {dotted(change.path) for change in item.leaves}
    counts = {f"{root}.{leaf}" for leaf, of in RESET.items() if of == thing}
    return bool(paths & counts) and f"{root}.{needs.group}.{needs.name}" not in paths


def _size(path: tuple[str, ...], value: object) -> str:
    unit = unit_of(path).replace("_per_", "/")
    return f"{value:g} {unit}".strip() if isinstance(value, int | float) else str(value)
