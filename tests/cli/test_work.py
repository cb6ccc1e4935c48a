"""A work card at the command line, started, ticked off and signed, against the real service. Numbers are invented."""

import json
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from shutil import copy
from typing import Any

import pytest

from studbook.cli import main
from studbook_service.store import found_team

Run = Callable[..., tuple[int, str, str]]
DOCUMENT = Path(__file__).parents[1] / "http" / "document.json"
CAMBER = "measured.front.rf.alignment.camber_deg"


@pytest.fixture
async def token(shared_database: Any) -> str:
    return (await found_team(shared_database.owner_dsn, team_name="Studbook crew", chief_name="Chris")).token


@pytest.fixture
def run(address: str, token: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Run:
    monkeypatch.setenv("STUDBOOK_URL", address)
    monkeypatch.setenv("STUDBOOK_TOKEN", token)

    def command(*words: str) -> tuple[int, str, str]:
        for _ in range(40):
            code = main(words)
            said = capsys.readouterr()
            if code != 4:
                break
        return code, said.out, said.err

    return command


def fine(answer: tuple[int, str, str]) -> str:
    assert answer[0] == 0, answer[2]
    return answer[1]


def test_a_card_is_started_ticked_off_and_signed_after_the_inspection(run: Run, tmp_path: Path) -> None:
    card = f"7/{datetime.now().astimezone().date()}-1"
    fine(run("car", "add", "7"))
    fine(run("push", str(copy(DOCUMENT, tmp_path)), "7/baseline", "--new"))
    fine(run("edit", "7/baseline", "rf.upper_stud.length_in+=0.25"))
    fine(run("part", "new", "s-041", "kind=stud"))
    fine(run("shop", "new", "s-041", "fitted", "--car", "7", "--corner", "rf", "--slot", "upper_stud"))
    fine(run("shop", "new", "s-041", "contact", "--car", "7", "--corner", "rf"))
    page = fine(run("work", "7/baseline", "--crew", "3"))
    assert page.index("(inspect-rf;") < page.index("(stud-rf-upper;")
    told = fine(run("work", "start", "7/baseline", "--crew", "3", "--minutes", "60"))
    assert told.startswith(f"recorded work {card} as ")
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
    fine(run("work", "done", card, "inspect-rf"))
    signed = json.loads(fine(run("work", "sign", card, "--by", "Chris", "--json")))["document"]
    assert signed["signed_off"]["by"] == "Chris"
    assert signed["done"]["toe"]["by"] == "Robin"
    assert signed["done"]["inspect-rf"]["by"] == "Chris"
    assert signed["done"]["camber-rf"]["measured"] == [f"{CAMBER}=-4.4"]
    assert f"{card}  4 done  signed by Chris" in fine(run("work", "list", "--car", "7"))
    assert "signed_off" in fine(run("work", "show", card))
    assert "notes: - -> owe a scale session" in fine(run("work", "correct", card, "notes=owe a scale session"))
    assert len(fine(run("work", "history", card)).splitlines()) >= 5
