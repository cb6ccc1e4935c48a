"""`studbook season [CAR]`: what was run, what was changed, what came of it."""

import datetime as dt
from pathlib import Path
from typing import Annotated, Final

import msgspec
from cyclopts import Parameter

from studbook.cli.endings import CommandFailedError
from studbook.cli.environment import open_book
from studbook.cli.export import TableForm, written
from studbook.cli.options import Json
from studbook.cli.printing import print_json
from studbook.cli.season_page import season_page
from studbook.formats.season_tables import season_tables
from studbook.wire.season import SeasonReport

COLUMNS: Final = "season.json"
"""Tells what the columns mean, with their units, whatever the form."""


def season(
    car: Annotated[str | None, Parameter(help="One car, with its nights; all cars without.")] = None,
    /,
    *,
    since: Annotated[dt.date | None, Parameter(name="--from", help="First day, such as 2026-03-01.")] = None,
    to: Annotated[dt.date | None, Parameter(help="Last day.")] = None,
    tables: Annotated[Path | None, Parameter(help="Write it as tables into this folder, for a data engineer.")] = None,
    form: Annotated[
        TableForm | None, Parameter(name="--format", help="Of the tables; parquet needs studbook[tables].")
    ] = None,
    json: Json = False,
) -> None:
    """Report a season: each night of a car, best and worst by track, what changes did, parts, money, time."""
    if form is not None and tables is None:
        raise CommandFailedError("say where to write: --tables FOLDER")
    if tables is not None and json:
        raise CommandFailedError("say one of --tables and --json")
    with open_book() as book:
        report = book.season(car=car, since=since, to=to)
    if tables is not None:
        _write(report, tables, form or "parquet")
    elif json:
        print_json(report)
    else:
        print(*season_page(report, nights=car is not None), sep="\n")


def _write(report: SeasonReport, folder: Path, form: TableForm) -> None:
    """Write each table to a file, in place of what an earlier report left there."""
    laid = season_tables(report)
    for name, (table, rows) in laid.items():
        file = folder / f"{name}.{form}"
        print(f"{file}: {written(rows, table, file, form)}")
    told = msgspec.json.encode([table for table, _ in laid.values()])
    (folder / COLUMNS).write_bytes(msgspec.json.format(told, indent=1))
