"""A small chart in plain characters."""

from collections.abc import Sequence
from typing import NamedTuple

WIDE, HIGH = 64, 12


class ChartLine(NamedTuple):
    """One line of a chart: its mark, its name, and its points."""

    mark: str
    name: str
    across: Sequence[float]
    up: Sequence[float]


def chart(title: str, curves: Sequence[ChartLine], *, across: str) -> list[str]:
    """Draw curves over one another; where two meet the mark is `#`.

    Args:
        title: what goes up, with its unit.
        curves: at least one, each with at least one point.
        across: what goes to the right, with its unit.

    Returns:
        Lines, or none where there is no point at all.
    """
    points = [(x, y) for curve in curves for x, y in zip(curve.across, curve.up, strict=True)]
    if not points:
        return []
    left, right = min(x for x, _ in points), max(x for x, _ in points)
    low, high = min(y for _, y in points), max(y for _, y in points)
    field = [[" "] * WIDE for _ in range(HIGH)]
    for curve in curves:
        for x, y in zip(curve.across, curve.up, strict=True):
            column = round((x - left) / ((right - left) or 1) * (WIDE - 1))
            row = HIGH - 1 - round((y - low) / ((high - low) or 1) * (HIGH - 1))
            field[row][column] = curve.mark if field[row][column] in (" ", curve.mark) else "#"
    legend = ", ".join(f"{curve.mark} {curve.name}" for curve in curves)
    lines = [f"{title}: {legend}{', # both' if len(curves) > 1 else ''}"]
    for number, row_marks in enumerate(field):
        scale = high - (high - low) * number / (HIGH - 1)
        label = f"{scale:8.2f}" if number % 3 == 0 or number == HIGH - 1 else " " * 8
        lines.append(f"{label} |{''.join(row_marks)}".rstrip())
    lines.append(f"{' ' * 8} +{'-' * WIDE}")
    ends = f"{left:g}", f"{right:g}"
    middle = across.center(WIDE - len(ends[0]) - len(ends[1]))
    return [*lines, f"{' ' * 10}{ends[0]}{middle}{ends[1]}"]
