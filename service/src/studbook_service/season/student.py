"""Student's t distribution, by the incomplete beta function."""

import math
from functools import lru_cache
from typing import Final

_STEPS_MOST: Final = 10_000
_NEAR: Final = 1e-15
_TINY: Final = 1e-300


def two_sided_p(t: float, *, df: float) -> float:
    """Give the chance of a t at least so far from 0, either way: I_x(df/2, 1/2) at x = df/(df + t²).

    Args:
        t: the statistic.
        df: degrees of freedom, above 0.

    Source: NIST Digital Library of Mathematical Functions, 8.17 (incomplete beta function).

    Example:
        >>> round(two_sided_p(2.2281, df=10), 4)
        0.05
    """
    if math.isinf(t):
        return 0.0
    return incomplete_beta(df / (df + t * t), a=df / 2, b=0.5)


@lru_cache(maxsize=4096)
def critical(confidence: float, *, df: float) -> float:
    """Give the t within which, either way, lies this much of the distribution.

    Args:
        confidence: between 0 and 1, such as 0.95.
        df: degrees of freedom, above 0.

    Example:
        >>> round(critical(0.95, df=10), 3), round(critical(0.95, df=1), 2)
        (2.228, 12.71)
    """
    low, high = 0.0, 1.0
    while two_sided_p(high, df=df) > 1 - confidence:
        low, high = high, 2 * high
    while high - low > 1e-13 * high:
        middle = (low + high) / 2
        if middle in (low, high):
            break
        low, high = (middle, high) if two_sided_p(middle, df=df) > 1 - confidence else (low, middle)
    return high


def incomplete_beta(x: float, *, a: float, b: float) -> float:
    """Give the regularized incomplete beta function I_x(a, b), 0 to 1, by its continued fraction.

    The fraction converges fast below x = (a + 1)/(a + b + 2); above it I_x(a, b) = 1 - I_(1-x)(b, a).

    Source: NIST Digital Library of Mathematical Functions, 8.17.4 and 8.17.22.

    Example:
        >>> round(incomplete_beta(0.25, a=2, b=3), 8)  # 6x² - 8x³ + 3x⁴
        0.26171875
    """
    if x <= 0 or x >= 1:
        return float(x >= 1)
    if x > (a + 1) / (a + b + 2):
        return 1 - incomplete_beta(1 - x, a=b, b=a)
    begin = math.exp(
        math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log1p(-x) - math.log(a)
    )
    return begin / _fraction(x, a, b)


def _fraction(x: float, a: float, b: float) -> float:
    """Evaluate 1 + d1/(1 + d2/(1 + ...)) from its beginning, keeping the ratio of its last two convergents."""
    value = upper = 1.0
    lower = 0.0
    for step in range(1, _STEPS_MOST):
        m = step // 2
        if step % 2:
            d = -(a + m) * (a + b + m) * x / ((a + step - 1) * (a + step))
        else:
            d = m * (b - m) * x / ((a + step - 1) * (a + step))
        lower = 1 / ((1 + d * lower) or _TINY)
        upper = (1 + d / upper) or _TINY
        value *= upper * lower
        if abs(upper * lower - 1) < _NEAR:
            break
    return value
