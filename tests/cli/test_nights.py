"""A night entered at the command line, against the real service and database. All numbers are invented."""

import json
from datetime import datetime
from pathlib import Path
from shutil import copy

import pytest

from cli.running import Run, fine
from studbook.cli.recording import parse_time

pytestmark = pytest.mark.usefixtures("as_chief")
DOCUMENT = Path(__file__).parents[1] / "http" / "document.json"


def test_a_night_from_the_first_word_to_a_correction(run: Run, tmp_path: Path) -> None:
    day = datetime.now().astimezone().date().isoformat()
    night = f"{day}-north"
    assert "studbook event new" in fine(run("event", "list"))
    fine(run("car", "add", "7"))
    fine(run("push", str(copy(DOCUMENT, tmp_path)), "7/baseline", "--new"))
    told = fine(run("event", "new", night, "place=North oval", "surface=dirt", "length_mi=0.375"))
    assert told.startswith(f"recorded event {night} as ")
    heat = f"{night}/7/heat-1"
    words = ("kind=heat", "laps=3", "lap_times_s=17.4,17.6,17.5", "start_place=4", "words.entry=a bit tight")
    code, _, err = run("outing", "new", heat, *words, "laps=4")
    assert (code, err) == (2, "studbook: laps=4: laps is given twice\n")
    code, _, err = run("outing", "new", heat, "laps=4", *words[2:])
    assert code == 1
    assert "laps: 4 laps, but 3 lap times" in err
    fine(run("outing", "new", heat, *words, "--revision", "7/baseline"))
    assert "finish_place: - -> 2" in fine(run("outing", "correct", heat, "finish_place=2", "-m", "scored wrong"))
    assert "nearest known is lap_times_s" in run("outing", "correct", heat, "lap_time_s=[1]")[2]
    code, out, err = run("outing", "correct", heat, "finish_place=2")
    assert (code, out, err) == (2, "", f"studbook: nothing to correct: outing {heat} says so already\n")
    timed = ("outing", "correct", heat, "--at", "23:59", "-m", "scored wrong")
    assert f"started_at: - -> {day}T23:59" in fine(run(*timed))
    assert f"started_at: {day}T23:59" in fine(run("outing", "show", heat))
    assert run("outing", "correct", heat, "--at", "25:40")[0] == 2
    shown = fine(run("outing", "show", heat))
    assert "lap_times_s: [17.4,17.6,17.5] s" in shown
    assert "scored wrong" in shown
    listed = fine(run("outing", "list", "--car", "7")).splitlines()
    assert listed[1].split() == [heat, "heat", "3", "17.40", "4-2"]
    assert len(fine(run("outing", "history", heat)).splitlines()) == 3
    raced = json.loads(fine(run("outing", "show", heat, "--json")))["document"]["revision"]
    assert raced == json.loads(run("history", "7/baseline", "--json")[1])["items"][0]["id"]


def test_a_night_may_be_put_into_the_book_days_later(run: Run, tmp_path: Path) -> None:
    fine(run("car", "add", "7"))
    was = ("--at", "2026-05-02T17:00+00:00")
    fine(run("push", str(copy(DOCUMENT, tmp_path)), "7/baseline", "--new", *was))
    fine(run("edit", "7/baseline", "rf.upper_stud.length_in+=0.25", "--at", "2026-05-02T19:00+00:00"))
    fine(run("event", "new", "2026-05-02-north"))
    heat = ("outing", "new", "2026-05-02-north/7/heat-1", "--at", "2026-05-02T18:00+00:00", "--revision")
    code, _, err = run(*heat, "7/baseline")
    assert code == 1
    assert "is before the revision raced was recorded, 2026-05-02T19:00:00+00:00; one entered later takes `at`" in err
    fine(run(*heat, "7/baseline~1"))
    assert run("edit", "7/baseline", "notes=x", "--at", "soon")[0] == 2


