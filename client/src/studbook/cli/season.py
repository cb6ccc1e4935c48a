"""`studbook season [CAR]`: what was run, what was changed, what came of it."""

import datetime as dt
from typing import Annotated

from cyclopts import Parameter

from studbook.cli.environment import open_book
from studbook.cli.options import Json
from studbook.cli.printing import print_json
from studbook.cli.season_page import season_page


def season(
    car: Annotated[str | None, Parameter(help="One car, with its nights; all cars without.")] = None,
    /,
    *,
    since: Annotated[dt.date | None, Parameter(name="--from", help="First day, such as 2026-03-01.")] = None,
    to: Annotated[dt.date | None, Parameter(help="Last day.")] = None,
    json: Json = False,
) -> None:
    """Report a season: each night of a car, best and worst by track, what changes did, parts, money, time."""
    with open_book() as book:
        report = book.season(car=car, since=since, to=to)
    if json:
        print_json(report)
    else:
        print(*season_page(report, nights=car is not None), sep="\n")
