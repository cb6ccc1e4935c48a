"""The report as a page: it fits, and says no more than the report does."""

import random

from season.making import STUD, Written, laps, night, raced, ran
from studbook.cli.season_page import season_page
from studbook.wire.shelf import SplitRead
from studbook_service.season.report import report
from studbook_service.season.told import Season


def fits(page: list[str]) -> str:
    assert max(map(len, page)) <= 98
    return "\n".join(page)


def test_a_night_tells_changes_words_and_what_came_of_it() -> None:
    book = Written()
    book.ran(night(0), "heat-1", book.setup("7"), laps(17.4), start_place=6, finish_place=4)
    longer = book.setup("7", note="too tight in", **{STUD: 1.3})
    name = book.ran(night(0), "feature", longer, laps(17.2), words={"entry": "frees up", "exit": "tight " * 40})
    found = book.report()
    page = fits(season_page(found, nights=True))
    assert page.startswith("CAR 7  Number 7\n1 nights, 2 outings, 10 laps, +2.0 places an outing (n=1)")
    assert f"{STUD}  1.2 -> 1.3 in" in page
    assert '"too tight in"' in page
    assert "driver: entry frees up; exit tight tight" in page
    assert "= cannot be told from noise: 1 outing against 1" in page
    assert ran(found, name).against
    assert "frees up" not in fits(season_page(found, nights=False))


def test_comparisons_show_counts_interval_and_verdict() -> None:
    settings = [{STUD: 1.2}, {STUD: 1.3}, {STUD: 1.2}, {STUD: 1.4}]
    chance = random.Random(6)  # noqa: S311 - made-up races
    page = fits(season_page(raced(chance, nights=20, settings=settings, effect={STUD: -1.5}).report(), nights=False))
    flat = " ".join(page.split())
    assert f"- slick, {STUD}: FASTER. n=80 outings on 20 nights, -0.1" in flat
    assert "after Holm" in flat
    assert "THE TEAM" in flat
    assert "changes between outings and 1 things over the season were asked" in flat


def test_split_lines_and_an_empty_season() -> None:
    split = SplitRead(line=f"outing/{night(0)}/7/heat-1", used="a" * 64, tips=["a" * 64, "b" * 64])
    page = fits(season_page(report(Season(names={"7": "Old blue"}), [split]), nights=True))
    assert "CAR 7  Old blue\n0 nights, 0 outings, 0 laps" in page
    assert f"outing/{night(0)}/7/heat-1: aaaaaaaaaaaa of 2" in page
