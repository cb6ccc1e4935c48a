"""By what each setting of a front corner is put right, and how an amount of it is told to a crew."""

import itertools
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from studbook.wire.answers import Adjustment
from studbook_service.engine.changes import Moves, shims
from studbook_service.translate.corner import SIDE, moves, shim_sign
from studbook_service.translate.document import DocumentReader
from studbook_service.translate.words import CORNER, inches, signed, turns

SHIM_SIZES = (1 / 32, 1 / 16, 1 / 8, 1 / 4)
SPACER_SIZES = (1 / 16, 1 / 8, 1 / 4)
SLUG_SIZES = (1 / 16, 1 / 8, 1 / 4, 3 / 8)
"""Sizes at hand unless the document lists the team's own (common practice, no source)."""

Setting = Literal["camber", "caster", "camber and caster", "toe", "bump_steer", "height"]
MOST_PIECES = 5
PIVOT_KINDS = {"upper_shims", "upper_slots", "upper_slugs", "lower_slots"}
SMALL_IN = 0.002


@dataclass(frozen=True)
class AdjustmentPoint:
    """A pivot, rod or rod end that is moved; `sizes` where that is done in pieces, `now_in` what is in there."""

    setting: Setting
    by: str
    where: str
    sizes: tuple[float, ...] | None = None
    now_in: float | None = None


@dataclass(frozen=True, kw_only=True)
class CornerAdjusters:
    """The four things that are moved to put one front corner right.

    Attributes:
        camber, caster, toe, bump_steer: engine moves for one inch of each: both pivots outboard, front pivot half an
            inch out and rear half in, rod an inch longer, outer end an inch along its bolt (or inner end an inch up).
        told: turns amounts of the four, in that order, into adjustments.
        points: what is moved, by name.
        shared: camber and caster are both set at the same two pivots, `front` and `rear`.
    """

    camber: Moves
    caster: Moves
    toe: Moves
    bump_steer: Moves
    told: Callable[[Sequence[float]], list[Adjustment]]
    points: Mapping[str, AdjustmentPoint]
    shared: bool


def adjusters(reader: DocumentReader, name: str) -> CornerAdjusters:
    """Read by what a corner is adjusted: upper shims, tie rod and outer spacers unless the document names others.

    Args:
        reader: the document; assumptions are noted in it.
        name: `lf` or `rf`.
    """
    chosen = f"setup.front.{name}.adjusters"
    by_camber = reader.get(f"{chosen}.camber") or "upper_shims"
    by_caster = reader.get(f"{chosen}.caster") or (by_camber if by_camber in PIVOT_KINDS else "upper_shims")
    by_bump = reader.get(f"{chosen}.bump_steer") or "outer_spacer"
    camber = (
        moves(upper_arm_in=1.0)
        if by_camber == "upper_arm_thread"
        else shims(side=SIDE[name], front_in=1.0, rear_in=1.0, arm=_arm(by_camber))
    )
    caster = shims(side=SIDE[name], front_in=0.5, rear_in=-0.5, arm=_arm(by_caster))
    toe = moves(tie_rod_in=1.0)
    bump = moves(outer_spacer_in=1.0) if by_bump == "outer_spacer" else moves(tie_inner_in=(0.0, 0.0, 1.0))
    parts = _parts(reader, name, by_camber, by_caster, by_bump)

    def told(amounts: Sequence[float]) -> list[Adjustment]:
        by_place = _by_place(amounts, by_camber, by_caster)
        return [_told(reader, name, parts[at], amount) for at, amount in by_place.items() if abs(amount) >= SMALL_IN]

    return CornerAdjusters(
        camber=camber, caster=caster, toe=toe, bump_steer=bump, told=told, points=parts, shared=by_camber == by_caster
    )


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


def _by_place(amounts: Sequence[float], by_camber: str, by_caster: str) -> dict[str, float]:
    """Turn amounts of the four settings into moves of points: one pivot may serve camber and caster at once."""
    camber, caster, toe, *bump = amounts
    points: dict[str, float] = {}
    if by_camber == "upper_arm_thread":
        points["arm"] = camber
        camber = 0.0
    if by_camber in PIVOT_KINDS and by_camber != by_caster:
        points |= {"camber_front": camber, "camber_rear": camber}
        camber = 0.0
    points |= {"front": camber + caster / 2, "rear": camber - caster / 2, "rod": toe}
    if bump:
        points["bump"] = bump[0]
    return points


