"""A table's rows as Arrow, Polars, pandas and Parquet; needs the extra `studbook[tables]`.

Units and meanings go along as metadata of the Arrow fields and in Parquet files.
"""

import itertools
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from types import TracebackType
from typing import BinaryIO, Final, Self

import pandas as pd
import polars as pl
import pyarrow as pa
import pyarrow.parquet as pq

from studbook.wire.export import Column, ColumnType, Row, Table
from studbook.wire.units import UNITS

CELLS_AT_ONCE: Final = 100_000
GROUP_BYTES: Final = 8 << 20
"""Cells held as Python has them, and bytes of Arrow in one row group of a Parquet file: this bounds the memory."""

_TYPES: Final[dict[ColumnType, pa.DataType]] = {
    "text": pa.string(),
    "number": pa.float64(),
    "integer": pa.int64(),
    "flag": pa.bool_(),
    "time": pa.timestamp("ms", tz="UTC"),
    "numbers": pa.list_(pa.float64()),
    "json": pa.string(),
}


def schema_of(table: Table) -> pa.Schema:
    """Give a table's Arrow schema; `unit`, `unit_name` and `about` are metadata of its fields."""
    fields = [pa.field(each.name, _TYPES[each.type], metadata=_metadata(each)) for each in table.columns]
    return pa.schema(fields, metadata={"table": table.name, "about": table.about, "key": ",".join(table.key)})


def batches(table: Table, rows: Iterable[Row]) -> Iterator[pa.RecordBatch]:
    """Make Arrow batches of rows as they come, of about a hundred thousand cells each."""
    schema, coming = schema_of(table), iter(rows)
    while held := list(itertools.islice(coming, _at_once(table))):
        yield _batch(schema, held)


def to_arrow(table: Table, rows: Iterable[Row]) -> pa.Table:
    """Make an Arrow table.

    Example::
        tables = book.tables()
        to_arrow(tables["laps"], book.export("laps", until=tables.cursor))
    """
    return pa.Table.from_batches(batches(table, rows), schema_of(table))


def to_polars(table: Table, rows: Iterable[Row]) -> pl.DataFrame:
    """Make a Polars frame."""
    made = pl.from_arrow(to_arrow(table, rows))
    return made if isinstance(made, pl.DataFrame) else made.to_frame()


def to_pandas(table: Table, rows: Iterable[Row]) -> pd.DataFrame:
    """Make a pandas frame over Arrow's types, which know an empty cell from a number that is none."""
    return to_arrow(table, rows).to_pandas(types_mapper=pd.ArrowDtype)


class ParquetFile:
    """A Parquet file that is written as rows come.

    Example::
        with ParquetFile(path, table) as file:
            async for row in book.export(table):
                file.write([row])
    """

    def __init__(self, file: Path | BinaryIO, table: Table) -> None:
        self._schema, self._many = schema_of(table), _at_once(table)
        self._writer = pq.ParquetWriter(file, self._schema, compression="zstd")
        self._rows: list[Row] = []
        self._held: list[pa.RecordBatch] = []
        self._bytes = 0

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        with self._writer:
            if kind is None:
                self._batch()
                self._group()

    def write(self, rows: Iterable[Row]) -> int:
        """Write rows.

        Returns:
            How many they were.
        """
        many, coming = 0, iter(rows)
        while held := list(itertools.islice(coming, self._many - len(self._rows))):
            many += len(held)
            self._rows += held
            if len(self._rows) == self._many:
                self._batch()
        return many

    def _batch(self) -> None:
        batch = _batch(self._schema, self._rows)
        self._held.append(batch)
        self._bytes += batch.nbytes
        self._rows = []
        if self._bytes >= GROUP_BYTES:
            self._group()

    def _group(self) -> None:
        group = pa.Table.from_batches(self._held, self._schema)
        if len(group):
            self._writer.write_table(group, row_group_size=len(group))
        self._held, self._bytes = [], 0


def _at_once(table: Table) -> int:
    """Give how many rows are held as Python has them."""
    return max(64, CELLS_AT_ONCE // len(table.columns))


def _batch(schema: pa.Schema, rows: Sequence[Row]) -> pa.RecordBatch:
    """Make a batch; as one column of groups, as that takes one pass over the rows however many columns there are."""
    groups = pa.array(rows, pa.struct(list(schema)))
    return pa.RecordBatch.from_arrays(groups.flatten(), schema=schema)


def _metadata(column: Column) -> dict[str, str]:
    metadata = {"about": column.about} if column.about else {}
    if column.unit:
        metadata |= {"unit": column.unit, "unit_name": UNITS.get(column.unit, column.unit)}
    return metadata
