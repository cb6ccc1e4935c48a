"""How far a reading may be from the book before it is worth a look, and what to look at then.

Common practice, no source; a team's own tolerances replace the defaults.
"""

from collections.abc import Callable, Mapping
from typing import Final, NamedTuple

from studbook.wire.shop import Tolerances
from studbook_service.translate.words import inches, signed


class Tolerance(NamedTuple):
    """One tolerance.

    Attributes:
        field: of `Tolerances`, with which a team replaces the default.
        usual: the default, in `unit`.
        difference: writes a difference of two readings.
        question: what a crew asks where a reading is beyond it.
    """

    field: str
    unit: str
    usual: float
    difference: Callable[[float], str]
    question: str


def _number(digits: int, unit: str) -> Callable[[float], str]:
    return lambda difference: f"{signed(difference, digits)} {unit}"


def _length(difference: float) -> str:
    return f"{'+' if difference > 0 else '-'}{inches(abs(difference))}"


def _toe(difference: float) -> str:
    return f"{inches(abs(difference))} {'in' if difference > 0 else 'out'}"


_PERCH = "a perch turned, a spring sagged, a bar that binds?"

TOLERANCES: Final[Mapping[str, Tolerance]] = {
    "corner": Tolerance("corner_lb", "lb", 10, _number(1, "lb"), _PERCH),
    "total": Tolerance("total_lb", "lb", 20, _number(0, "lb"), "fuel, driver or ballast that is not as it was?"),
    "cross": Tolerance("cross_percent", "percent", 0.3, _number(1, "%"), _PERCH),
    "height": Tolerance("height_in", "in", 1 / 8, _length, "tire pressure, a perch turned, a spring sagged?"),
    "camber": Tolerance("camber_deg", "deg", 0.3, _number(2, "deg"), "bent or slipped?"),
    "caster": Tolerance("caster_deg", "deg", 0.5, _number(2, "deg"), "bent or slipped?"),
    "toe": Tolerance("toe_in", "in", 1 / 16, _toe, "a tie rod bent, or its sleeve slipped?"),
    "lead": Tolerance("lead_in", "in", 1 / 8, _length, "a rod bent, or its end slipped?"),
    "play": Tolerance("play_in", "in", 0.005, _number(3, "in"), "worn, or its cap backed off?"),
    "spread": Tolerance("spread_lb", "lb", 5, _number(0, "lb"), "not settled?"),
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
