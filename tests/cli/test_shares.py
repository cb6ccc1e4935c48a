"""What one team shares with another, each with a service and a database of its own. All names are invented."""

import datetime as dt
import json
import time
from pathlib import Path
from typing import Any

import pytest

from cli.running import Run
from studbook import Studbook
from studbook.cli import main
from studbook.history.leaves import at, steps
from studbook_service.store import Founded, found_team

DOCUMENT = (Path(__file__).parents[1] / "http" / "document.json").read_text()
UPPER, LOWER = "setup.front.rf.upper_stud.length_in", "setup.front.rf.lower_stud.length_in"
NOTICED_WITHIN_S = 1.0
UNTIL = (dt.datetime.now().astimezone() + dt.timedelta(days=300)).date().isoformat()


@pytest.fixture
async def ours(shared_database: Any) -> Founded:
    return await found_team(shared_database.owner_dsn, team_name="Studbook crew", chief_name="Chris")


@pytest.fixture
async def theirs(friends_database: Any) -> Founded:
    return await found_team(friends_database.owner_dsn, team_name="Friends", chief_name="Ada")


@pytest.fixture
def told() -> list[str]:
    """Everything that commands printed where no token belongs."""
    return []


@pytest.fixture
def run(told: list[str], capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """Run a command for one of the teams."""
    monkeypatch.chdir(tmp_path)

    def command(url: str, token: str, *words: str) -> tuple[int, str, str]:
        monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / token[-6:]))
        monkeypatch.setenv("STUDBOOK_URL", url)
        monkeypatch.setenv("STUDBOOK_TOKEN", token)
        code = main(words)
        said = capsys.readouterr()
        told.append(said.err if words[:2] == ("shares", "new") else said.out + said.err)
        return code, said.out, said.err

    return command


@pytest.fixture
def we(run: Run, address: str, ours: Founded) -> Run:
    """Run a command as Chris, who has car 7 with two sheets, one of them changed once."""
    Path("start.json").write_text(DOCUMENT)

    def command(*words: str) -> tuple[int, str, str]:
        return run(address, ours.token, *words)

    assert command("car", "add", "7", "--name", "Dirt seven")[0] == 0
    for sheet in ("baseline", "secret"):
        assert command("push", "start.json", f"7/{sheet}", "--new", "-m", "as it stood")[0] == 0
    assert command("edit", "7/baseline", "rf.upper_stud.length_in=1.7", "-m", "longer")[0] == 0
    return command


@pytest.fixture
def they(run: Run, friends_address: str, theirs: Founded) -> Run:
    """Run a command as Ada, who has car 12."""

    def command(*words: str) -> tuple[int, str, str]:
        return run(friends_address, theirs.token, *words)

    assert command("car", "add", "12", "--name", "Twelve")[0] == 0
    return command


def hand_over(we: Run, they: Run, address: str, what: str) -> tuple[str, str]:
    """Share something and add it as a source: id and token of the share."""
    code, token, err = we("shares", "new", what, "--for", "Ada's crew", "--until", UNTIL)
    assert (code, len(token), token.strip() in err) == (0, 43, False)
    assert f"studbook sources add NAME {address}" in err
    Path("token").write_text(token)
    assert they("sources", "add", "chris", address, "--token-file", "token")[0] == 0
    Path("token").unlink()
    return json.loads(we("shares", "--json")[1])["items"][0]["id"], token.strip()


