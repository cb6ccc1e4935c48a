"""How the report says numbers."""

from typing import Any

from studbook.history.canonical import encode
from studbook_service.season.statistics import Estimate


def seconds(value: float) -> str:
    """Write a difference of lap times.

    Example:
        >>> seconds(-0.0004), seconds(0.25)
        ('0.000', '+0.250')
    """
    rounded = round(value, 3)
    return f"{rounded:+.3f}" if rounded else "0.000"


def between(estimate: Estimate) -> str:
    """Write an interval.

    Example:
        >>> between(Estimate(value=0, low=-0.2, high=0.1, p=1, df=3))
        '-0.200 to +0.100'
    """
    return f"{seconds(estimate.low)} to {seconds(estimate.high)}"


def setting(value: Any) -> str:
    """Write a setting.

    Example:
        >>> setting(1.70), setting("free"), setting([1, 2])
        ('1.7', 'free', '[1,2]')
    """
    if isinstance(value, str):
        return value
    return f"{value:g}" if isinstance(value, int | float) and not isinstance(value, bool) else encode(value).decode()
