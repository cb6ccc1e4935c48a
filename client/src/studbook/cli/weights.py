"""Weights, and what a change makes of them, as tables."""

from collections.abc import Callable, Mapping, Sequence
from typing import Final

from msgspec import UNSET

from studbook.cli.environment import bold
from studbook.cli.number_format import change, fixed
from studbook.cli.printing import bullets, table
from studbook.wire.scales import OnScales, Weights

WHEELS: Final = ("lf", "rf", "lr", "rr")
SHARES: Final[Mapping[str, Callable[[Weights], str]]] = {
    "total lb": lambda weights: fixed(weights.total_lb, 0),
    "left %": lambda weights: fixed(weights.left_percent, 1),
    "rear %": lambda weights: fixed(weights.rear_percent, 1),
    "cross %": lambda weights: fixed(weights.cross_percent, 1),
    "bite lb": lambda weights: fixed(weights.bite_lb, 0),
}


def weights_table(title: str, columns: Mapping[str, Weights]) -> list[str]:
    """Set several weighings of a car side by side."""
    rows = [
        [f"{name.upper()} lb", *(fixed(getattr(weights, f"{name}_lb"), 0) for weights in columns.values())]
        for name in WHEELS
    ]
    rows += [[name, *(cell(weights) for weights in columns.values())] for name, cell in SHARES.items()]
    lines = table([title, *columns], rows, right=frozenset(range(1, len(columns) + 1)))
    return [bold(lines[0]), *lines[1:]]


def on_scales(answer: OnScales) -> list[str]:
    """Lay out what a change does on the scales, nothing put right."""
    if not answer.causes and answer.read is UNSET:
        return []
    columns = {"before": answer.before, "after": answer.after}
    if answer.read is not UNSET:
        columns["read after"] = answer.read
    page = weights_table("ON THE SCALES, nothing put right", columns)
    page += [f"  chassis over the wheels: {by_wheel([getattr(answer.rise, f'{name}_in') for name in WHEELS])} in"]
    if answer.ride_height is not UNSET:
        page += [f"  ride heights: {by_wheel([getattr(answer.ride_height, f'{name}_in') for name in WHEELS])} in"]
    page += bullets("What moves it", answer.causes) + bullets("Not judged", answer.left_out)
    return page + carrying(answer.engaged, answer.lifted)


def by_wheel(values: Sequence[float]) -> str:
    """Write a change at each corner.

    Example:
        >>> by_wheel([0.1, -0.2, 0, 0.3])
        'LF +0.10, RF -0.20, LR 0.00, RR +0.30'
    """
    return ", ".join(f"{name.upper()} {change(value, 2)}" for name, value in zip(WHEELS, values, strict=True))


def carrying(engaged: Sequence[str], lifted: Sequence[str]) -> list[str]:
    """Name what carries besides the springs, and the wheels that carry nothing."""
    page = [f"  carrying: {', '.join(engaged)}"] if engaged else []
    return page + ([f"  lifted: {', '.join(lifted)}"] if lifted else [])
