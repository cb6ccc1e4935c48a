"""One value in every form: whatever rows a table holds, Arrow, Polars, pandas, Parquet, CSV and JSON give them back."""

import datetime as dt
import io
from pathlib import Path
from typing import Any

import pandas as pd
import polars as pl
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from hypothesis import given
from hypothesis import strategies as st

from export.reading import from_csv, from_ndjson
from studbook.core.flows.export import Lines
from studbook.formats import as_arrow
from studbook.formats.as_arrow import ParquetFile, batches, schema_of, to_arrow, to_pandas, to_polars
from studbook.wire.export import Column, ColumnType, Row, Table
from studbook.wire.rows import csv_head, from_pages, to_csv, to_ndjson, to_pages

NUMBERS = st.floats(-1e9, 1e9).map(lambda value: round(value, 6) + 0.0)
TEXT = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), min_size=1) | st.sampled_from(
    ["=1+1", "'=1", "'", '"', ",", "\r\n", "\n", "-", "@a", "NULL", "nan", "true", " 1 ", "\u2028", "\ufeff"]
)
EPOCH = dt.datetime.fromtimestamp(0, dt.UTC)
TIMES = st.integers(0, 4_000_000_000_000).map(lambda ms: EPOCH + dt.timedelta(milliseconds=ms))
CELLS: dict[ColumnType, st.SearchStrategy[Any]] = {
    "text": TEXT,
    "number": NUMBERS,
    "integer": st.integers(-(2**53), 2**53),
    "flag": st.booleans(),
    "time": TIMES,
    "numbers": st.lists(NUMBERS, max_size=4),
    "json": st.sampled_from(['{"a":[1,2]}', '"=1"', "-4", "[[1,2],[3,4]]"]),
}
NAMES = ("line", "setup.front.rf.upper_stud.length_in", "other", "a,b", "=c")


@st.composite
def filled(draw: st.DrawFn) -> tuple[Table, list[Row]]:
    """A table of any columns and rows of it."""
    types = draw(st.lists(st.sampled_from(sorted(CELLS)), min_size=1, max_size=len(NAMES)))
    columns = [Column(name=name, type=type_, unit="in") for name, type_ in zip(NAMES, types, strict=False)]
    rows = draw(st.lists(st.fixed_dictionaries({}, optional={each.name: CELLS[each.type] for each in columns})))
    return Table(name="any", about="of a test", key=[NAMES[0]], columns=columns), rows


def present(rows: list[Row]) -> list[Row]:
    return [{name: cell for name, cell in row.items() if cell is not None} for row in rows]


@given(filled(), st.data())
def test_pages(of: tuple[Table, list[Row]], data: st.DataObject) -> None:
    table, rows = of
    parts: list[list[Row]] = []
    for row in rows:  # now and then with the first part of the row before
        cut = data.draw(st.integers(0, len(row)))
        head, tail = ({name: row[name] for name in names} for names in (list(row)[:cut], list(row)[cut:]))
        parts.append([parts[-1][0] if parts and parts[-1][0] == head else head, tail])
    half = len(rows) // 2
    sent, lines = to_pages(parts[:half]) + to_pages(parts[half:]), Lines(table)
    assert [row for at in range(0, len(sent), 7) for row in lines.rows(sent[at : at + 7])] == rows


@pytest.mark.parametrize("page", ["{}", "[[]]", "[[],[[0]]]", '[[{"a":1}],[[0,1]]]', '[[{"a":1}],[[-1]]]', "[[1],[]]"])
def test_what_is_no_page_is_told(page: str) -> None:
    with pytest.raises(ValueError, match=r"part|Expected|>= 0"):
        from_pages(Table(name="", about="", key=[], columns=[]), page.encode())


HARD: dict[ColumnType, list[Any]] = {
    "text": ["2026-05-02", "2026-05-02T18:30:00Z", "18:30", "1e3", "a\nb", 'said "é\u2028𝄞"', "NULL", "-"],
    "number": [-0.0, 1e-6, 1e22, 5e-324, 1.7976931348623157e308, 0.1 + 0.2, 3.0],
    "integer": [-(2**63), 2**63 - 1, 2**53 + 1, 0],
    "json": ["[-0.0,1e-06]", "null", '"2026-05-02"'],
    "numbers": [[], [-0.0, 1e-6], [1.5]],
}


