"""What commands say of what was erased, against the real service. Names are invented."""

import json
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from cli.running import Run
from studbook_service.store import Founded

pytestmark = pytest.mark.usefixtures("as_chief")
DOCUMENT = (Path(__file__).parents[1] / "http" / "document.json").read_text()


@pytest.fixture
def erase(run: Run, shared_database: Any, team: Founded) -> Callable[..., None]:
    """Erase with the owner's address, and wait until the service knows."""

    def carry_out(*words: str) -> None:
        owner = ("--database", shared_database.owner_dsn, "--team", str(team.team), "--reason", "asked for")
        assert run("erase", *words, *owner)[0] == 0
        time.sleep(1)

    return carry_out


@pytest.fixture
def ids(run: Run) -> list[str]:
    """Revisions of 7/baseline, the oldest first: as it stood, then with another stud."""
    Path("start.json").write_text(DOCUMENT)
    assert run("car", "add", "7")[0] == 0
    assert run("push", "start.json", "7/baseline", "--new", "-m", "Robin drove")[0] == 0
    assert run("edit", "7/baseline", "rf.upper_stud.length_in=1.7", "-m", "longer")[0] == 0
    return [each["id"] for each in json.loads(run("history", "7/baseline", "--json")[1])["items"]][::-1]


def test_an_erased_revision_is_told_and_not_taken_for_an_empty_one(
    run: Run, ids: list[str], erase: Callable[..., None]
) -> None:
    erase("--entry", ids[0])
    assert [line.split()[-1] for line in run("history", "7/baseline")[1].splitlines()[1:]] == ["longer", "[erased]"]
    assert run("pull", "7/baseline")[0] == 0
    for words in (("pull", ids[0]), ("diff", ids[0], ids[1]), ("carry", ids[0], "7/baseline")):
        code, _, err = run(*words)
        assert (code, "erased" in err) == (1, True), err
    erase("--entry", ids[1])
    code, _, err = run("pull", "7/baseline")
    assert (code, "erased" in err) == (1, True)
    assert run("push", "start.json", "7/baseline", "--replace", "-m", "anew")[0] == 0
    assert run("pull", "7/baseline")[0] == 0


def test_an_erased_name_leaves_the_id(run: Run, ids: list[str], team: Founded, erase: Callable[..., None]) -> None:
    assert ids
    erase("--member", team.member)
    assert {line.split()[3] for line in run("history", "7/baseline")[1].splitlines()[1:]} == {team.member}
    assert run("me")[1] == f"{team.member}: your token opens the whole book, as chief\n"
    assert f"{team.member}  (name erased)" in run("members")[1]
    assert run("audit", "verify")[0] == 0
