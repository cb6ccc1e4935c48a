"""Weights, and what a change makes of them, as tables."""

from collections.abc import Callable, Mapping, Sequence
from typing import Final

from msgspec import UNSET

from studbook.cli.number_format import change, fixed
from studbook.cli.printing import bullets, side_by_side
from studbook.wire.scales import OnScales, Weights, WheelInches

WHEELS: Final = ("lf", "rf", "lr", "rr")
FIGURES: Final[Mapping[str, Callable[[Weights], str]]] = {
    "LF lb": lambda weights: fixed(weights.lf_lb, 0),
    "RF lb": lambda weights: fixed(weights.rf_lb, 0),
    "LR lb": lambda weights: fixed(weights.lr_lb, 0),
    "RR lb": lambda weights: fixed(weights.rr_lb, 0),
    "total lb": lambda weights: fixed(weights.total_lb, 0),
    "left %": lambda weights: fixed(weights.left_percent, 1),
    "rear %": lambda weights: fixed(weights.rear_percent, 1),
    "cross %": lambda weights: fixed(weights.cross_percent, 1),
    "bite lb": lambda weights: fixed(weights.bite_lb, 0),
}


def weights_table(title: str, columns: Mapping[str, Weights]) -> list[str]:
    """Set several weighings of a car side by side."""
    return side_by_side(title, columns, FIGURES)


def on_scales(answer: OnScales) -> list[str]:
    """Lay out what a change does on the scales, nothing put right."""
    if not answer.causes and answer.read is UNSET:
        return []
    columns = {"before": answer.before, "after": answer.after}
    if answer.read is not UNSET:
        columns["read after"] = answer.read
    page = weights_table("ON THE SCALES, nothing put right", columns)
    page += [f"  chassis over the wheels: {by_wheel(answer.rise)} in"]
    if answer.ride_height is not UNSET:
        page += [f"  ride heights: {by_wheel(answer.ride_height)} in"]
    page += bullets("What moves it", answer.causes) + bullets("Not judged", answer.left_out)
    return page + carrying(answer.engaged, answer.lifted)


def by_wheel(heights: WheelInches) -> str:
    """Write a change at each corner.

    Example:
        >>> by_wheel(WheelInches(lf_in=0.1, rf_in=-0.2, lr_in=0, rr_in=0.3))
        'LF +0.10, RF -0.20, LR 0.00, RR +0.30'
    """
    return ", ".join(f"{name.upper()} {change(getattr(heights, f'{name}_in'), 2)}" for name in WHEELS)


def carrying(engaged: Sequence[str], lifted: Sequence[str]) -> list[str]:
    """Name what carries besides the springs, and the wheels that carry nothing."""
    page = [f"  carrying: {', '.join(engaged)}"] if engaged else []
    return page + ([f"  lifted: {', '.join(lifted)}"] if lifted else [])
