"""`studbook demo` from end to end, as a process of its own."""

import datetime as dt
import os
import re
import signal
import socket
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

from studbook import Studbook
from studbook.history.canonical import Tree
from studbook.wire.records import KINDS, typed
from studbook_service.demo.scenario import story, team
from studbook_service.demo.season.records import season

PROGRAM = Path(sys.prefix) / "bin" / "studbook"
IN_TIME_S = 120  # on a busy machine; alone it takes some five seconds


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("demo")


@pytest.fixture(scope="module")
def demo(place: Path) -> Iterator[tuple[subprocess.Popen[str], str]]:
    """A demo that was asked to stay, and what it has printed."""
    environment = {**os.environ, "TMPDIR": str(place), "NO_COLOR": "1"}
    with subprocess.Popen(
        [PROGRAM, "demo", "--keep"], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=environment
    ) as process:
        assert process.stdout is not None
        lines = []
        for line in process.stdout:
            lines.append(line)
            if line.startswith("export STUDBOOK_TOKEN"):
                break
        yield process, "".join(lines)
        process.kill()


def test_walks_the_whole_job(demo: tuple[subprocess.Popen[str], str]) -> None:
    printed = demo[1]
    typed = re.findall(r"^\$ studbook ([a-z-]+)", printed, re.MULTILINE)
    assert typed == [
        "cars",
        "pull",
        "what-if",
        "push",
        "history",
        "diff",
        "shop",
        "shop",
        "what-if",
        "joints",
        "part",
        "work",
        "season",
    ]
    for wanted in (
        "camber gain",
        "roll center",
        "bump steer",
        "shim",
        "spacer",
        "car 12",
        "not a certificate",
        "5.3 lb at the wheel",
        "car 12, rf: inspect the whole corner, sign",
        "[ ] RF inspect the whole corner after contact, sign",
        "+0.100 s per 2 count more",
        "cannot be told from noise",
    ):
        assert wanted in " ".join(printed.split())
    assert max(map(len, printed.splitlines())) <= 120


def test_stays_with_its_book_while_it_is_kept(demo: tuple[subprocess.Popen[str], str]) -> None:
    exported = dict(re.findall(r"^export (\w+)=(\S+)$", demo[1], re.MULTILINE))
    with Studbook(exported["STUDBOOK_URL"], exported["STUDBOOK_TOKEN"]) as book:
        assert {car.car for car in book.cars()} == {car.slug for car in team().cars}
        newest, *older = book.history("7/baseline")
        assert newest.author.name == "Robin"
        assert len(older) == 17
        begun = list(book.history("7/tacky"))[-1]
        assert begun.carried_from in {revision.id for revision in older}


def test_its_season_is_one_that_can_have_been(demo: tuple[subprocess.Popen[str], str]) -> None:
    exported = dict(re.findall(r"^export (\w+)=(\S+)$", demo[1], re.MULTILINE))
    today = dt.datetime.now(dt.UTC).date()
    with Studbook(exported["STUDBOOK_URL"], exported["STUDBOOK_TOKEN"]) as book:
        found = [record for kind in KINDS for record in book.records(kind)]
        assert [record.name for record in found if record.flags or record.split] == []
        entered = Counter(each.kind for each in season(team(), today=today)) + Counter(shop_record=2)  # the walk's own
        assert Counter(record.kind for record in found) == entered
        shelf = book.shelf()
        assert [(alert.code, alert.car, alert.corner) for alert in shelf.corners] == [("inspect", "12", "rf")]
        [card] = book.records("work")
        assert [len(typed(card).planned), len(typed(card).done), typed(card).signed_off.by] == [3, 3, "Robin"]
        worked = book.season(car="7").cars[0].work
        assert (worked.cards, worked.jobs, worked.unknown) == (1, 3, 0)
        [check] = book.records("check")
        assert [each.what for each in book.check_findings(check.name).findings if each.beyond] == [
            "RF toe",
            "total toe",
        ]
        for sheet in (f"{car.slug}/{sheet}" for car in team().cars for sheet in car.sheets):
            newest = sheet == "7/baseline"  # the walk has pushed onto it
            page = book.pull(f"{sheet}~1" if newest else sheet)
            assert page.document() == last_page(sheet, today)


def last_page(sheet: str, today: dt.date) -> Tree:
    car = next(car for car in team().cars if sheet.startswith(f"{car.slug}/"))
    return [step.document for step in story(car, today=today) if f"{car.slug}/{step.sheet}" == sheet][-1]


def test_goes_and_leaves_nothing(demo: tuple[subprocess.Popen[str], str], place: Path) -> None:
    process, _ = demo
    process.send_signal(signal.SIGINT)
    rest, _ = process.communicate(timeout=IN_TIME_S)
    assert (process.returncode, rest) == (0, "")
    assert list(place.iterdir()) == []


def test_a_taken_port_is_said_in_one_line() -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        run = subprocess.run([PROGRAM, "demo", "--port", str(port)], capture_output=True, text=True, check=False)
    assert run.returncode == 2
    assert run.stderr == f"studbook: cannot listen on 127.0.0.1 port {port}: Address already in use\n"
