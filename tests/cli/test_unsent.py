"""A request whose answer is lost on the way: kept, told, sent again with its key, and never recorded twice.

The service is the real one; between it and the command stands a relay that takes requests to it and drops answers.
"""

import json
import os
import signal
import socket
import stat
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest

from cli.running import Run
from client.hostile import answering
from studbook import Studbook
from studbook_service.store import Founded

pytestmark = pytest.mark.usefixtures("as_chief")
DOCUMENT = (Path(__file__).parents[1] / "http" / "document.json").read_text()
HEIGHT = "setup.cg.height_in"


@dataclass
class Relay:
    """Takes requests to the service; of those that `drops` holds of, the answer is dropped, or the request."""

    upstream: str
    url: str = ""
    drops: Callable[[bytes], bool] = lambda _: False
    before: bool = False
    seen: list[bytes] = field(default_factory=list)

    def answer(self, connection: socket.socket, request: bytes) -> None:
        self.seen.append(request)
        if self.before and self.drops(request):
            return
        parts = urlsplit(self.upstream)
        with socket.create_connection((str(parts.hostname), parts.port)) as there:
            begin, _, rest = request.partition(b"\r\n")
            there.sendall(begin + b"\r\nConnection: close\r\n" + rest.replace(b"Connection: keep-alive\r\n", b""))
            answer = b"".join(iter(lambda: there.recv(65536), b""))
        if not self.drops(request):
            connection.sendall(answer)

    def lose(self, method: bytes = b"POST") -> None:
        """Drop the answers to one method from now on."""
        self.drops = lambda request: request.startswith(method)

    def heal(self) -> None:
        """Drop nothing any more."""
        self.drops = lambda _: False


@pytest.fixture
def relay(address: str, monkeypatch: pytest.MonkeyPatch) -> Iterator[Relay]:
    """The service, behind the relay; requests are tried for a second and a half."""
    relay = Relay(address)
    with answering(relay.answer) as url:
        relay.url = url
        monkeypatch.setenv("STUDBOOK_URL", url)
        monkeypatch.setenv("STUDBOOK_TIMEOUT_S", "15")
        yield relay


@pytest.fixture
def sheet(run: Run, relay: Relay) -> str:
    """A car with a sheet."""
    Path("start.json").write_text(DOCUMENT)
    assert run("car", "add", "7", "--name", "Dirt seven")[0] == 0
    assert run("push", "start.json", "7/baseline", "--new", "-m", "as it stood")[0] == 0
    assert waiting(run) == []
    assert relay.seen
    return "7/baseline"


def waiting(run: Run) -> list[dict[str, Any]]:
    items: list[dict[str, Any]] = json.loads(run("unsent", "--json")[1])["items"]
    return items


def lost(run: Run, relay: Relay, *words: str, monkeypatch: pytest.MonkeyPatch) -> str:
    """Run a line whose answer is lost on the way until it gives up."""
    relay.lose()
    with monkeypatch.context() as here:
        here.setenv("STUDBOOK_TIMEOUT_S", "1.5")
        code, out, err = run(*words, tries=1)
    relay.heal()
    assert (code, out) == (4, ""), err
    assert "whether it was recorded is not known; type the same line again" in err
    return err


def test_a_lost_answer_is_asked_for_by_the_same_line(
    run: Run, relay: Relay, sheet: str, team: Founded, monkeypatch: pytest.MonkeyPatch
) -> None:
    line = ("log", "7", "RR perch +2 turns")
    lost(run, relay, *line, monkeypatch=monkeypatch)
    [file] = Path(os.environ["XDG_STATE_HOME"]).glob("studbook/unsent/*.json")
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert stat.S_IMODE(file.parent.stat().st_mode) == 0o700
    folder = b"".join(each.read_bytes() for each in file.parent.iterdir())
    assert team.token.encode() not in folder
    [open_] = waiting(run)
    assert (open_["line"], open_["address"], open_["member"]) == (list(line), relay.url, team.member)
    assert "RR perch +2 turns" in run("unsent")[1]

    code, out, err = run(*line)
    assert (code, waiting(run)) == (0, []), err
    assert "sent again with its key" in err
    assert out.startswith("recorded log")
    assert len(json.loads(run("log", "7", "--json")[1])["items"]) == 1
    # Two real ones stay two: nothing waits any more, so the line is new each time.
    assert run(*line)[0] == run(*line)[0] == 0
    assert len(json.loads(run("log", "7", "--json")[1])["items"]) == 3
    assert sheet


