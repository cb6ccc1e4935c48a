"""`studbook export TABLE|all --to FOLDER`."""

import itertools
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Annotated, Final, Literal, NamedTuple

import msgspec
from cyclopts import Parameter

from studbook.cli.environment import open_book
from studbook.cli.exit_codes import REFUSED, CommandFailedError
from studbook.cli.files import check_writable, read_file, write_file
from studbook.cli.printing import wrapped
from studbook.history.canonical import SLUG
from studbook.wire.export import Column, Row, Table, Tables
from studbook.wire.rows import csv_head, to_csv, to_ndjson

TableForm = Literal["parquet", "csv", "ndjson"]

KEPT: Final = "export.json"
ALL: Final = "all"
WHOLE: Final = "effects"
"""Exported whole each time: effects that were missing then may be computed by now."""

_ROWS_AT_ONCE: Final = 1000


class ExportedTable(msgspec.Struct):
    """What was taken of one table: until which cursor, and what its columns mean."""

    cursor: str
    columns: list[Column]


class FolderExports(msgspec.Struct):
    """What a folder keeps of the exports into it."""

    form: TableForm
    tables: dict[str, ExportedTable]


def export(
    name: Annotated[str, Parameter(help="A table, such as laps; all for every one; list to see them.")],
    /,
    *,
    to: Annotated[Path | None, Parameter(help="The folder, in which each table gets a folder of files.")] = None,
    form: Annotated[
        TableForm, Parameter(name="--format", help="For parquet: pip install studbook[tables]")
    ] = "parquet",
    since: Annotated[bool, Parameter(negative="", help="Add what was recorded since the last export there.")] = False,
    within_s: Annotated[float, Parameter(help="Seconds to compute effects that are not known yet.")] = 5.0,
) -> None:
    """Write the book, or one table of it, as files for a data engineer.

    Rows never change: a correction adds rows. An entry is no longer current once a later row of `entries` names it
    among its parents.
    """
    with open_book() as book:
        tables = book.tables()
        if name == "list":
            print(*_listed(tables), sep="\n")
            return
        if to is None:
            raise CommandFailedError("say where to write: --to FOLDER")
        wanted = tables.items if name == ALL else [_named(tables, name)]
        if not all(SLUG.fullmatch(each.name) for each in wanted):
            raise CommandFailedError("the service names a table that is no name of a folder", code=REFUSED)
        kept = _kept(to, form, [each.name for each in wanted], since=since)
        for each in wanted:
            known = kept.tables.get(each.name)
            after = known.cursor if known is not None and each.name != WHOLE else None
            file = to / each.name / f"{_seq(after):09}.{form}"
            many = write_table(book.export(each, after=after, until=tables.cursor, within_s=within_s), each, file, form)
            kept.tables[each.name] = ExportedTable(tables.cursor, each.columns)
            if after is not None and not many.rows:
                file.unlink()
                print(f"{each.name}: nothing new")
            else:
                print(f"{file}: {many}")
    write_file(to / KEPT, msgspec.json.format(msgspec.json.encode(kept), indent=1))


class RowCounts(NamedTuple):
    """How many rows were written, and how many of them say that something is not computed yet."""

    rows: int
    pending: int

    def __str__(self) -> str:
        """Write it in words."""
        later = f"; the effects of {self.pending} revisions were not computed yet: export them again"
        return f"{self.rows} rows{later if self.pending else ''}"


def write_table(rows: Iterable[Row], table: Table, file: Path, form: TableForm) -> RowCounts:
    """Write a table to a file, which is there only once it is whole."""
    file.parent.mkdir(parents=True, exist_ok=True)
    begun = file.with_suffix(".part")
    check_writable(file)
    begun.unlink(missing_ok=True)  # what an export left that broke off, or a link that is not to be followed
    many = pending = 0

    def counted() -> Iterator[Row]:
        nonlocal many, pending
        for row in rows:
            many += 1
            pending += bool(row.get("pending"))
            yield row

    if form == "parquet":
        try:
            from studbook.formats.as_arrow import ParquetFile  # noqa: PLC0415 - of an extra
        except ImportError as error:
            raise CommandFailedError(f'Parquet needs more ({error.name}): pip install "studbook[tables]"') from None
        with begun.open("xb") as out, ParquetFile(out, table) as parquet:
            parquet.write(counted())
    else:
        with begun.open("xb") as out:
            coming = counted()
            if form == "csv":
                out.write(csv_head(table))
            while held := list(itertools.islice(coming, _ROWS_AT_ONCE)):
                out.write(to_csv(table, held) if form == "csv" else to_ndjson(held))
    begun.replace(file)
    return RowCounts(many, pending)


def _kept(to: Path, form: TableForm, names: list[str], *, since: bool) -> FolderExports:
    """Read what was exported there before.

    Raises:
        CommandFailedError: there is an export and it is not to go on, or there is none that could; or of another form.
    """
    file = to / KEPT
    if not file.exists():
        if since:
            raise CommandFailedError(f"{to} holds no export to go on from: leave --since out")
        return FolderExports(form, {})
    try:
        kept = msgspec.json.decode(read_file(file), type=FolderExports)
    except msgspec.DecodeError as error:
        raise CommandFailedError(f"{file} is no list of exports: {error}") from None
    if kept.form != form:
        raise CommandFailedError(
            f"{to} holds an export as {kept.form}: add --format {kept.form}, or take another folder"
        )
    if not since and any(name in kept.tables for name in names):
        raise CommandFailedError(f"{to} holds an export: --since adds what came since, or take another folder")
    return kept


def _named(tables: Tables, name: str) -> Table:
    try:
        return tables[name]
    except KeyError:
        raise CommandFailedError(f"there is no table {name}: {', '.join(each.name for each in tables.items)}") from None


def _seq(cursor: str | None) -> int:
    return 0 if cursor is None else int(cursor.partition("-")[0])


def _listed(tables: Tables) -> list[str]:
    wide = max(len(each.name) for each in tables.items)
    head = f"{'table':<{wide}}  columns  "
    lines = [f"{head}what"]
    for each in tables.items:
        lines += wrapped(each.about, first=f"{each.name:<{wide}}  {len(each.columns):>7}  ", indent=" " * len(head))
    return lines
