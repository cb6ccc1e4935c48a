"""The command, run in this process against a small book in memory that speaks HTTP on loopback.

It keeps one sheet of car 7 and checks If-Match, which is what the command's ways of failing depend on. The real
service is met in `test_end_to_end.py`. All numbers and names are invented.
"""

import json
import os
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import pytest

from cli.running import Run, Terminal
from studbook.cli import main
from studbook.history.changes import FieldChange, apply
from studbook.history.ids import tips_tag
from studbook.history.leaves import steps
from studbook_service.store import Founded, found_team

DOCUMENT = {
    "notes": "tacky",
    "own": {"idea": 3},
    "setup": {
        "cg": {"height_in": 17},
        "front": {"rf": {"upper_stud": {"length_in": 1.2}}},
        "rear": {"rods": {"left_upper": {"length_in": 18}}},
    },
    "survey": {"front": {"rf": {"upper_stud": {"length_in": 1.2}}}},
}


@dataclass
class SmallBook:
    """One sheet, `7/baseline`, as revisions with their documents; `refuse` answers everything with a problem."""

    revisions: list[dict[str, Any]] = field(default_factory=list)
    documents: list[dict[str, Any]] = field(default_factory=list)
    refuse: dict[str, Any] | None = None
    answers: dict[str, Any] = field(default_factory=dict)
    asked: list[tuple[str, str, Any]] = field(default_factory=list)

    def record(self, document: dict[str, Any], *, note: str, author: str) -> dict[str, Any]:
        number = len(self.revisions)
        revision = {
            "id": f"{number + 1:x}" * 64,
            "kind": "sheet",
            "line": "car/7/sheet/baseline",
            "car": "7",
            "sheet": "baseline",
            "parents": [self.revisions[-1]["id"]] if number else [],
            "generation": number,
            "author": {"id": author.lower(), "name": author},
            "at": f"2026-05-02T18:{number:02}:00Z",
            "received_at": f"2026-05-02T18:{number:02}:01Z",
            "note": note,
            "content": "0" * 64,
        }
        self.revisions.append(revision)
        self.documents.append(document)
        return revision

    @property
    def tag(self) -> str:
        return tips_tag([self.revisions[-1]["id"]])

    def answer(self, method: str, path: str, headers: dict[str, str], body: Any) -> tuple[int, Any]:
        self.asked.append((method, path, body))
        if self.refuse:
            return self.refuse["status"], self.refuse
        plain = path.partition("?")[0]
        if plain in self.answers:
            return 200, self.answers[plain]
        if method == "POST" and plain.endswith("/revisions"):
            return self.push(headers, body)
        if plain == "/v1/cars/7/sheets/baseline":
            return 200, self.sheet()
        if plain == "/v1/cars/7/sheets/baseline/history":
            return 200, {"items": self.revisions[::-1]}
        return self.revision(plain)

    def sheet(self) -> dict[str, Any]:
        tip = {"tips": self.revisions[-1:], "tag": self.tag, "split": False, "document": self.documents[-1]}
        return {"car": "7", "sheet": "baseline", **tip}

    def revision(self, path: str) -> tuple[int, Any]:
        _, _, rest = path.partition("/v1/revisions/")
        short, _, what = rest.partition("/")
        for revision, document in zip(self.revisions, self.documents, strict=True):
            if short and revision["id"].startswith(short):
                return 200, document if what == "document" else revision
        return 404, problem("not_found", status=404, detail=f"there is nothing at {path}")

    def push(self, headers: dict[str, str], body: Any) -> tuple[int, Any]:
        if headers.get("if-match") != f'"{self.tag}"':
            return 412, problem("stale", status=412, tag=self.tag, tips=[self.revisions[-1]["id"]])
        document = body.get("document") or apply(
            [
                FieldChange(steps(edit["path"]), after=edit["value"])
                for edit in body.get("edits", [])
                if "value" in edit
            ],
            self.documents[-1],
        )
        revision = self.record(document, note=body.get("note", ""), author="Ada")
        return 201, {"revision": revision, "tag": self.tag, "recorded": True}


