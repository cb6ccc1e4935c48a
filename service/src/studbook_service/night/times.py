"""Times as people write them into records, as ms since 1970, UTC.

An outing without a time of its own ran before it was first entered: on its event's UTC day it counts as begun then,
later at the end of that day. A correction makes it no later.
"""

import datetime as dt
import re
from typing import Any, Final

_EPOCH: Final = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)
_MS: Final = dt.timedelta(milliseconds=1)
_FORM: Final = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d(:\d\d)?(Z|[+-]\d\d:\d\d)", re.ASCII)
_TO_THE_MINUTE: Final = re.compile(r"T\d\d:\d\d($|[Z+-])")
MINUTE_MS: Final = 60_000
DAY_MS: Final = 24 * 60 * MINUTE_MS


def moment_ms(text: Any) -> int | None:
    """Read a time with its offset; None where it is none.

    Example:
        >>> moment_ms("2026-05-02T19:40-05:00") == moment_ms("2026-05-03T00:40Z")
        True
        >>> moment_ms("2026-13-02T19:40Z")
    """
    read = _read(text)
    return None if read is None else ms_of(read)


def latest_ms(text: Any) -> int | None:
    """Give the last moment that a time may mean: written to the minute, it may be any second of it.

    Example:
        >>> latest_ms("1970-01-01T00:01Z"), latest_ms("1970-01-01T00:01:00Z")
        (119999, 60000)
    """
    ms = moment_ms(text)
    return ms if ms is None or not _TO_THE_MINUTE.search(text) else ms + MINUTE_MS - 1


def day_of(text: Any) -> dt.date | None:
    """Give the date, on the clock it was read from, of a time or a date; None where it is none.

    Example:
        >>> day_of("2026-05-02T23:40-05:00")
        datetime.date(2026, 5, 2)
    """
    if not isinstance(text, str):
        return None
    try:
        return dt.date.fromisoformat(text[:10])
    except ValueError:
        return None


def day_ms(day: dt.date) -> int:
    """Give midnight UTC at a date's beginning.

    Example:
        >>> day_ms(dt.date(1970, 1, 2)) == DAY_MS
        True
    """
    return (day - dt.date(1970, 1, 1)).days * DAY_MS


def began_ms(event: str, started_at: Any, *, entered_ms: int | None) -> int | None:
    """Give when an outing began, as near as it is known; None where the event has no date either.

    Args:
        event: which begins with its date.
        started_at: its own time, if it has one.
        entered_ms: when it was first entered, where its own time is missing.

    Example:
        >>> began_ms("1970-01-01-north", "1970-01-01T00:01Z", entered_ms=None)
        60000
        >>> began_ms("1970-01-01-north", None, entered_ms=80_000), began_ms("1970-01-01-north", None, entered_ms=10**9)
        (80000, 86399999)
    """
    ms, day = moment_ms(started_at), day_of(event)
    if ms is not None or day is None:
        return ms
    end = day_ms(day) + DAY_MS - 1
    return end if entered_ms is None or entered_ms < day_ms(day) else min(entered_ms, end)


def ms_of(at: dt.datetime) -> int:
    """Give a time as ms.

    Example:
        >>> ms_of(moment(60_000))
        60000
    """
    return (at - _EPOCH) // _MS


def moment(ms: int) -> dt.datetime:
    """Give ms as a time.

    Example:
        >>> moment(60_000).isoformat()
        '1970-01-01T00:01:00+00:00'
    """
    return _EPOCH + ms * _MS


def _read(text: Any) -> dt.datetime | None:
    if not isinstance(text, str) or not _FORM.fullmatch(text):
        return None
    try:
        return dt.datetime.fromisoformat(text).astimezone(dt.UTC)
    except (ValueError, OverflowError):
        return None
