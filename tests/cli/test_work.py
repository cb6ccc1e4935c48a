"""A work card at the command line, started, ticked off and signed, against the real service. Numbers are invented."""

import json
from datetime import UTC, datetime
from os import environ
from pathlib import Path
from shutil import copy
from typing import Any

import pytest

from cli.running import Run, fine
from export.season import Season
from studbook import Studbook
from studbook_service.store import Founded, open_book

pytestmark = pytest.mark.usefixtures("as_chief")
DOCUMENT = Path(__file__).parents[1] / "http" / "document.json"
NOW = datetime(2026, 5, 2, 20, 15, tzinfo=UTC)
CAMBER = "measured.front.rf.alignment.camber_deg"


def test_a_card_is_started_ticked_off_and_signed_after_the_inspection(run: Run, tmp_path: Path) -> None:
    fine(run("car", "add", "7"))
    fine(run("push", str(copy(DOCUMENT, tmp_path)), "7/baseline", "--new"))
    fine(run("edit", "7/baseline", "rf.upper_stud.length_in+=0.25"))
    fine(run("part", "new", "s-041", "kind=stud"))
    fine(run("shop", "new", "s-041", "fitted", "--car", "7", "--corner", "rf", "--slot", "upper_stud"))
    fine(run("shop", "new", "s-041", "contact", "--car", "7", "--corner", "rf"))
    page = fine(run("work", "7/baseline", "--crew", "3"))
    assert page.index("(inspect-rf;") < page.index("(stud-rf-upper;")
    before = datetime.now().astimezone()
    told = fine(run("work", "start", "7/baseline", "--crew", "3", "--minutes", "60"))
    card = told.removeprefix("recorded work ").partition(" as ")[0]
    names = {f"7/{at:%Y-%m-%d-%H%M}" for at in (before, datetime.now().astimezone())}
    assert card in names
    planned = json.loads(fine(run("work", "show", card, "--json")))["document"]["planned"]
    assert planned[:2] == ["inspect-rf", "stud-rf-upper"]
    code, _, err = run("work", "done", card, "stud-rf-uper")
    assert (code, err) == (2, "studbook: stud-rf-uper is no job of the card; the nearest is stud-rf-upper\n")
    fine(run("work", "done", card, "stud-rf-upper", "toe", "--by", "Robin"))
    told = fine(run("work", "done", card, "camber-rf", "--measured", f"{CAMBER}=-4.4", "--into", "7/baseline"))
    assert f"{CAMBER}: " in told
    assert f"Measured at camber-rf, card {card}" in fine(run("history", "7/baseline"))
    left = json.loads(fine(run("work", "7/baseline~1", "--card", card, "--json")))["jobs"]
    assert {each["id"] for each in left if each["state"] == "done"} == {"stud-rf-upper", "toe", "camber-rf"}
    code, _, err = run("work", "sign", card)
    assert code == 1
    assert "inspect-rf is not ticked: the corner saw contact" in err
    told, warned = inspected(run, card)
    assert "car 7, rf: found bent by 0.03 in by Robin (dial)" in told
    assert "never straighten it" in warned
    fine(run("work", "done", card, "inspect-rf", "--straight", "--method", "dial, dye", "--by", "Robin"))
    assert "saw contact" not in fine(run("part", "list"))
    code, _, err = run("work", "sign", card)
    assert code == 1
    assert "not ticked: bump-steer-rf, swing-rf, torque-rf;" in err
    assert "--unfinished" in err
    fine(run("work", "done", card, "swing-rf", "torque-rf"))
    signed = json.loads(fine(run("work", "sign", card, "--unfinished", "--by", "Chris", "--json")))["document"]
    assert signed["signed_off"]["by"] == "Chris"
    assert signed["done"]["toe"]["by"] == "Robin"
    assert signed["signed_off"]["unfinished"] == ["bump-steer-rf"]
    assert signed["done"]["inspect-rf"]["inspected"] == {"straight": True, "method": "dial, dye", "signed_by": "Robin"}
    assert signed["done"]["camber-rf"]["measured"] == [f"{CAMBER}=-4.4"]
    assert f"{card}  6 of 7 done  signed by Chris, 1 left unfinished" in fine(run("work", "list", "--car", "7"))
    assert "signed_off" in fine(run("work", "show", card))
    signed_again(run, card)
    assert "notes: - -> owe a scale session" in fine(run("work", "correct", card, "notes=owe a scale session"))
    assert len(fine(run("work", "history", card)).splitlines()) >= 5


