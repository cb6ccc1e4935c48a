"""Readings of the four pads as people type them: `590,503,718,629`."""

from studbook.cli.endings import CommandFailedError


def four(text: str) -> list[float]:
    """Read LF, RF, LR, RR.

    Raises:
        CommandFailedError: they are not four numbers.

    Example:
        >>> four("590,503,718,629.5")
        [590.0, 503.0, 718.0, 629.5]
    """
    try:
        pads = [float(pad) for pad in text.split(",")]
    except ValueError:
        pads = []
    if len(pads) != 4:
        raise CommandFailedError(f"{text[:80]!r} is no reading: write LF,RF,LR,RR such as 590,503,718,629")
    return pads
