"""The report as a page: it fits, and says no more than the report does."""

import datetime as dt
import random
from typing import Any

from msgspec import UNSET

from season.making import STUD, Written, laps, night, raced, ran
from studbook.cli.season import season_page
from studbook.wire.records import fitting
from studbook.wire.season import CarSeason, Money, PartLife, SeasonReport, TeamSeason, Totals, WorkTime
from studbook.wire.shelf import PreloadRead, SplitRead
from studbook.wire.shop import Log
from studbook_service.night.times import moment_ms
from studbook_service.season.inputs import Season, SeasonLog
from studbook_service.season.report import report


def fits(page: list[str]) -> str:
    assert max(map(len, page)) <= 98
    return "\n".join(page)


def test_a_night_tells_changes_words_and_what_came_of_it() -> None:
    book = Written()
    book.ran(night(0), "heat-1", book.setup("7"), laps(17.4), start_place=6, finish_place=4)
    longer = book.setup("7", note="too tight in", settings={STUD: 1.3})
    name = book.ran(night(0), "feature", longer, laps(17.2), words={"entry": "frees up", "exit": "tight " * 40})
    found = book.report()
    page = fits(season_page(found, nights=True))
    assert page.startswith("CAR 7  Number 7\n1 night, 2 outings, 10 laps, +2.0 places an outing (n=1)")
    assert f"since heat-1: RF upper stud\n      {STUD}  1.2 -> 1.3 in\n" in page
    assert f'{longer[:12]} Ada: "too tight in"' in page
    assert "driver: entry frees up; exit tight tight" in page
    assert "= beside heat-1: cannot be told from noise: 1 outing against 1" in page
    assert ran(found, name).against
    assert "frees up" not in fits(season_page(found, nights=False))


def test_of_many_changes_each_group_shows_a_measured_field_first() -> None:
    book = Written()
    book.ran(night(0), "heat-1", book.setup("7"), laps(17.4))
    piece = {f"setup.ballast.aft.{name}": "new" for name in ("fixing", "marked", "own_a", "own_b", "own_c", "own_d")}
    changed = {**piece, "setup.ballast.aft.weight_lb": 25, STUD: 1.3, "setup.rear.rr.spring.rate_lb_per_in": 185}
    book.ran(night(0), "feature", book.setup("7", settings=changed), laps(17.2))
    page = fits(season_page(book.report(), nights=True))
    shown = [f"{STUD}  1.2 -> 1.3 in", "setup.ballast.aft.weight_lb", "setup.rear.rr.spring.rate_lb_per_in"]
    assert all(each in page for each in shown)
    assert "fields besides: 1 more of the setup" in page


def test_comparisons_show_counts_interval_and_verdict() -> None:
    settings = [{STUD: 1.2}, {STUD: 1.3}, {STUD: 1.2}, {STUD: 1.4}]
    chance = random.Random(6)  # noqa: S311 - made-up races
    page = fits(season_page(raced(chance, nights=20, settings=settings, effect={STUD: -1.5}).report(), nights=False))
    flat = " ".join(page.split())
    assert f"- slick, RF upper stud, {STUD}: FASTER. n=80 outings on 20 nights, -0.1" in flat
    assert "after Holm" in flat
    assert "THE TEAM" in flat
    assert "adjusted for: 52 changes between outings, 1 factor over the season" in flat


