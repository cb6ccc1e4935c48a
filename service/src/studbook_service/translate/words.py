"""How a crew says numbers: fractions of an inch beside decimals, turns and flats, signs, directions."""

from fractions import Fraction

CORNER = {"lf": "LF", "rf": "RF", "lr": "LR", "rr": "RR"}


def inches(value: float) -> str:
    """Write a length as decimals, with the nearest 1/32 in beside it where that is within 0.01 in.

    Example:
        >>> inches(0.1875), inches(0.46), inches(1.0)
        ('0.19 in (3/16)', '0.46 in (15/32)', '1.00 in (1)')
    """
    size = abs(value)
    nearest = Fraction(round(size * 32), 32)
    if nearest == 0 or abs(float(nearest) - size) > 0.01:
        return f"{value:.2f} in" if size >= 0.1 else f"{value:.3f} in"
    whole, part = divmod(nearest, 1)
    fraction = " ".join(str(each) for each in (whole, part) if each)
    return f"{value:.2f} in ({'-' if value < 0 else ''}{fraction})"


def signed(value: float, digits: int) -> str:
    """Write a number with its sign, and never a negative zero.

    Example:
        >>> signed(-0.0004, 3), signed(0.5, 2)
        ('0.000', '+0.50')
    """
    rounded = round(value, digits)
    return f"{rounded:+.{digits}f}" if rounded else f"{0:.{digits}f}"


def outboard(amount: float) -> str:
    """Name the direction of a move across the car: outboard where it is positive, else inboard."""
    return "outboard" if amount > 0 else "inboard"


def turns(value: float) -> str:
    """Write turns of a thread as whole turns and flats, a flat being a sixth, to the nearest half flat.

    Example:
        >>> turns(1.34), turns(0.16), turns(0.09), turns(0.02)
        ('1 turn 2 flats', '1 flat', '1/2 flat', 'less than 1/2 flat')
    """
    whole, halves = divmod(round(abs(value) * 12), 12)
    flats, half = divmod(halves, 2)
    count = " ".join([str(flats)] * bool(flats) + ["1/2"] * half)
    parts = [f"{whole} turn{'s' * (whole != 1)}"] * bool(whole)
    parts += [f"{count} flat{'s' * (flats + half > 1)}"] * bool(halves)
    return " ".join(parts) or "less than 1/2 flat"


def times(before: float, after: float) -> str:
    """Say how a small figure grew, as a multiple where that helps.

    Example:
        >>> times(-0.026, -0.086), times(0.02, -0.02), times(0.0, 0.05)
        ('3.3 times as much', 'the other way', 'from none')
    """
    if abs(before) < 1e-3:
        return "from none" if abs(after) >= 1e-3 else "as little as before"
    if before * after < 0 and abs(after) >= 1e-3:
        return "the other way"
    ratio = abs(after / before)
    return f"{ratio:.1f} times as much" if abs(ratio - 1) >= 0.05 else "about the same"