def problem(code: str, **more: Any) -> dict[str, Any]:
    return {"type": f"urn:studbook:problem:{code}", "title": code, "code": code, "request_id": "r1", **more}


@pytest.fixture
def small_book(monkeypatch: pytest.MonkeyPatch) -> Iterator[SmallBook]:
    book = SmallBook()
    book.record(DOCUMENT, note="first", author="Bo")

    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def reply(self) -> None:
            body = self.rfile.read(int(self.headers.get("content-length", 0)))
            headers = {name.lower(): value for name, value in self.headers.items()}
            status, answer = book.answer(self.command, self.path, headers, json.loads(body) if body else None)
            content = json.dumps(answer).encode()
            self.send_response(status)
            self.send_header("content-length", str(len(content)))
            self.end_headers()
            self.wfile.write(content)

        do_GET = do_POST = do_PATCH = reply  # noqa: N815 - the names the standard library calls

        def log_message(self, format: str, *args: object) -> None:  # noqa: A002 - the standard library's name
            """Keep the test's output clean."""

    with ThreadingHTTPServer(("127.0.0.1", 0), Handler) as server:
        server.daemon_threads = True
        thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.01})
        thread.start()
        monkeypatch.setenv("STUDBOOK_URL", f"http://127.0.0.1:{server.server_address[1]}")
        monkeypatch.setenv("STUDBOOK_TOKEN", "sbk_test")
        yield book
        server.shutdown()
        thread.join()


@pytest.fixture
async def team(shared_database: Any) -> Founded:
    return await found_team(shared_database.owner_dsn, team_name="Studbook crew", chief_name="Chris")


@pytest.fixture
def as_chief(address: str, team: Founded, monkeypatch: pytest.MonkeyPatch) -> None:
    """Commands reach the real service as Chris, the chief of a team of its own."""
    monkeypatch.setenv("STUDBOOK_URL", address)
    monkeypatch.setenv("STUDBOOK_TOKEN", team.token)


@pytest.fixture
def run(
    request: pytest.FixtureRequest,
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
    tmp_path_factory: pytest.TempPathFactory,
    monkeypatch: pytest.MonkeyPatch,
) -> Run:
    """Run a command in an empty folder: exit code, standard output, standard error.

    As whoever holds `token`; `typed` answers its questions. The shared service may be busy, and is tried again.
    """
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path_factory.mktemp("state")))
    tries = 40 if "as_chief" in request.fixturenames else 1

    def command(
        *words: str, token: str | None = None, typed: str | None = None, tries: int = tries
    ) -> tuple[int, str, str]:
        with monkeypatch.context() as here:
            if token is not None:
                here.setenv("STUDBOOK_TOKEN", token)
            if typed is not None:
                here.setattr("sys.stdin", Terminal(typed))
            for _ in range(tries):
                code = main(words)
                printed = capsys.readouterr()
                if code != 4:
                    break
        return code, printed.out, printed.err

    return command


@contextmanager
def serving(database: Any, log: Path) -> Iterator[str]:
    """Serve a database on a free port, as a user does, and keep what the service tells in a log."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [sys.executable, "-m", "studbook_service", "serve", "--port", str(port)]
    with log.open("w") as out:
        process = subprocess.Popen(
            [*command, "--database", database.serving_dsn], stdout=out, stderr=out, env=os.environ
        )
    while process.poll() is None:
        with suppress(OSError), socket.create_connection(("127.0.0.1", port)):
            break
        time.sleep(0.1)
    yield f"http://127.0.0.1:{port}"
    process.send_signal(signal.SIGTERM)
    process.wait(20)


@pytest.fixture(scope="session")
def log(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What the service at `address` tells."""
    return tmp_path_factory.mktemp("serve") / "log"


@pytest.fixture(scope="session")
def address(shared_database: Any, log: Path) -> Iterator[str]:
    """A service that all tests share."""
    with serving(shared_database, log) as url:
        yield url


@pytest.fixture(scope="session")
def friends_address(friends_database: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Another team's service, with a database of its own."""
    with serving(friends_database, tmp_path_factory.mktemp("friends") / "log") as url:
        yield url
