"""The commands around the scales, against the real service and database. The car is invented."""

import json
from pathlib import Path
from typing import Any

import pytest

from cli.running import Run
from present import present
from studbook import Studbook
from studbook.core.logbook import named
from studbook_service.store import Founded

pytestmark = pytest.mark.usefixtures("as_chief", "book")
DOCUMENT = json.loads((Path(__file__).parents[1] / "http" / "document.json").read_text())
SHOWING = "setup.rear.rr.spring.perch.thread_showing_in"


@pytest.fixture
def book(address: str, team: Founded) -> Any:
    with Studbook(address, team.token) as book:
        book.new_car("7")
        book.new_sheet("7/baseline", DOCUMENT, note="as it stood")
        yield book


def showing(book: Studbook) -> float:
    at: Any = book.pull("7/baseline").document()
    for step in SHOWING.split("."):
        at = at[step]
    return float(at)


def test_logged_turns_become_a_revision_once(run: Run, book: Studbook) -> None:
    before = showing(book)
    code, out, _ = run("log", "7", "RR perch +2 turns, LF shims +1/8")
    assert (code, out.splitlines()[0]) == (0, "Logged, in no revision yet:")
    assert run("log", "7", "RR perch -1/2 turn")[0] == 0
    assert [line.split("  ")[-1] for line in run("log", "7")[1].splitlines()[2:]] == [
        "RR perch +2 turns, LF shims +1/8",
        "RR perch -1/2 turn",
    ]
    beside = run("log", "7", "--against", "baseline")[1]
    assert f"{SHOWING}: {before:g} -> {before + 0.09375:g} in" in beside
    assert showing(book) == before
    assert run("log", "7", "--into", "baseline")[0] == 0
    assert showing(book) == before + 1.5 * 0.0625
    [revision, _] = book.history("7/baseline")
    assert revision.note.startswith("From the log 7/")
    assert revision.note.endswith(": RR perch +2 turns, LF shims +1/8; RR perch -1/2 turn")
    assert {present(each.document)["taken_into"] for each in book.records("log", car="7")} == {revision.id}
    code, _, err = run("log", "7", "--into", "baseline")
    assert (code, err) == (0, "studbook: nothing is logged of car 7 that is in no revision\n")
    assert showing(book) == before + 1.5 * 0.0625


def test_a_log_that_was_put_in_but_not_marked_is_not_put_in_again(run: Run, book: Studbook) -> None:
    record = book.log("7", "RR perch +2 turns")
    turned = showing(book) + 0.125
    cut_off = book.edit("7/baseline", {SHOWING: turned}, note=named([record.name]) + ": RR perch +2 turns")
    code, out, _ = run("log", "7", "--into", "baseline")
    assert (code, out) == (0, "All that is logged was in 7/baseline already; it is marked now.\n")
    assert showing(book) == turned
    assert present(book.record("log", record.name).document)["taken_into"] == cut_off.revision.id
    assert book.open_logs("7") == []


def test_a_line_that_cannot_be_read_records_nothing(run: Run, book: Studbook) -> None:
    code, _, err = run("log", "7", "RR perch 2 turns, LR sway +1")
    assert code == 1
    assert [line.strip().partition(":")[0] for line in err.splitlines()[1:]] == ["RR perch 2 turns", "LR sway +1"]
    assert book.open_logs("7") == []
    book.log("7", "LF tie rod +1 turn")
    code, _, err = run("log", "7", "--into", "baseline")
    assert code == 1
    assert "setup.front.lf.tie_rod.length_in" in err
    assert len(list(book.history("7/baseline"))) == 1


def test_settled_readings_go_into_the_sheet_and_others_do_not(run: Run, book: Studbook) -> None:
    code, out, err = run(
        *("weigh", "7", "590,503,718,629", "591,502,717,630", "--into", "baseline"),
        *("basis.driver_aboard=true", "basis.fuel_gal=14"),
    )
    assert (code, err) == (0, "")
    assert out.startswith("AVERAGE OF 2, session 7/")
    measured = book.pull("7/baseline").document()["measured"]
    assert [measured["scales"][f"{name}_lb"] for name in ("lf", "rf", "lr", "rr")] == [590.5, 502.5, 717.5, 629.5]
    assert measured["basis"]["fuel_gal"] == 14
    [session] = book.records("scale_session", car="7")
    assert present(session.document)["revision"] == book.resolve("7/baseline~1").id
    code, out, err = run("weigh", "7", "590,503,718,629", "600,493,718,629", "--into", "baseline")
    assert code == 1
    assert "LF readings 10 lb apart" in out
    assert err == "studbook: not settled: nothing was put into 7/baseline\n"
    assert len(list(book.history("7/baseline"))) == 2
    assert run("weigh", "7", "590,503,718,629")[0] == 1
    assert run("weigh", "7", "590,503,718")[0] == 2
    assert len(list(book.records("scale_session", car="7"))) == 2


