"""How far a reading may be from the book before it is worth a look.

Common practice, no source; a team's own go over them.
"""

from collections.abc import Mapping
from typing import Final, NamedTuple

from studbook.wire.shop import Tolerances


class Tolerance(NamedTuple):
    """One tolerance: the field of `Tolerances` that a team puts over it, its unit, and the default."""

    field: str
    unit: str
    usual: float


TOLERANCES: Final[Mapping[str, Tolerance]] = {
    "corner": Tolerance("corner_lb", "lb", 10),
    "total": Tolerance("total_lb", "lb", 20),
    "cross": Tolerance("cross_percent", "percent", 0.3),
    "height": Tolerance("height_in", "in", 1 / 8),
    "camber": Tolerance("camber_deg", "deg", 0.3),
    "caster": Tolerance("caster_deg", "deg", 0.5),
    "toe": Tolerance("toe_in", "in", 1 / 16),
    "lead": Tolerance("lead_in", "in", 1 / 8),
    "play": Tolerance("play_in", "in", 0.005),
    "spread": Tolerance("spread_lb", "lb", 5),
}
"""By subject."""


def tolerances(own: Tolerances) -> dict[str, float]:
    """Give the tolerances by subject, a team's own where it has some.

    Example:
        >>> tolerances(Tolerances(corner_lb=8))["corner"], tolerances(Tolerances())["camber"]
        (8, 0.3)
    """
    return {name: getattr(own, each.field) or each.usual for name, each in TOLERANCES.items()}


def whose_tolerances(own: Tolerances) -> str:
    """Say whose tolerances they are.

    Example:
        >>> whose_tolerances(Tolerances(corner_lb=8, camber_deg=0.2))
        'tolerances: common practice, those of the team for corner_lb, camber_deg'
    """
    given = [each.field for each in TOLERANCES.values() if getattr(own, each.field)]
    whose = f", those of the team for {', '.join(given)}" if given else ", no source"
    return f"tolerances: common practice{whose}"
