"""The report as tidy tables: every figure once, with its unit, in every form, and as other tools read them."""

import io
import random
from pathlib import Path
from typing import Any

import duckdb
import polars as pl
import pyarrow.parquet as pq
import pytest

from export.reading import from_csv, from_ndjson
from season.making import COMPOUND, STUD, Written, laps, night, raced
from season.test_parts_money_and_time import on, told
from studbook.formats.as_arrow import ParquetFile, to_arrow, to_pandas, to_polars
from studbook.formats.season_tables import Laid, season_tables
from studbook.wire.rows import csv_head, to_csv, to_ndjson
from studbook.wire.season import SeasonReport


@pytest.fixture(scope="module")
def report() -> SeasonReport:
    """Two cars that share a stud, a stud on no car, and twelve nights of changes."""
    chance = random.Random(6)  # noqa: S311 - made-up races
    settings = [{STUD: 1.2}, {STUD: 1.3}, {STUD: 1.2}, {STUD: 1.4}]
    book = raced(chance, nights=12, settings=settings, effect={STUD: -1.5}, cars=("7", "12"))
    hard = book.setup("7", note="=1+1", settings={COMPOUND: "hard"})
    words: dict[str, Any] = {
        "words": {"entry": "frees up"},
        "tires": {"rr": {"part": "t-1"}},
        "start_place": 6,
        "finish_place": 2,
    }
    book.ran(night(13), "heat-1", hard, laps(17), **words)
    preload: dict[str, Any] = {"basis": "running", "torque_in_lb": 8}
    book.given = {
        "parts": {"s-1": {"kind": "stud", "price_usd": 45}, "s-2": {"kind": "stud", "price_usd": 60}},
        "shop_records": {
            "s-1": [
                told("s-1", "fitted", "2026-05-01T08:00Z", place=on("7")),
                told("s-1", "preload", "2026-05-01T09:00Z", preload=preload),
                told("s-1", "fitted", "2026-05-05T08:00Z", place=on("12")),
            ],
            "s-2": [
                told("s-2", "preload", "2026-05-02T09:00Z", preload={**preload, "torque_in_lb": 9.5}),
                told("s-2", "scrapped", "2026-05-03T09:00Z"),
            ],
        },
    }
    return book.report()


@pytest.fixture(scope="module")
def tables(report: SeasonReport) -> dict[str, Laid]:
    return season_tables(report)


def test_each_row_is_told_apart_by_the_key_and_holds_only_columns(tables: dict[str, Laid]) -> None:
    assert all(tables[f"season_{name}"].rows for name in ("outings", "changes", "revisions", "tracks", "comparisons"))
    for name, (table, rows) in tables.items():
        assert table.name == name
        columns = [each.name for each in table.columns]
        assert len(columns) == len(set(columns))
        assert all(set(row) <= set(columns) for row in rows)
        keys = [tuple(row.get(each) for each in table.key) for row in rows]
        assert len(keys) == len(set(keys))


def test_units_are_those_of_the_report(tables: dict[str, Laid]) -> None:
    units = {(name, each.name): each.unit for name, (table, _) in tables.items() for each in table.columns if each.unit}
    assert units["season_outings", "median_s"] == units["season_outings", "against.interval.low_s"] == "s"
    assert units["season_outings", "tire_laps.rr"] == "count"
    assert units["season_preloads", "torque_in_lb"] == units["season_preloads", "drift_in_lb"] == "in_lb"
    assert units["season_parts", "price_usd"] == units["season_money", "price_usd"] == "usd"
    suffixes = {"_s": "s", "_usd": "usd", "_min": "min", "_in_lb": "in_lb"}
    for (_, column), unit in units.items():
        assert all(unit == wanted for suffix, wanted in suffixes.items() if column.endswith(suffix))


def test_other_tools_come_to_the_report_s_own_sums(report: SeasonReport, tables: dict[str, Laid]) -> None:
    changes, money, parts = (to_polars(*tables[f"season_{name}"]) for name in ("changes", "money", "parts"))
    sql = duckdb.connect()
    for name, laid in tables.items():
        sql.register(name, to_arrow(*laid))
    found = sql.sql(
        "SELECT car, count(*), sum(laps), avg(gained) FROM season_outings GROUP BY car ORDER BY car"
    ).fetchall()
    assert [row[:3] for row in found] == [(car.car, car.totals.outings, car.totals.laps) for car in report.cars]
    assert found[1][3] == report.cars[1].totals.gained == 4
    joined = sql.sql("SELECT count(*) FROM season_changes JOIN season_outings USING (outing)")
    assert joined.fetchall() == [(len(changes),)]
    stud = changes.filter(pl.col("path") == STUD)
    assert stud["unit"].unique().to_list() == ["in"]
    assert set(stud["after_number"]) == {1.2, 1.3, 1.4}
    assert report.team
    assert money.filter(pl.col("what") == "fitted")["price_usd"].sum() == report.team.money.fitted_usd == 45
    assert money.filter(pl.col("what") == "scrapped")["price_usd"].to_list() == [report.team.money.scrapped_usd]
    assert parts.filter(pl.col("part") == "s-1")["laps"].sum() == next(iter(report.team.parts)).laps
    assert parts.filter(pl.col("part") == "s-2")["car"].to_list() == [None]


def test_figures_are_those_of_the_report(report: SeasonReport, tables: dict[str, Laid]) -> None:
    last = tables["season_outings"].rows[-1]
    assert (last["car"], last["words.entry"], last["tire_laps.rr"], last["gained"]) == ("7", "frees up", 0, 4)
    first = tables["season_comparisons"].rows[0]
    wanted = report.cars[0].comparisons[0]
    assert wanted.interval
    assert (first["car"], first["effect_s"], first["least_number"]) == ("12", wanted.effect_s, 1.2)
    assert first["interval.chance_holm"] == wanted.interval.chance_holm
    assert "car" not in tables["season_comparisons"].rows[-1]
    told_ = [(row["part"], row["torque_in_lb"]) for row in tables["season_preloads"].rows]
    assert told_ == [("s-1", 8), ("s-2", 9.5)]
    assert tables["season_revisions"].rows[-1]["author.name"] == "Ada"


def test_they_are_read_back_from_every_form_as_they_were(tables: dict[str, Laid], tmp_path: Path) -> None:
    for name, (table, rows) in tables.items():
        text = (csv_head(table) + to_csv(table, rows)).decode()
        assert list(from_csv(table, io.StringIO(text, newline=""))) == rows
        assert from_ndjson(table, to_ndjson(rows)) == rows
        with ParquetFile(tmp_path / name, table) as file:
            file.write(rows)
        assert pl.read_parquet(tmp_path / name).equals(to_polars(table, rows))
        assert len(to_pandas(table, rows)) == len(rows)
    field = pq.read_schema(tmp_path / "season_outings").field("median_s")
    assert field.metadata[b"unit"] == b"s"
    assert field.metadata[b"unit_name"] == b"second"


def test_a_season_without_anything_has_its_columns() -> None:
    for table, rows in season_tables(Written(given={"names": {"7": "Old blue"}}).report()).values():
        assert rows == [] or table.name == "season_work"
        assert to_polars(table, rows).columns == [each.name for each in table.columns]