def test_what_led_to_a_revision_is_listed_with_what_was_only_logged() -> None:
    book = Written()
    race = book.setup("7", note="as surveyed")
    book.ran(night(0), "feature", race, laps(17), at="2026-05-01T20:00Z")
    steps = [book.setup("7", sheet="slick", at="2026-05-02T10:00Z", carried_from=race)]
    for number in range(1, 8):
        step = {"note": f"step {number}", "at": f"2026-05-02T1{number}:00Z"}
        fields: dict[str, Any] = {f"setup.rear.rr.made_up_{each}": each for each in range(number)}
        fields |= {"notes": f"{number}", STUD: 1.3}
        steps.append(book.setup("7", sheet="slick", after=steps[-1:], settings=fields, **step))
    name = book.ran(night(1), "heat-1", steps[-1], laps(16), at="2026-05-02T20:00Z")
    record = fitting({"changes": ["setup.rear.rr.tire.pressure_cold_psi-=1"], "by": "Chris"}, Log)
    log = SeasonLog(name="7/2026-05-02-1900", car="7", at_ms=moment_ms("2026-05-02T19:00Z") or 0, document=record)
    found = book.report(logs=[log])
    page = fits(season_page(found, nights=True))
    assert '"as surveyed"' in page
    assert "    since 2026-05-01-north feature: RF upper stud" in page
    assert "made_up_7" not in page
    assert "fields besides: 1 of readings and notes" in page
    assert f"  > of another sheet: 7/slick, after 7/race; carried from {race[:12]} of 7/race" in page
    assert "    2 revisions before these" in page
    assert "step 1" not in page
    assert f'{steps[-1][:12]} Ada: "step 7"' in page
    flat = " ".join(page.split())
    assert "by Chris, in no revision then: setup.rear.rr.tire.pressure_cold_psi-=1" in flat
    assert "! 7/2026-05-02-1900 was turned after its revision was recorded" in flat
    assert "* something had been turned that its revision does not have" in page
    assert ran(found, name).left_out


def test_parts_that_ran_the_same_share_a_row_and_no_tag_is_lost() -> None:
    tags = [f"t-{number:02}-with-a-long-name" for number in range(12)]
    parts = [PartLife(part=tag, laps=20, outings=2, nights=1, laps_ever=30, kind="tire", price_usd=165) for tag in tags]
    parts.append(PartLife(part="s-1", laps=5, outings=1, nights=1, laps_ever=5, kind="stud", alerts=["bent"]))
    parts.append(PartLife(part="s-2", laps=5, outings=1, nights=1, laps_ever=5, kind="stud", scrapped=True))
    reads = [
        PreloadRead(
            at=dt.datetime(2026, 5, 1 + day, tzinfo=dt.UTC),
            torque_in_lb=48 - 5 * day,
            record=f"j-1/2026-05-0{1 + day}-preload-1",
            basis="running" if day else "breakaway",
            drift_in_lb=UNSET if not day else 2,
        )
        for day in range(7)
    ]
    parts.append(PartLife(part="j-1", laps=1, outings=1, nights=1, laps_ever=5, kind="joint", preloads=reads))
    team = TeamSeason(totals=Totals(), comparisons=[], parts=parts, money=Money(), work=WorkTime())
    found = SeasonReport(cars=[], steps_judged=0, compared=0, rules=[], team=team)
    page = fits(season_page(found, nights=False))
    assert all(tag in page for tag in tags)
    lines = page.splitlines()
    heading = next(place for place, line in enumerate(lines) if line.startswith("PARTS"))
    assert lines[heading + 3] == "stud      5       1     5       -  s-1: bent"
    assert "s-2: scrapped" in page
    assert "Nothing bent, cracked or loose goes back on" in page
    assert "  - j-1 (1 lap, n=7, the last 5): 05-03 38 running (+2), 05-04 33 (+2)," in page
    told = CarSeason(
        car="7",
        name="",
        totals=Totals(),
        nights=[],
        tracks=[],
        comparisons=[],
        parts=parts[:-1],
        money=Money(),
        work=WorkTime(),
    )
    found.cars = [told]
    assert page.count("s-1") == fits(season_page(found, nights=False)).count("s-1")


def test_split_lines_and_an_empty_season() -> None:
    split = SplitRead(line=f"outing/{night(0)}/7/heat-1", used="a" * 64, tips=["a" * 64, "b" * 64])
    page = fits(season_page(report(Season(names={"7": "Old blue"}), [split]), nights=True))
    assert "CAR 7  Old blue\n0 nights, 0 outings, 0 laps" in page
    assert f"outing/{night(0)}/7/heat-1: aaaaaaaaaaaa of 2" in page
