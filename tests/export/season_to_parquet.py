"""A season to Parquet, then a question of it: which stud changes moved the best lap at dry-slick tracks?

`STUDBOOK_URL=… STUDBOOK_TOKEN=… python season_to_parquet.py FOLDER`. Run again it takes only what is new since. DuckDB
and Polars answer alike, as JSON. A change beside which others were made is told with their number: nothing is credited.
"""

import json
import os
import sys
from pathlib import Path

import duckdb
import polars as pl

from studbook import Studbook
from studbook.formats.as_arrow import ParquetFile

TABLES = ("entries", "revisions", "changes", "outings")
STATE = "dry_slick"

QUESTION = """
WITH followed AS (
    SELECT unnest(from_json(parents, '["VARCHAR"]')) AS entry FROM read_parquet('{folder}/entries/*.parquet')
),
raced AS (
    SELECT o.car, o.started_at, o.best_lap_s, r.line, r.generation,
           lag(o.best_lap_s) OVER earlier AS best_before_s, lag(r.generation) OVER earlier AS generation_before
      FROM read_parquet('{folder}/outings/*.parquet') o
      JOIN read_parquet('{folder}/revisions/*.parquet') r ON r.entry = o.revision
     WHERE o.track_state = '{state}' AND o.entry NOT IN (FROM followed)
    WINDOW earlier AS (PARTITION BY o.car, r.line ORDER BY o.started_at)
),
changed AS (
    SELECT raced.*, c.path, c.generation AS changed_at, c.before_number, c.after_number
      FROM raced
      JOIN read_parquet('{folder}/changes/*.parquet') c
        ON c.line = raced.line AND c.generation > raced.generation_before AND c.generation <= raced.generation
     WHERE c.path <> 'notes'
),
net AS (
    SELECT car, started_at, path, best_before_s, best_lap_s,
           arg_min(before_number, changed_at) AS stud_before_in, arg_max(after_number, changed_at) AS stud_after_in,
           count(*) OVER (PARTITION BY car, started_at) - 1 AS beside
      FROM changed GROUP BY car, started_at, path, best_before_s, best_lap_s
)
SELECT car, started_at, path, stud_before_in, stud_after_in, round(best_lap_s - best_before_s, 3) AS moved_s, beside
  FROM net WHERE path LIKE '%_stud.length_in' AND stud_before_in <> stud_after_in
 ORDER BY car, started_at, path
"""


def export(folder: Path) -> None:
    """Add what is new since the last time, a file for each table."""
    folder.mkdir(exist_ok=True)
    kept = folder / "cursor"
    since = kept.read_text() if kept.exists() else None
    with Studbook(os.environ["STUDBOOK_URL"], os.environ["STUDBOOK_TOKEN"]) as book:
        tables = book.tables()
        for name in TABLES:
            place = folder / name
            place.mkdir(exist_ok=True)
            with ParquetFile(place / f"{tables.cursor}.parquet", tables[name]) as file:
                file.write(book.export(tables[name], after=since, until=tables.cursor))
    kept.write_text(tables.cursor)


def by_duckdb(folder: Path) -> list[dict[str, object]]:
    """Ask DuckDB."""
    found = duckdb.sql(QUESTION.format(folder=folder, state=STATE))
    assert found is not None  # as it is for words that give no rows
    rows: list[dict[str, object]] = found.pl().to_dicts()
    return rows


def by_polars(folder: Path) -> list[dict[str, object]]:
    """Ask Polars."""
    entries, revisions, changes, outings = (pl.scan_parquet(folder / name / "*.parquet") for name in TABLES)
    followed = entries.select(entry=pl.col("parents").str.json_decode(pl.List(pl.String))).explode("entry").drop_nulls()
    raced = (
        outings.filter(pl.col("track_state") == STATE)
        .join(followed, on="entry", how="anti")
        .join(revisions.select("generation", revision="entry", sheet_line="line"), on="revision")
        .select("car", "started_at", "best_lap_s", "generation", line="sheet_line")
        .with_columns(
            best_before_s=pl.col("best_lap_s").shift().over("car", "line", order_by="started_at"),
            generation_before=pl.col("generation").shift().over("car", "line", order_by="started_at"),
        )
    )
    net = (
        changes.filter(pl.col("path") != "notes")
        .select("line", "path", "before_number", "after_number", changed_at="generation")
        .join(raced, on="line")
        .filter(pl.col("changed_at").is_between("generation_before", "generation", closed="right"))
        .group_by("car", "started_at", "path", "best_before_s", "best_lap_s")
        .agg(
            stud_before_in=pl.col("before_number").sort_by("changed_at").first(),
            stud_after_in=pl.col("after_number").sort_by("changed_at").last(),
        )
        .with_columns(beside=pl.len().over("car", "started_at").cast(pl.Int64) - 1)
    )
    return (
        net.filter(
            pl.col("path").str.ends_with("_stud.length_in") & (pl.col("stud_before_in") != pl.col("stud_after_in"))
        )
        .with_columns(moved_s=(pl.col("best_lap_s") - pl.col("best_before_s")).round(3))
        .sort("car", "started_at", "path")
        .select("car", "started_at", "path", "stud_before_in", "stud_after_in", "moved_s", "beside")
        .collect()
        .to_dicts()
    )


if __name__ == "__main__":
    export(Path(sys.argv[1]))
    answers = {"duckdb": by_duckdb(Path(sys.argv[1])), "polars": by_polars(Path(sys.argv[1]))}
    sys.stdout.write(json.dumps(answers))