def signed_again(run: Run, card: str) -> None:
    """Tick what was left open when the card was signed, and sign it once more."""
    code, _, err = run("work", "sign", card)
    assert (code, "not ticked: bump-steer-rf" in err) == (1, True)
    assert "signed off before that" in run("work", "done", card, "bump-steer-rf")[2]
    assert f"{card}  7 of 7 done  signed by Chris" in fine(run("work", "list", "--car", "7"))
    signed = json.loads(fine(run("work", "sign", card, "--json")))["document"]
    assert "unfinished" not in signed["signed_off"]


def inspected(run: Run, card: str) -> tuple[str, str]:
    """Tick the inspection of the right front, found bent; what the shelf and the command then say."""
    for words, said in (
        (["inspect-rf"], "inspect-rf: what was found? --straight, --not-straight or --bent 0.03"),
        (["inspect-rf", "--straight", "--bent", "0.03"], "--straight and --bent 0.03: which of them?"),
        (["inspect-rf", "--bent", "0"], "--bent 0: by how many in? More than 0"),
        (["inspect-rf", "toe", "--straight"], "inspect-rf is an inspection: tick the others off by themselves"),
        (["toe", "--method", "dial"], "--straight, --bent and --method are of an inspection, such as inspect-rf"),
    ):
        assert run("work", "done", card, *words) == (2, "", f"studbook: {said}\n")
    code, _, err = run("work", "done", card, "inspect-rf", "--bent", "4")
    assert (code, "bent_by_in: 4 in is above the most accepted, 3 in" in err) == (1, True)
    code, _, warned = run("work", "done", card, "inspect-rf", "--bent", "0.03", "--method", "dial", "--by", "Robin")
    assert code == 0
    return " ".join(fine(run("part", "list")).split()), warned


async def test_a_bend_on_both_sides_of_a_split_card_goes_when_the_corner_is_found_straight(
    run: Run, team: Founded, shared_database: Any, address: str
) -> None:
    """Two laptops ticked the card off apart, after the corner was found bent."""
    fine(run("car", "add", "7"))
    card, bent = "7/2026-05-02-1940", {"straight": False, "bent_by_in": 0.03, "signed_by": "Robin"}
    tick = {"at": "2026-05-02T20:00Z", "by": "Robin", "inspected": bent}
    with Studbook(address, team.token) as client:
        base = client.new_record("work", card, {"done": {"inspect-rf": tick}}).tips[0].id
    sides = Season({})
    for job in ("toe", "camber-rf"):
        done = {"inspect-rf": tick, job: {"at": "2026-05-02T20:10Z", "by": "Ada"}}
        sides.write("work", f"work/{card}", {"done": done}, NOW, base)
    book = await open_book(shared_database.serving_dsn, size=1)
    await book.append(team.team, sides.entries)
    await book.close()
    assert "split" in fine(run("work", "list"))
    ticked = json.loads(fine(run("work", "done", card, "inspect-rf", "--straight", "--by", "Chris", "--json")))
    assert len(ticked["tips"]) == 1
    assert ticked["document"]["done"].keys() == {"inspect-rf", "toe", "camber-rf"}
    assert ticked["document"]["done"]["inspect-rf"]["inspected"] == {"straight": True, "signed_by": "Chris"}


def test_a_card_entered_without_its_plan_gets_it_when_it_is_signed(run: Run, tmp_path: Path, address: str) -> None:
    fine(run("car", "add", "7"))
    fine(run("push", str(copy(DOCUMENT, tmp_path)), "7/baseline", "--new"))
    fine(run("edit", "7/baseline", "brakes.front_share_percent=58"))
    with Studbook(address, environ["STUDBOOK_TOKEN"]) as book:
        asked = book.work("7/baseline")
        book.new_record("work", "7/2026-05-02-1", {"since": asked.since, "revision": asked.revision})
    code, _, err = run("work", "sign", "7/2026-05-02-1")
    assert (code, "not ticked: brake-bias;" in err) == (1, True)
    fine(run("work", "done", "7/2026-05-02-1", "brake-bias"))
    signed = json.loads(fine(run("work", "sign", "7/2026-05-02-1", "--json")))["document"]
    assert signed["planned"] == ["brake-bias"]
    assert "unfinished" not in signed["signed_off"]
