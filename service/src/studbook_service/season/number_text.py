"""Numbers as the report writes them."""

from typing import Any

from studbook.history.canonical import encode
from studbook.history.leaves import is_number
from studbook_service.season.statistics import Estimate


def seconds_text(value: float) -> str:
    """Write a difference of lap times.

    Example:
        >>> seconds_text(-0.0004), seconds_text(0.25)
        ('0.000', '+0.250')
    """
    rounded = round(value, 3)
    return f"{rounded:+.3f}" if rounded else "0.000"


def interval_text(estimate: Estimate) -> str:
    """Write an interval.

    Example:
        >>> interval_text(Estimate(value=0, low=-0.2, high=0.1, p=1, df=3))
        '-0.200 to +0.100'
    """
    return f"{seconds_text(estimate.low)} to {seconds_text(estimate.high)}"


def setting_text(value: Any) -> str:
    """Write a setting.

    Example:
        >>> setting_text(1.70), setting_text("free"), setting_text([1, 2])
        ('1.7', 'free', '[1,2]')
    """
    if isinstance(value, str):
        return value
    return f"{value:g}" if is_number(value) else encode(value).decode()