def test_parts_and_what_was_done_with_them(run: Run) -> None:
    fine(run("car", "add", "7"))
    stud = ("kind=stud", "stud.length_in=1.7", "stud.taper.in_per_ft=1.5", "preload.target_in_lb=8")
    for tag in ("s-041", "s-042"):
        fine(run("part", "new", tag, *stud, "preload.basis=running", "play_limit_in=0.01"))
    on_car = ("--car", "7", "--corner", "rf", "--slot", "upper_stud")
    told = fine(run("shop", "new", "s-041", "fitted", *on_car, "--at", "2026-05-02T16:10-05:00"))
    assert told.startswith("recorded shop record s-041/2026-05-02-fitted-1 as ")
    fine(run("shop", "new", "s-042", "moved", "--where", "shelf", "--at", "2026-05-02T16:11-05:00"))
    read = ("preload.basis=running", "preload.pull_lb=2", "preload.lever_in=9")
    fine(run("shop", "new", "s-041", "preload", *read, "--at", "2026-05-02T16:20-05:00"))
    fine(run("shop", "new", "s-041", "contact", *on_car, "--at", "2026-05-02T20:20-05:00"))
    told = fine(run("shop", "new", "s-041", "preload", *read, "--at", "2026-05-02T21:20-05:00"))
    assert "s-041/2026-05-02-preload-2" in told
    code, _, err = run("shop", "new", "s-041", "fitted", "--car", "8", "--at", "2026-05-03T10:00-05:00")
    assert code == 1
    assert "there is no car 8" in err
    assert "it is on car 7 since s-041/2026-05-02-fitted-1" in err
    shelf = fine(run("part", "list"))
    assert "car 7 rf upper_stud" in shelf
    assert "car 7, rf: inspect the whole corner, sign; s-041 saw contact" in shelf
    assert "s-041 turns at 18 in-lb, +10 in-lb off its target" in shelf
    assert "1 x 1.7 in, 7.15 deg: s-042" in shelf
    shown = fine(run("part", "show", "s-041"))
    assert "preload 18 in-lb running, +10 off target  (s-041/2026-05-02-preload-1)" in shown
    assert [line.split()[0] for line in fine(run("shop", "list", "--what", "preload")).splitlines()[1:]] == [
        "s-041/2026-05-02-preload-1",
        "s-041/2026-05-02-preload-2",
    ]
    assert json.loads(fine(run("part", "list", "--where", "shelf", "--json")))["items"][0]["part"] == "s-042"


def test_a_time_without_an_offset_is_of_this_place() -> None:
    assert parse_time("2026-05-02T19:40") == datetime(2026, 5, 2, 19, 40).astimezone().isoformat(timespec="minutes")
    assert parse_time("19:40") == datetime.now().astimezone().strftime("%Y-%m-%dT19:40") + parse_time("19:40")[16:]
    assert parse_time("0:20", night="2026-02-28-north")[:16] == "2026-03-01T00:20"


def test_a_part_goes_from_one_car_to_another_within_a_minute(run: Run) -> None:
    for car in ("7", "12"):
        fine(run("car", "add", car))
    fine(run("part", "new", "s-041", "kind=spring"))
    seat = ("--corner", "rf", "--slot", "spring")
    fine(run("shop", "new", "s-041", "fitted", "--car", "7", *seat, "--at", "2026-05-02T16:10:05-05:00"))
    fine(run("shop", "new", "s-041", "removed", "--at", "2026-05-02T16:10:20-05:00"))
    fine(run("shop", "new", "s-041", "fitted", "--car", "12", *seat, "--at", "2026-05-02T16:10:40-05:00"))
    assert "car 12 rf spring" in fine(run("part", "list"))
    fine(run("shop", "new", "s-041", "removed"))
    at = json.loads(fine(run("shop", "list", "--what", "removed", "--json")))["items"][-1]["document"]["at"]
    assert datetime.strptime(at, "%Y-%m-%dT%H:%M:%S%z").tzinfo