def _parts(
    reader: DocumentReader, name: str, by_camber: str, by_caster: str, by_bump: str
) -> dict[str, AdjustmentPoint]:
    shared = by_camber == by_caster
    parts = {
        "rod": AdjustmentPoint("toe", "tie_rod", f"{CORNER[name]} tie rod"),
        "arm": AdjustmentPoint("camber", "upper_arm_thread", f"{CORNER[name]} upper arm"),
        "bump": _bump_place(reader, name, by_bump),
    }
    for end in ("front", "rear"):
        parts[end] = _pivot(reader, name, by_caster, end, "camber and caster" if shared else "caster")
        parts[f"camber_{end}"] = _pivot(reader, name, by_camber, end, "camber")
    return parts


def _bump_place(reader: DocumentReader, name: str, kind: str) -> AdjustmentPoint:
    if kind == "tie_inner_height":
        where = f"{CORNER[name]} inner tie-rod end"
        return AdjustmentPoint("bump_steer", kind, where)
    sizes = reader.get(f"setup.front.{name}.tie_rod.spacer_sizes_in") or SPACER_SIZES
    return AdjustmentPoint(
        "bump_steer",
        kind,
        f"{CORNER[name]} outer tie-rod end",
        tuple(sizes),
        reader.get(f"setup.front.{name}.tie_rod.outer_spacer_in"),
    )


def _pivot(reader: DocumentReader, name: str, kind: str, end: str, setting: Setting) -> AdjustmentPoint:
    arm = _arm(kind)
    fitted = f"setup.front.{name}"
    sizes: Sequence[float] | None = None
    if kind == "upper_shims":
        sizes = reader.get(f"{fitted}.upper_shims.sizes_in") or SHIM_SIZES
    elif kind == "upper_slugs":
        sizes = reader.get(f"{fitted}.adjusters.slug_sizes_in") or SLUG_SIZES
    return AdjustmentPoint(
        setting,
        kind,
        f"{CORNER[name]} {arm} {end} pivot",
        tuple(sizes) if sizes else None,
        reader.get(f"{fitted}.upper_shims.{end}_in") if kind == "upper_shims" else None,
    )


def _per_turn(reader: DocumentReader, name: str, part: AdjustmentPoint) -> float | None:
    where = {"tie_rod": "tie_rod", "upper_arm_thread": "upper_arm"}.get(part.by)
    value = reader.get(f"setup.front.{name}.{where}.moves_per_turn_in") if where else None
    return None if value is None else float(value)


def _told(reader: DocumentReader, name: str, part: AdjustmentPoint, amount: float) -> Adjustment:
    adjustment = Adjustment(setting=part.setting, by=part.by, where=part.where, amount_in=amount, text="")
    if part.by in {"tie_rod", "upper_arm_thread"}:
        return _told_in_turns(adjustment, _per_turn(reader, name, part))
    if part.by == "upper_shims":
        adjustment.amount_in = amount * shim_sign(reader, name)
    if part.sizes is None:
        way = ("up" if amount > 0 else "down") if part.by == "tie_inner_height" else _outboard(amount)
        adjustment.text = f"{part.where}: move {way} {inches(abs(amount))}"
        return adjustment
    pieces = stack_nearest(adjustment.amount_in, sizes=part.sizes)
    adjustment.pieces_in = pieces
    adjustment.remaining_in = adjustment.amount_in - sum(pieces)
    adjustment.text = _told_in_pieces(part, adjustment, amount)
    return adjustment


def _told_in_turns(adjustment: Adjustment, per_turn: float | None) -> Adjustment:
    way = "longer" if adjustment.amount_in > 0 else "shorter"
    adjustment.text = f"{adjustment.where}: {abs(adjustment.amount_in):.3f} in {way}"
    if per_turn is not None:
        adjustment.turns = adjustment.amount_in / per_turn
        adjustment.flats = round(adjustment.turns * 12) / 2
        adjustment.text += f", {turns(adjustment.turns)}"
    return adjustment


def _told_in_pieces(part: AdjustmentPoint, adjustment: Adjustment, amount: float) -> str:
    added = adjustment.amount_in
    what = {"upper_shims": "shim", "upper_slugs": "slug", "outer_spacer": "spacer"}[part.by]
    verb = "add" if added > 0 else "take out"
    text = f"{part.where}: {verb} {inches(abs(added))} of {what}"
    if part.by != "outer_spacer":
        text += f" (pivot {_outboard(amount)})"
    left = adjustment.remaining_in
    if isinstance(left, float) and abs(left) >= 0.01:
        text += f"; with the pieces at hand {signed(left, 3)} in is left over"
    if part.now_in is not None and part.now_in + added < -1e-6:
        text += f"; only {inches(part.now_in)} is in, so use another way for the rest"
    return text


def _outboard(amount: float) -> str:
    return "outboard" if amount > 0 else "inboard"