def test_an_amount_is_not_added_twice(run: Run, relay: Relay, sheet: str, monkeypatch: pytest.MonkeyPatch) -> None:
    line = ("edit", sheet, f"{HEIGHT}+=0.5", "-m", "higher")
    with Studbook(relay.upstream, os.environ["STUDBOOK_TOKEN"]) as book:
        before = book.pull(sheet).document()["setup"]["cg"]["height_in"]
        lost(run, relay, *line, monkeypatch=monkeypatch)
        code, out, _ = run(*line)
        assert code == 0
        assert out.startswith("7/baseline is now ")
        assert book.pull(sheet).document()["setup"]["cg"]["height_in"] == before + 0.5
        assert len(list(book.history(sheet))) == 2
        assert run(*line)[0] == 0
        assert book.pull(sheet).document()["setup"]["cg"]["height_in"] == before + 1


def test_a_request_that_never_came_is_recorded_by_the_same_line(
    run: Run, relay: Relay, sheet: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    relay.before = True
    lost(run, relay, "edit", sheet, f"{HEIGHT}=18", "-m", "so", monkeypatch=monkeypatch)
    assert run("edit", sheet, f"{HEIGHT}=18", "-m", "so")[0] == 0
    assert len(json.loads(run("history", sheet, "--json")[1])["items"]) == 2


def test_a_file_that_was_pushed_knows_its_revision(
    run: Run, relay: Relay, sheet: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert run("pull", sheet)[0] == 0
    file = Path("7-baseline.toml")
    file.write_text(file.read_text().replace("height_in = 17", "height_in = 17.25", 1) + '\n[own]\nidea = "x"\n')
    line = ("push", str(file), "-m", "mine", "--allow-unknown")
    lost(run, relay, *line, monkeypatch=monkeypatch)
    assert run(*line)[0] == 0
    assert waiting(run) == []
    code, out, _ = run(*line)
    assert code == 0
    assert "nothing to push" in (out + run(*line)[2]).lower() or out == ""
    assert len(json.loads(run("history", sheet, "--json")[1])["items"]) == 2


def test_a_file_that_was_changed_since_holds_more_than_was_sent(
    run: Run, relay: Relay, sheet: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert run("pull", sheet)[0] == 0
    file, line = Path("7-baseline.toml"), ("push", "7-baseline.toml", "-m", "mine", "--allow-unknown")
    file.write_text(file.read_text() + '\n[own]\nidea = "x"\n')
    lost(run, relay, *line, monkeypatch=monkeypatch)
    file.write_text(file.read_text().replace('"x"', '"y"'))
    code, _, err = run(*line)
    assert (code, "was changed since it was sent: push it again" in err) == (0, True)
    assert run("pull", sheet)[0] == 2  # what the file holds is not lost
    assert run(*line)[0] == 0
    with Studbook(relay.upstream, os.environ["STUDBOOK_TOKEN"]) as book:
        assert book.pull(sheet).document()["own"] == {"idea": "y"}


def test_another_line_is_new(run: Run, relay: Relay, sheet: str, monkeypatch: pytest.MonkeyPatch) -> None:
    lost(run, relay, "log", "7", "RR perch +2 turns", monkeypatch=monkeypatch)
    assert run("log", "7", "RR perch +1 turns")[0] == 0
    assert len(waiting(run)) == 1
    code, _, err = run("unsent", "send")
    assert (code, waiting(run)) == (0, [])
    assert "RR perch +2 turns" in err
    assert len(json.loads(run("log", "7", "--json")[1])["items"]) == 2
    assert run("unsent", "send")[:2] == (0, "Nothing of yours waits for an answer here.\n")
    assert sheet


def test_a_token_that_nobody_saw_is_ended_and_another_made(
    run: Run, relay: Relay, monkeypatch: pytest.MonkeyPatch
) -> None:
    line = ("token", "new", "--label", "phone")
    assert run(*line)[0] == 0  # one by that label that was seen, and stays
    lost(run, relay, *line, monkeypatch=monkeypatch)
    before = json.loads(run("token", "--json")[1])["items"]
    assert [each["label"] for each in before].count("phone") == 2
    code, out, err = run(*line)
    assert (code, waiting(run)) == (0, []), err
    assert "nobody saw it: it is ended" in err
    after = json.loads(run("token", "--json")[1])["items"]
    ended = [each for each in after if "ended_at" in each]
    assert [each["id"] for each in ended] == [before[0]["id"]]
    assert [each["label"] for each in after].count("phone") == 3
    assert run("me", token=out.strip())[0] == 0


def test_a_share_that_nobody_saw_is_ended_and_another_made(
    run: Run, relay: Relay, sheet: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    line = ("shares", "new", sheet, "--for", "Lee", "--until", "2027-03-31")
    lost(run, relay, *line, monkeypatch=monkeypatch)
    code, out, _ = run(*line)
    assert (code, out[:4], waiting(run)) == (0, "sbk_", [])
    shares = json.loads(run("shares", "--json")[1])["items"]
    assert [("ended_at" in each) for each in shares] == [False, True]


def test_a_refusal_is_an_answer(run: Run, relay: Relay, sheet: str, monkeypatch: pytest.MonkeyPatch) -> None:
    relay.before = True
    line = ("edit", sheet, f"{HEIGHT}=18", "-m", "so")
    lost(run, relay, *line, monkeypatch=monkeypatch)
    assert run("edit", sheet, "notes=other", "-m", "meanwhile")[0] == 0
    code, _, err = run(*line)
    assert (code, waiting(run)) == (3, [])
    assert "it was not recorded" in err
    assert run(*line)[0] == 0


def test_what_another_member_left_is_theirs(
    run: Run, relay: Relay, sheet: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    member = json.loads(run("members", "add", "Robin", "--json")[1])["id"]
    robins = run("token", "new", "--member", member, "--label", "phone")[1].strip()
    lost(run, relay, "log", "7", "RR perch +2 turns", monkeypatch=monkeypatch)
    assert run("log", "7", "RR perch +2 turns", token=robins)[0] == 0
    [left] = waiting(run)
    assert run("unsent", "send", token=robins)[1] == "Nothing of yours waits for an answer here.\n"
    code, _, err = run("unsent", "send", left["name"][:8], token=robins)
    assert (code, "send it with a token of theirs" in err) == (2, True)
    monkeypatch.setenv("STUDBOOK_URL", relay.upstream)
    code, _, err = run("unsent", "send", left["name"][:8])
    assert (code, f"went to {relay.url}" in err) == (2, True)
    assert (
        run("unsent", "forget", left["name"][:8])[1] == f"{left['name'][:8]} is forgotten: log 7 'RR perch +2 turns'\n"
    )
    assert run("unsent") == (0, "Nothing waits for an answer.\n", "")
    assert run("unsent", "forget", "abc")[0] == 2
    assert sheet


def test_nobody_there_is_not_recorded_and_leaves_nothing(
    run: Run, relay: Relay, sheet: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("STUDBOOK_URL", "http://127.0.0.1:1")
    monkeypatch.setenv("STUDBOOK_TIMEOUT_S", "0.5")
    code, _, err = run("car", "add", "8", tries=1)
    assert code == 4
    assert "nothing was sent yet that would be recorded" in err
    assert waiting(run) == []
    assert (sheet, bool(relay.seen)) == ("7/baseline", True)


def test_a_command_that_is_killed_leaves_its_request(run: Run, relay: Relay, sheet: str) -> None:
    relay.lose()
    relay.seen.clear()
    program = "import sys; from studbook.cli import main; sys.exit(main(sys.argv[1:]))"
    line = ("log", "7", "RR perch +2 turns")
    with subprocess.Popen([sys.executable, "-c", program, *line], stderr=subprocess.PIPE, env=os.environ) as running:
        for _ in range(200):
            if any(each.startswith(b"POST") for each in relay.seen):
                break
            time.sleep(0.05)
        running.send_signal(signal.SIGKILL)
    relay.heal()
    assert len(waiting(run)) == 1
    assert run(*line)[0] == 0
    assert len(json.loads(run("log", "7", "--json")[1])["items"]) == 1
    assert sheet


def test_an_interrupt_says_that_it_is_not_known(
    run: Run, relay: Relay, sheet: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def interrupted(*_: object) -> None:
        raise KeyboardInterrupt

    relay.lose()
    with monkeypatch.context() as here:
        here.setattr("studbook.cli.kept_book.KeptBook._wait", interrupted)
        code, _, err = run("log", "7", "RR perch +2 turns")
    assert (code, "whether it was recorded is not known" in err) == (130, True)
    relay.heal()
    assert run("unsent", "send")[0] == 0
    assert len(json.loads(run("log", "7", "--json")[1])["items"]) == 1
    assert (sheet, capsys.readouterr().out) == ("7/baseline", "")


def test_a_folder_that_takes_no_file_keeps_nobody_from_recording(
    run: Run, relay: Relay, sheet: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "full").write_text("no folder")
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "full"))
    code, out, err = run("log", "7", "RR perch +2 turns")
    assert code == 0
    assert "is not kept until it is answered" in err
    assert (out[:6], sheet, bool(relay.seen)) == ("Logged", "7/baseline", True)


def test_damaged_requests_are_told(run: Run, relay: Relay) -> None:
    folder = Path(os.environ["XDG_STATE_HOME"]) / "studbook" / "unsent"
    folder.mkdir(parents=True)
    (folder / "x.json").write_text("{")
    code, _, err = run("unsent")
    assert (code, "is damaged" in err) == (2, True)
    assert relay.url