@pytest.mark.parametrize("type_", HARD)
def test_hard_values_are_the_same_in_every_form(type_: ColumnType) -> None:
    table = Table(name="", about="", key=[], columns=[Column(name=name, type=type_) for name in "ab"])
    rows: list[Row] = [{"a": cell, "b": HARD[type_][0]} for cell in HARD[type_]]
    text = (csv_head(table) + to_csv(table, rows)).decode()
    file = io.BytesIO()
    with ParquetFile(file, table) as parquet:
        parquet.write(from_pages(table, to_pages([[row] for row in rows])))
    file.seek(0)
    for told in (
        from_pages(table, to_pages([[row] for row in rows])),
        from_ndjson(table, to_ndjson(rows)),
        list(from_csv(table, io.StringIO(text, newline=""))),
        to_arrow(table, rows).to_pylist(),
        to_polars(table, rows).to_dicts(),
        pq.read_table(file).to_pylist(),
    ):
        assert repr(told) == repr(rows), "to the bit and the type"


@given(filled())
def test_lines_of_json_and_csv(of: tuple[Table, list[Row]]) -> None:
    table, rows = of
    assert from_ndjson(table, to_ndjson(rows)) == rows
    text = (csv_head(table) + to_csv(table, rows)).decode()
    if len(table.columns) > 1:  # a row of one empty cell is a blank line, which a reader may take for none
        assert list(from_csv(table, io.StringIO(text, newline=""))) == rows


@given(filled())
def test_arrow_polars_and_pandas(of: tuple[Table, list[Row]]) -> None:
    table, rows = of
    arrow = to_arrow(table, rows)
    assert present(arrow.to_pylist()) == rows
    frame = to_polars(table, rows)
    assert isinstance(frame, pl.DataFrame)
    assert present(frame.to_dicts()) == rows
    pandas = to_pandas(table, rows)
    assert present(pa.Table.from_pandas(pandas, schema=schema_of(table), preserve_index=False).to_pylist()) == rows


@given(filled())
def test_parquet(of: tuple[Table, list[Row]]) -> None:
    table, rows = of
    file = io.BytesIO()
    with ParquetFile(file, table) as parquet:
        assert parquet.write(rows) == len(rows)
    file.seek(0)
    assert present(pq.read_table(file).to_pylist()) == rows
    file.seek(0)
    assert present(pl.read_parquet(file).to_dicts()) == rows


def test_a_file_of_many_row_groups_is_read_as_one(tmp_path: Path, monkeypatch: Any) -> None:
    monkeypatch.setattr(as_arrow, "CELLS_AT_ONCE", 128)
    monkeypatch.setattr(as_arrow, "GROUP_BYTES", 3000)
    table = Table(name="laps", about="", key=[], columns=[Column(name="time_s", type="number", unit="s")])
    rows = [{"time_s": 17 + number / 1000} for number in range(1000)]
    with ParquetFile(tmp_path / "laps.parquet", table) as parquet:
        assert sum(parquet.write([row]) for row in rows) == 1000
    read = pq.ParquetFile(tmp_path / "laps.parquet")
    assert read.num_row_groups > 1
    assert read.read().to_pylist() == rows
    assert sum(len(batch) for batch in batches(table, rows)) == 1000


def test_cells_of_columns_that_a_table_has_not_are_passed_over() -> None:
    table = Table(name="laps", about="", key=[], columns=[Column(name="lap", type="integer")])
    assert to_arrow(table, [{"of_later": "x", "lap": 1}, {"of_later": "y"}, {}]).to_pylist() == [
        {"lap": 1},
        {"lap": None},
        {"lap": None},
    ]
    assert to_arrow(table, []).num_rows == 0


def test_units_go_along() -> None:
    table = Table(name="laps", about="each lap", key=["lap"], columns=[Column(name="time_s", type="number", unit="s")])
    schema = schema_of(table)
    assert schema.field("time_s").metadata == {b"unit": b"s", b"unit_name": b"second"}
    assert schema.metadata == {b"table": b"laps", b"about": b"each lap", b"key": b"lap"}
    assert isinstance(to_pandas(table, [{}]).dtypes["time_s"], pd.ArrowDtype)
