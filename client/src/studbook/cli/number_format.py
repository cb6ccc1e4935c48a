"""Numbers as a crew reads them: signs only where they mean something, fractions of an inch, left and right."""

from fractions import Fraction

from msgspec import UnsetType


def fixed(value: float | UnsetType | None, digits: int) -> str:
    """Write a number with so many decimals, never a negative zero; a dash where there is none.

    Example:
        >>> fixed(-0.0004, 2), fixed(-4.5, 2)
        ('0.00', '-4.50')
    """
    if value is None or isinstance(value, UnsetType):
        return "-"
    return f"{round(value, digits) + 0.0:.{digits}f}"


def change(value: float | UnsetType, digits: int) -> str:
    """Write a change with its sign, nothing before a zero; a dash where there is none.

    Example:
        >>> change(0.5, 2), change(-0.0004, 2)
        ('+0.50', '0.00')
    """
    if isinstance(value, UnsetType):
        return "-"
    rounded = round(value, digits)
    return f"{rounded:+.{digits}f}" if rounded else f"{0:.{digits}f}"


def toe(toe_in: float | UnsetType) -> str:
    """Write toe with in or out for its sign.

    Example:
        >>> toe(-0.19), toe(0.003)
        ('0.19 out', '0.00')
    """
    return _with_side(toe_in, 2, ("in", "out"))


def sideways(y_in: float | UnsetType) -> str:
    """Write a place across the car by its side of the chassis's datum line.

    Example:
        >>> sideways(-7.2), sideways(0.01)
        ('7.2 right', '0.0')
    """
    return _with_side(y_in, 1, ("left", "right"))


def toe_fraction(toe_in: float | UnsetType) -> str:
    """Write toe as the tape reads it, to the nearest 1/32 in.

    Example:
        >>> toe_fraction(-0.19), toe_fraction(1.27), toe_fraction(0.003)
        ('3/16 out', '1 9/32 in', '0')
    """
    if isinstance(toe_in, UnsetType):
        return "-"
    whole, part = divmod(Fraction(round(abs(toe_in) * 32), 32), 1)
    text = " ".join(str(each) for each in (whole, part) if each)
    return f"{text} {'in' if toe_in > 0 else 'out'}" if text else "0"


def _with_side(value: float | UnsetType, digits: int, sides: tuple[str, str]) -> str:
    """Write a size with the word for its sign, which a zero has none of."""
    text = fixed(value if isinstance(value, UnsetType) else abs(value), digits)
    return text if isinstance(value, UnsetType) or not float(text) else f"{text} {sides[value <= 0]}"