def test_a_check_is_shown_recorded_and_corrected(run: Run, book: Studbook) -> None:
    monday = ("--at", "2026-05-04T09:30+00:00", "--left", "7/baseline")
    code, out, _ = run("check", "7", "rf.camber_deg=-4.6", "rf.toe_in=-0.2", *monday, "--look")
    assert code == 0
    assert "RF camber -0.60 deg with nothing recorded: bent or slipped?" in out
    assert list(book.records("check")) == []
    assert run("check", "7", *monday)[0] == 2
    assert "measured: is missing: what was read?" in run("check", "7", "notes=nothing", *monday)[2]
    assert run("check", "7", "rf.camber_deg=-4.6", *monday)[0] == 0
    [record] = book.records("check", car="7")
    assert record.name == "7/2026-05-04-0930"
    code, out, _ = run("check", "7", "scales=590,503,718,629", "--to", record.name)
    assert (code, out.splitlines()[-1]) == (0, f"Recorded as check {record.name}.")
    [record] = book.records("check", car="7")
    assert present(record.document)["at"] == "2026-05-04T09:30+00:00"
    assert present(record.document)["revision"] == book.resolve("7/baseline").id
    assert present(record.document)["measured"]["front"]["rf"]["alignment"] == {"camber_deg": -4.6}
    assert {each.subject for each in book.check_findings(record.name).findings} == {
        "camber",
        "corner",
        "total",
        "cross",
    }
    code, _, err = run("check", "7", "rf.camber_deg=-4.6")
    assert code == 1
    assert "the book has no outing of car 7 before that" in err
    for wrong, said in ((("12", "rf.camber_deg=-4.6"), "none of car 12"), (("7",), "say what was read")):
        code, _, err = run("check", *wrong, "--to", record.name)
        assert (code, said in err) == (2, True)
    assert run("check", "7", "rf.camber_deg=-4.6", "--to", "7/2026-05-05-0930")[0] == 1


def test_a_second_check_of_a_day_has_its_own_name_and_one_named_by_its_day_stays_good(run: Run, book: Studbook) -> None:
    read = {"front": {"rf": {"alignment": {"camber_deg": -4.5}}}}
    book.new_record("check", "7/2026-05-04", {"revision": book.resolve("7/baseline").id, "measured": read})
    for hour in ("08:15", "14:05", "14:05"):
        at = ("--at", f"2026-05-04T{hour}+00:00", "--left", "7/baseline")
        assert run("check", "7", "rf.camber_deg=-4.6", *at)[0] == 0
    names = [f"7/2026-05-04{time}" for time in ("", "-0815", "-1405", "-1406")]
    assert [record.name for record in book.records("check", car="7")] == names
    assert run("check", "7", "rf.camber_deg=-4.6", "--to", "7/2026-05-04")[0] == 0
    assert [each.what for each in book.check_findings("7/2026-05-04").findings] == ["RF camber"]


def test_rules_tolerances_and_the_race(run: Run) -> None:
    assert run("rules")[1].startswith("No rules yet")
    assert run("rules", "late-models", "min_total_lb=2350", "max_left_percent=60")[0] == 0
    assert run("rules", "late-models", "max_left_percent=58")[0] == 0
    assert "max_left_percent: 58 %" in run("rules", "late-models")[1]
    code, out, _ = run("legal", "7/baseline", "late-models", "--fuel-burned", "40")
    assert code == 0
    assert out.splitlines()[0] == "Total after the race 2,400 lb, at least 2,350: 50 lb inside (± 8), clear of it."
    tried = ("ballast.rail.weight_lb=50", "ballast.rail.position_in=[-60,18,10]")
    told = json.loads(run("legal", "7/baseline", "late-models", "--fuel-burned", "40", *tried, "--json")[1])
    assert told["total_lb"] == pytest.approx(2450, abs=1e-3)
    assert run("legal", "7/baseline", "a", "b", "--fuel-burned", "40")[0] == 2
    assert run("tolerances")[0] == 0
    assert run("tolerances", "corner_lb=6")[1].startswith("recorded tolerances as ")
    assert "corner_lb: 6 lb" in run("tolerances")[1]


def test_the_teams_own_times_stand_beside_the_defaults(run: Run) -> None:
    shown = run("times")[1]
    assert max(len(line) for line in shown.splitlines()) <= 98
    assert "between..." not in shown
    assert "common practice" in shown
    assert next(line for line in shown.splitlines() if line.startswith("gear ")).split()[-2:] == ["10", "1"]
    assert "the nearest is gear" in run("times", "gaer.time_min=8")[2]
    assert "above the most accepted, 600 min" in run("times", "gear.time_min=8000")[2]
    assert run("times", "--remove", "gear.time_min")[0] == 1
    assert run("times", "gear.time_min=8", "gear.price_usd=12")[0] == 0
    assert next(line for line in run("times")[1].splitlines() if line.startswith("gear ")).split()[-4:] == [
        "8",
        "1",
        "12",
        "own",
    ]
    assert run("times", "--remove", "gear.time_min", "--remove", "gear.price_usd")[0] == 0
    assert not any(job["own"] for job in json.loads(run("times", "--json")[1])["items"])


def test_the_sheet_for_the_wall_is_one_page(run: Run, book: Studbook) -> None:
    code, out, _ = run("sensitivity", "7/baseline", "--print")
    assert code == 0
    lines = out.splitlines()
    assert lines[0].startswith(f"CAR 7  baseline  {book.resolve('7/baseline').id[:12]}")
    assert "PERCHES: 1 turn in (tighten, raises)" in lines
    assert len(lines) <= 60
    assert max(map(len, lines)) <= 98
    assert not any(line.endswith("...") for line in lines)
    [told] = [each for each in book.sensitivity("7/baseline").steps if (each.kind, each.where) == ("perch", "RR")]
    row = next(line for line in lines if line.split()[:1] == ["RR"])
    assert row.split()[1:3] == [f"{told.cross_percent:+.2f}", f"{told.bite_lb:+.1f}"]
