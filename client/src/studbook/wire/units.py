"""Units and bounds as msgspec metadata, so that each is written once: beside the field."""

from typing import Annotated, Final, TypeVar, Union

import msgspec
from msgspec import UNSET, UnsetType

T = TypeVar("T")

Opt = Union[T, UnsetType]  # noqa: UP007 - a generic alias that type checkers accept
"""A field that may be absent. Absent is not zero and not null."""


def opt(value: T | None) -> Opt[T]:
    """Give an optional value as a field that may be absent.

    Example:
        >>> opt(0), opt(None)
        (0, UNSET)
    """
    return UNSET if value is None else value


UNITS: Final = {
    "in": "inch",
    "lb": "pound-force (or weight)",
    "deg": "degree of angle",
    "deg_f": "degree Fahrenheit",
    "psi": "pound-force per square inch",
    "in_lb": "inch pound-force",
    "ft_lb": "foot pound-force",
    "lb_per_in": "pound-force per inch",
    "lb_per_gal": "pound per US gallon",
    "lb_s_per_in": "pound-force second per inch",
    "rad_per_in": "radian per inch of travel",
    "in_lb_per_rad": "inch pound-force per radian",
    "in_lb_per_deg": "inch pound-force per degree",
    "in_per_turn": "inch per turn",
    "in_per_s": "inch per second",
    "in_per_psi": "inch per pound-force per square inch",
    "gal": "US gallon",
    "percent": "percent",
    "ratio": "ratio",
    "turns": "turns",
    "rpm": "turns per minute",
    "shore_a": "Shore A",
    "s": "second",
    "min": "minute",
    "days": "day",
    "hz": "cycle per second",
    "mph": "mile per hour",
    "g": "standard gravity",
    "ft": "foot",
    "mi": "mile",
    "in_per_ft": "inch per foot",
    "usd": "US dollar",
    "count": "count",
}
"""Unit symbol to its name. Lengths and forces convert by the exact factors of NIST SP 811 (1 in = 25.4 mm)."""


def within(
    unit: str,
    low: float | None = None,
    high: float | None = None,
    text: str | None = None,
    *,
    usual: tuple[float, float] | None = None,
) -> msgspec.Meta:
    """Describe a number: its unit, the bounds outside which it is refused, and what it means.

    Args:
        unit: a symbol of `UNITS`.
        low: least value accepted, in that unit.
        high: greatest value accepted, in that unit.
        text: one sentence for the schema and the field list.
        usual: the range outside which a value is accepted but flagged (common practice, no source).

    Raises:
        KeyError: the unit is not one of `UNITS`.

    Example:
        >>> within("in", 1, 12).le
        12
    """
    schema = _unit(unit) | ({"usual": list(usual)} if usual else {})
    return msgspec.Meta(ge=low, le=high, description=text, extra_json_schema=schema)


def means(text: str, *, unit: str | None = None, most: int | None = None) -> msgspec.Meta:
    """Describe a field that is no single number: text, a choice, an array.

    Example:
        >>> means("who measured", most=200).max_length
        200
    """
    return msgspec.Meta(description=text, max_length=most, extra_json_schema=_unit(unit) if unit else None)


def exactly(count: int, text: str, *, unit: str | None = None) -> msgspec.Meta:
    """Describe an array of a set length, such as a direction of three components.

    Example:
        >>> exactly(3, "a direction").min_length
        3
    """
    schema = _unit(unit) if unit else None
    return msgspec.Meta(description=text, min_length=count, max_length=count, extra_json_schema=schema)


def _unit(symbol: str) -> dict[str, object]:
    return {"unit": symbol, "unitName": UNITS[symbol]}


Inches = Annotated[float, within("in")]
Pounds = Annotated[float, within("lb")]
Degrees = Annotated[float, within("deg")]
Percent = Annotated[float, within("percent")]
Ratio = Annotated[float, within("ratio")]
InchPounds = Annotated[float, within("in_lb")]
PoundsPerInch = Annotated[float, within("lb_per_in")]
InchesPerSecond = Annotated[float, within("in_per_s")]
Mph = Annotated[float, within("mph")]
DegreesPerInch = Annotated[
    float, msgspec.Meta(extra_json_schema={"unit": "deg_per_in", "unitName": "degree per inch of travel"})
]
InchesPerInch = Annotated[
    float, msgspec.Meta(extra_json_schema={"unit": "in_per_in", "unitName": "inch per inch of travel"})
]
