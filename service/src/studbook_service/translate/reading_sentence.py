"""A reading of a car that came back as a sentence, with the question to ask where it is off."""

from collections.abc import Callable, Mapping
from typing import Final

from msgspec import UNSET

from studbook.wire.around_scales import Finding
from studbook_service.translate.words import inches, signed

QUESTIONS: Final[Mapping[str, str]] = {
    "corner": "a perch turned, a spring sagged, a bar that binds?",
    "total": "fuel, driver or ballast that is not as it was?",
    "cross": "a perch turned, a spring sagged, a bar that binds?",
    "height": "tire pressure, a perch turned, a spring sagged?",
    "camber": "bent or slipped?",
    "caster": "bent or slipped?",
    "toe": "a tie rod bent, or its sleeve slipped?",
    "lead": "a rod bent, or its end slipped?",
    "play": "worn, or its cap backed off?",
}
"""By subject. Common practice, no source."""


def finding_sentence(found: Finding) -> str:
    """Write a reading with its difference and, beyond tolerance, what to look at.

    Example:
        >>> finding_sentence(Finding(what="RF camber", subject="camber", read=-4.6, unit="deg", text="", expected=-4.0,
        ...     difference=-0.6, tolerance=0.3, beyond=True))
        'RF camber -0.60 deg with nothing recorded: bent or slipped?'
    """
    if found.difference is UNSET:
        return f"{found.what} {_figure(found)}: the book has nothing to compare it with"
    if not found.beyond:
        return f"{found.what} {_figure(found)}: as it was left, within {found.tolerance:.3g}"
    off = _OFF[found.subject](found.difference)
    beside = "with nothing recorded" if not found.recorded else "beside what was recorded"
    return f"{found.what} {off} {beside}: {QUESTIONS[found.subject]}"


def _figure(found: Finding) -> str:
    digits = {"lb": 0, "percent": 1, "deg": 2, "in": 3}[found.unit]
    return f"{found.read:.{digits}f} {'%' if found.unit == 'percent' else found.unit}"


def _length(difference: float) -> str:
    return f"{'+' if difference > 0 else '-'}{inches(abs(difference))}"


def _toe(difference: float) -> str:
    return f"{inches(abs(difference))} {'in' if difference > 0 else 'out'}"


_OFF: Final[Mapping[str, Callable[[float], str]]] = {
    "corner": lambda difference: f"{signed(difference, 1)} lb",
    "total": lambda difference: f"{signed(difference, 0)} lb",
    "cross": lambda difference: f"{signed(difference, 1)} %",
    "height": _length,
    "camber": lambda difference: f"{signed(difference, 2)} deg",
    "caster": lambda difference: f"{signed(difference, 2)} deg",
    "toe": _toe,
    "lead": _length,
    "play": lambda difference: f"{signed(difference, 3)} in",
}
