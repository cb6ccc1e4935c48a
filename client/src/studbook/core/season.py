"""What is asked of a season. No I/O."""

import datetime as dt

from msgspec import UNSET

from studbook.wire.season import SeasonQuery


def season_asked(*, car: str | None, since: dt.date | None, to: dt.date | None) -> SeasonQuery:
    """Ask for a part of a season; None asks for all.

    Example:
        >>> season_asked(car="7", since=dt.date(2026, 5, 1), to=None)
        SeasonQuery(car='7', since='2026-05-01', to=UNSET)
    """
    return SeasonQuery(
        car=UNSET if car is None else car,
        since=UNSET if since is None else since.isoformat(),
        to=UNSET if to is None else to.isoformat(),
    )
