"""How each setting of a front corner is adjusted, and the sentence a crew gets for it."""

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from studbook.wire.answers import Adjustment
from studbook_service.engine.changes import Moves, shims
from studbook_service.translate.corner import moves, shim_sign
from studbook_service.translate.document import SIDE, DocumentReader
from studbook_service.translate.words import CORNER, inches, outboard, turns

SHIM_SIZES = (1 / 32, 1 / 16, 1 / 8, 1 / 4)
SPACER_SIZES = (1 / 16, 1 / 8, 1 / 4)
SLUG_SIZES = (1 / 16, 1 / 8, 1 / 4, 3 / 8)
"""Sizes at hand unless the document lists the team's own (common practice, no source)."""

Setting = Literal["camber", "caster", "camber and caster", "toe", "bump_steer", "height"]
MOST_PIECES = 5
PIVOT_KINDS = {"upper_shims", "upper_slots", "upper_slugs", "lower_slots"}
PIECES = {"upper_shims": "shim", "upper_slugs": "slug", "outer_spacer": "spacer"}
SMALL_IN = 0.002


@dataclass(frozen=True, kw_only=True)
class AdjustmentPoint:
    """A pivot, rod or rod end that is moved.

    Attributes:
        sizes: of the pieces, where it is moved by pieces.
        now_in: how much of them is in.
        per_turn_in: what a turn of its thread moves.
    """

    setting: Setting
    by: str
    where: str
    sizes: Sequence[float] | None = None
    now_in: float | None = None
    per_turn_in: float | None = None


@dataclass(frozen=True, kw_only=True)
class CornerAdjusters:
    """How one front corner is adjusted.

    Attributes:
        reader, name: its document, and `lf` or `rf`.
        units: engine moves for one inch of camber, caster, toe and bump steer: both pivots outboard, front pivot half
            an inch out and rear half in, rod an inch longer, outer end an inch along its bolt (or inner end up).
        points: what is moved, by name.
        shared: camber and caster are both set at the same two pivots, `front` and `rear`.
    """

    reader: DocumentReader
    name: str
    units: Mapping[str, Moves]
    points: Mapping[str, AdjustmentPoint]
    shared: bool

    def adjustments(self, amounts: Sequence[float]) -> list[Adjustment]:
        """Turn amounts of camber, caster, toe and, if given, bump steer into adjustments that are large enough."""
        camber, caster, toe, *bump = amounts
        own = [place for place in ("arm", "camber_front", "camber_rear") if place in self.points]
        moved = dict.fromkeys(own, camber)
        if own:
            camber = 0.0
        moved |= {"front": camber + caster / 2, "rear": camber - caster / 2, "rod": toe}
        if bump:
            moved["bump"] = bump[0]
        return [self._adjustment(self.points[at], each) for at, each in moved.items() if abs(each) >= SMALL_IN]

    def _adjustment(self, point: AdjustmentPoint, amount: float) -> Adjustment:
        found = Adjustment(setting=point.setting, by=point.by, where=point.where, amount_in=amount, text="")
        if point.by in {"tie_rod", "upper_arm_thread"}:
            found.text = f"{point.where}: {abs(amount):.3f} in {'longer' if amount > 0 else 'shorter'}"
            if point.per_turn_in is not None:
                found.turns = amount / point.per_turn_in
                found.flats = round(found.turns * 12) / 2
                found.text += f", {turns(found.turns)}"
        elif point.sizes is None:
            way = ("up" if amount > 0 else "down") if point.by == "tie_inner_height" else outboard(amount)
            found.text = f"{point.where}: move {way} {inches(abs(amount))}"
        else:
            added = amount * shim_sign(self.reader, self.name) if point.by == "upper_shims" else amount
            found.amount_in, found.pieces_in = added, stack_nearest(added, sizes=point.sizes)
            found.remaining_in = added - sum(found.pieces_in)
            found.text = _pieces_text(point, added, found.remaining_in, amount)
        return found