def test_a_sheet_is_shared_read_carried_and_ended(
    we: Run, they: Run, address: str, friends_address: str, theirs: Founded, told: list[str], log: Path, tmp_path: Path
) -> None:
    share, token = hand_over(we, they, address, "7/baseline")

    shown = they("sources")[1].splitlines()[1]
    assert shown.startswith(f"chris   {address}  7/baseline, read-only, until {UNTIL}")
    assert "7/baseline" in we("shares", "list")[1]

    code, out, _ = they("history", "chris:7/baseline")
    assert (code, len(out.splitlines())) == (0, 3)
    assert "Chris" not in out
    assert out.splitlines()[1].split()[3].startswith("m-")
    assert they("diff", "chris:7/baseline~1", "chris:7/baseline")[1].splitlines()[1].split()[0] == UPPER
    assert they("effects", "chris:7/baseline")[0] == 0
    for page in ("front", "rear", "joints", "damping"):
        assert they(page, "chris:7/baseline", "--json")[0] in {0, 1}
    assert they("front", "chris:7/baseline")[0] == 0
    assert they("sheets", "chris:7")[1].splitlines()[1].split()[0] == "7/baseline"
    assert they("pull", "chris:7/baseline", "-o", "theirs.toml")[0] == 0

    assert they("carry", "chris:7/baseline", "12/from-them", "--new", "-m", "as Chris has it")[0] == 0
    assert they("carry", "chris:7/baseline~1", "12/from-them", "rf.upper_stud.length_in", "-m", "not that")[0] == 0
    assert they("push", "theirs.toml", "12/as-a-file", "--new")[0] == 0
    with Studbook(friends_address, theirs.token) as book:
        carried = book.pull("12/from-them")
        assert at(carried.document(), steps(UPPER)) == at(json.loads(DOCUMENT), steps(UPPER))
    revisions = json.loads(they("history", "chris:7/baseline", "--json")[1])["items"]
    assert carried.revision.carried_from == revisions[1]["id"]
    pushed = json.loads(they("history", "12/as-a-file", "--json")[1])["items"]
    assert pushed[0]["carried_from"] == revisions[0]["id"]

    assert we("shares", "end", share)[1] == "7/baseline is no longer shared with Ada's crew\n"
    time.sleep(NOTICED_WITHIN_S)
    ended = (1, "", "studbook: chris shows you nothing any more: what it shared has ended\n")
    assert they("pull", "chris:7/baseline") == ended
    assert they("carry", "chris:7/baseline", "12/again", "--new") == ended
    assert they("sources")[1].splitlines()[1].split(maxsplit=2)[2] == "nothing any more: it has ended"
    assert "ended" in we("shares")[1]
    assert they("history", "12/from-them")[0] == 0

    for text in (*told, log.read_text(), *(each.read_text() for each in tmp_path.iterdir() if each.is_file())):
        assert token not in text


def test_nothing_else_is_shown(we: Run, they: Run, address: str) -> None:
    hand_over(we, they, address, "7/baseline")
    secret = json.loads(we("history", "7/secret", "--json")[1])["items"][0]["id"]
    for ref in ("chris:7/secret", f"chris:{secret}", "chris:12/baseline", "chris:9/baseline"):
        code, out, err = they("pull", ref, "-o", "-")
        assert (code, out) == (1, ""), err
    assert they("sheets", "chris:9")[0] == 1


def test_a_whole_car_is_shared(we: Run, they: Run, address: str) -> None:
    hand_over(we, they, address, "7")
    assert "car 7, read-only" in they("sources")[1]
    sheets = they("sheets", "chris:7")[1].splitlines()[1:]
    assert sorted(line.split()[0] for line in sheets) == ["7/baseline", "7/secret"]
    assert they("carry", "chris:7/secret", "12/secret", LOWER, "--new")[0] == 0


def test_a_share_is_the_token_of_nobody(we: Run, they: Run, run: Run, address: str) -> None:
    _, token = hand_over(we, they, address, "7/baseline")
    code, out, _ = run(address, token, "me")
    assert code == 0
    assert "your token opens 7/baseline, read-only, until" in out
    Path("start.json").write_text(DOCUMENT)
    for words in (
        ("push", "start.json", "7/mine", "--new"),
        ("edit", "7/baseline", "notes=x"),
        ("what-if", "7/baseline", "notes=x"),
        ("members",),
        ("token",),
        ("shares",),
        ("audit",),
        ("protect", "7/baseline"),
    ):
        assert run(address, token, *words)[:2] == (1, ""), words