def adjusters(reader: DocumentReader, name: str) -> CornerAdjusters:
    """Read how a corner is adjusted: by upper shims, tie rod and outer spacers unless the document says otherwise."""
    chosen = f"setup.front.{name}.adjusters"
    by_camber = reader.get(f"{chosen}.camber") or "upper_shims"
    by_caster = reader.get(f"{chosen}.caster") or (by_camber if by_camber in PIVOT_KINDS else "upper_shims")
    by_bump = reader.get(f"{chosen}.bump_steer") or "outer_spacer"
    camber = (
        moves(upper_arm_in=1.0)
        if by_camber == "upper_arm_thread"
        else shims(side=SIDE[name], front_in=1.0, rear_in=1.0, arm=_arm(by_camber))
    )
    units = {
        "camber": camber,
        "caster": shims(side=SIDE[name], front_in=0.5, rear_in=-0.5, arm=_arm(by_caster)),
        "toe": moves(tie_rod_in=1.0),
        "bump_steer": moves(outer_spacer_in=1.0) if by_bump == "outer_spacer" else moves(tie_inner_in=(0.0, 0.0, 1.0)),
    }
    shared = by_camber == by_caster
    points = {"rod": _threaded(reader, name, "toe", "tie_rod"), "bump": _bump_point(reader, name, by_bump)}
    for end in ("front", "rear"):
        points[end] = _pivot(reader, name, by_caster, end, "camber and caster" if shared else "caster")
        if not shared and by_camber in PIVOT_KINDS:
            points[f"camber_{end}"] = _pivot(reader, name, by_camber, end, "camber")
    if by_camber == "upper_arm_thread":
        points["arm"] = _threaded(reader, name, "camber", by_camber)
    return CornerAdjusters(reader=reader, name=name, units=units, points=points, shared=shared)


def stack_nearest(amount_in: float, *, sizes: Sequence[float]) -> list[float]:
    """Find the pieces whose sum comes nearest an amount, fewest first.

    Args:
        amount_in: thickness wanted, in; its sign is carried to the pieces.
        sizes: sizes at hand, in, each as often as needed.

    Returns:
        The pieces, largest first; none when no piece comes nearer than nothing.

    Example:
        >>> stack_nearest(0.09, sizes=(1/32, 1/16, 1/8))
        [0.0625, 0.03125]
    """
    wanted, big = abs(amount_in), max(sizes)
    whole = int(max(0.0, wanted - 3 * big) // big)
    rest = wanted - whole * big
    tried = (
        combination
        for count in range(MOST_PIECES + 1)
        for combination in itertools.combinations_with_replacement(sorted(sizes, reverse=True), count)
    )
    best = min(tried, key=lambda each: (round(abs(sum(each) - rest), 6), len(each)))
    sign = 1.0 if amount_in >= 0 else -1.0
    return [sign * piece for piece in (*(big,) * whole, *best)]


def _arm(kind: str) -> str:
    return "lower" if kind.startswith("lower") else "upper"


def _threaded(reader: DocumentReader, name: str, setting: Setting, by: str) -> AdjustmentPoint:
    part = by.removesuffix("_thread")
    per_turn = reader.get(f"setup.front.{name}.{part}.moves_per_turn_in")
    where = f"{CORNER[name]} {part.replace('_', ' ')}"
    return AdjustmentPoint(setting=setting, by=by, where=where, per_turn_in=per_turn)


def _bump_point(reader: DocumentReader, name: str, kind: str) -> AdjustmentPoint:
    if kind == "tie_inner_height":
        return AdjustmentPoint(setting="bump_steer", by=kind, where=f"{CORNER[name]} inner tie-rod end")
    rod = f"setup.front.{name}.tie_rod"
    return AdjustmentPoint(
        setting="bump_steer",
        by=kind,
        where=f"{CORNER[name]} outer tie-rod end",
        sizes=reader.get(f"{rod}.spacer_sizes_in") or SPACER_SIZES,
        now_in=reader.get(f"{rod}.outer_spacer_in"),
    )


def _pivot(reader: DocumentReader, name: str, kind: str, end: str, setting: Setting) -> AdjustmentPoint:
    fitted = f"setup.front.{name}"
    where, sizes, now = f"{CORNER[name]} {_arm(kind)} {end} pivot", None, None
    if kind == "upper_shims":
        sizes = reader.get(f"{fitted}.upper_shims.sizes_in") or SHIM_SIZES
        now = reader.get(f"{fitted}.upper_shims.{end}_in")
    elif kind == "upper_slugs":
        sizes = reader.get(f"{fitted}.adjusters.slug_sizes_in") or SLUG_SIZES
    return AdjustmentPoint(setting=setting, by=kind, where=where, sizes=sizes, now_in=now)


def _pieces_text(point: AdjustmentPoint, added: float, remaining: float, amount: float) -> str:
    text = f"{point.where}: {'add' if added > 0 else 'take out'} {inches(abs(added))} of {PIECES[point.by]}"
    if point.by != "outer_spacer":
        text += f" (pivot {outboard(amount)})"
    if abs(remaining) >= 0.01:
        text += f"; the pieces at hand are {'short' if remaining * added > 0 else 'over'} by {abs(remaining):.3f} in"
    if point.now_in is not None and point.now_in + added < -1e-6:
        text += f"; only {inches(point.now_in)} is in, so use another way for the rest"
    return text
