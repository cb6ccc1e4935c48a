"""`studbook merge`, `carry` and the drawn history, against the real service. All numbers are invented."""

import io
import json
import time
from pathlib import Path
from typing import Any

import pytest

from cli.running import Run
from studbook import Studbook
from studbook.history.canonical import canonical, encode
from studbook.history.changes import FieldChange, apply
from studbook.history.ids import Header, entry_id, hash_content
from studbook.history.leaves import at, steps
from studbook_service.store import Founded, NewEntry, found_team, open_book

pytestmark = pytest.mark.usefixtures("as_chief")
DOCUMENT: dict[str, Any] = json.loads((Path(__file__).parents[1] / "http" / "document.json").read_text())
UPPER, LOWER = "setup.front.rf.upper_stud.length_in", "setup.front.rf.lower_stud.length_in"


@pytest.fixture(autouse=True)
def no_keyboard(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO())


@pytest.fixture
async def entries(shared_database: Any, team: Founded) -> Any:
    """Bring entries of 7/baseline as another laptop would: parents, author, changed values."""
    book = await open_book(shared_database.serving_dsn)
    bodies: dict[str, Any] = {}

    async def bring(*parents: str, by: str = "robin", note: str = "", line: str, kind: str, body: Any) -> str:
        header = Header(
            kind=kind,
            line=line,
            parents=tuple(sorted(parents)),
            author=by,
            at=1_780_000_000_000 + 60_000 * len(bodies),
            content=hash_content(note=note, body=encode(canonical(body))),
        )
        entry = NewEntry(
            id=bytes.fromhex(entry_id(header)),
            kind=kind,
            line=line,
            parents=tuple(bytes.fromhex(parent) for parent in header.parents),
            content=bytes.fromhex(header.content),
            note=note,
            body=encode(canonical(body)),
            author=by,
            at_ms=header.at,
        )
        await book.append(team.team, [entry])
        bodies[entry.id.hex()] = body
        return entry.id.hex()

    async def change(*parents: str, by: str = "robin", note: str = "", **values: Any) -> str:
        paths = {"upper": UPPER, "lower": LOWER, "notes": "notes"}
        body = bodies[parents[0]] if parents else DOCUMENT
        body = apply([FieldChange(steps(paths[name]), after=value) for name, value in values.items()], body)
        return await bring(*parents, by=by, note=note, line="car/7/sheet/baseline", kind="sheet", body=body)

    await bring(line="car/7", kind="car", body={"name": "Dirt seven", "number": "7", "retired": False})
    yield change
    await book.close()


@pytest.fixture
async def clean(entries: Any, team: Founded) -> list[str]:
    """A split in which nothing is in conflict: the base, Chris's side, Robin's side."""
    base = await entries(note="baseline")
    return [
        base,
        await entries(base, by=team.member, note="tight", upper=1.7),
        await entries(base, note="loose", lower=1.1),
    ]


@pytest.fixture
async def clash(entries: Any, team: Founded) -> list[str]:
    """A split in which both changed the upper stud."""
    base = await entries(note="baseline")
    return [
        base,
        await entries(base, by=team.member, note="tight", upper=1.7),
        await entries(base, note="loose", upper=1.4, lower=1.1),
    ]


def document(address: str, team: Founded) -> Any:
    with Studbook(address, team.token) as book:
        return book.pull("7/baseline").document()


def test_one_key_accepts_a_clean_merge(run: Run, clean: list[str], address: str, team: Founded) -> None:
    base, mine, theirs = clean
    code, out, _ = run("history", "7/baseline")
    assert code == 0
    assert sorted(line[:3] for line in out.splitlines()[1:]) == ["* ".ljust(3), "*-'", "| *"]
    code, out, _ = run("merge", "7/baseline", typed="\n")
    assert code == 0
    assert "Taken from side a:" in out
    assert f"{UPPER}" in out
    assert "7/baseline is now" in out
    merged = document(address, team)
    assert (at(merged, steps(UPPER)), at(merged, steps(LOWER))) == (1.7, 1.1)
    code, out, _ = run("history", "7/baseline")
    assert [line[:3] for line in out.splitlines()[1:]] == ["*-.", "| *", "* |", "*-'"]
    assert "merge" in out.splitlines()[1]
    assert {mine[:12], theirs[:12], base[:12]} <= set(out.split())
    assert run("merge", "7/baseline")[:2] == (0, "7/baseline is not split: there is nothing to merge.\n")


@pytest.mark.usefixtures("clean")
def test_nothing_is_recorded_unasked(run: Run) -> None:
    code, _, err = run("merge", "7/baseline")
    assert code == 3
    assert "--yes" in err
    for typed in ("n\n", ""):
        code, out, _ = run("merge", "7/baseline", typed=typed)
        assert (code, out.splitlines()[-1].endswith("Nothing was recorded.")) == (0, True)
    assert run("pull", "7/baseline")[0] == 3
    code, out, _ = run("merge", "7/baseline", "--yes", "--json")
    assert (code, json.loads(out)["revision"]["author"]["id"]) == (0, "merge")


def test_a_clean_merge_with_a_note_is_ones_own(run: Run, clean: list[str], team: Founded) -> None:
    code, out, _ = run("merge", "7/baseline", "--yes", "--json", "-m", "both were right")
    made = json.loads(out)["revision"]
    assert (code, made["author"]["id"], made["note"]) == (0, team.member, "both were right")
    assert made["parents"] == sorted(clean[1:])


@pytest.mark.usefixtures("clash")
def test_a_conflict_is_asked_about(run: Run, address: str, team: Founded) -> None:
    code, out, _ = run("merge", "7/baseline", "-m", "half way", typed="1,5\n2.x\n=1.55\n")
    assert code == 0, out
    assert f"{UPPER}: was 1.2 in" in out
    assert "Chris" in out
    assert "tight" in out
    assert "robin" in out
    assert "write numbers without commas" in out
    assert at(document(address, team), steps(UPPER)) == 1.55


@pytest.mark.parametrize("typed", ["\n", ""])
@pytest.mark.usefixtures("clash")
def test_one_may_stop(run: Run, typed: str) -> None:
    code, _, err = run("merge", "7/baseline", typed=typed)
    assert (code, "nothing was recorded" in err) == (3, True)
    assert run("pull", "7/baseline")[0] == 3


def test_a_side_is_taken_by_its_letter(run: Run, clash: list[str], address: str, team: Founded) -> None:
    assert run("merge", "7/baseline", typed="b\n")[0] == 0
    assert at(document(address, team), steps(UPPER)) == {clash[1]: 1.7, clash[2]: 1.4}[max(clash[1:])]


@pytest.mark.usefixtures("clash")
def test_a_field_may_be_left_out(run: Run, address: str, team: Founded) -> None:
    assert run("merge", "7/baseline", typed="-\n")[0] == 0
    assert at(document(address, team), steps(UPPER)) is None


@pytest.mark.parametrize(
    ("words", "value"),
    [(["--mine"], 1.7), (["--theirs"], 1.4), (["--set", "rf.upper_stud.length_in=1.5"], 1.5)],
)
@pytest.mark.usefixtures("clash")
def test_options_choose(run: Run, address: str, team: Founded, words: list[str], value: float) -> None:
    code, _, err = run("merge", "7/baseline")
    assert (code, UPPER in err, "--mine" in err) == (3, True, True)
    assert run("merge", "7/baseline", *words)[0] == 0
    merged = document(address, team)
    assert (at(merged, steps(UPPER)), at(merged, steps(LOWER))) == (value, 1.1)


def test_a_side_is_taken_by_its_id(run: Run, clash: list[str], address: str, team: Founded) -> None:
    assert run("merge", "7/baseline", "--side", "zz")[0] == 2
    assert run("merge", "7/baseline", "--side", clash[2][:8])[0] == 0
    assert at(document(address, team), steps(UPPER)) == 1.4


def test_beside_a_side_that_was_erased_another_is_taken_whole(
    run: Run, clash: list[str], address: str, team: Founded, shared_database: Any
) -> None:
    owner = ("--database", shared_database.owner_dsn, "--team", str(team.team), "--reason", "asked for")
    assert run("erase", "--entry", clash[2], *owner)[0] == 0
    time.sleep(1)
    code, _, err = run("merge", "7/baseline")
    assert (code, "take a whole side with --side ID" in err) == (3, True)
    assert run("merge", "7/baseline", "--mine", "-m", "what is left")[0] == 0
    assert at(document(address, team), steps(UPPER)) == 1.7
    assert len(run("history", "7/baseline")[1].splitlines()) == 5


def test_two_ways_to_choose_at_once_are_refused(run: Run) -> None:
    assert run("merge", "7/baseline", "--mine", "--theirs")[0] == 2
    assert run("merge", "7/baseline", "--mine", "--side", "0a1b2c")[0] == 2


async def test_of_two_that_are_mine_one_is_named(run: Run, entries: Any, clash: list[str], team: Founded) -> None:
    await entries(clash[0], by=team.member, upper=1.9)
    code, _, err = run("merge", "7/baseline", "--mine")
    assert (code, "2 of the 3 tips are yours: name one with --side ID" in err) == (2, True)


async def test_crossed_sides_are_compared_with_each_other(run: Run, entries: Any, clash: list[str]) -> None:
    _, mine, theirs = clash
    await entries(mine, theirs, lower=1.2)
    await entries(theirs, mine, lower=1.2)
    code, out, err = run("merge", "7/baseline")
    assert (code, "see how they differ with: studbook diff" in out, UPPER in err) == (3, True, True)
    code, out, _ = run("merge", "7/baseline", typed="\n")
    assert "the sides began with different values" in out


def test_fields_are_carried(run: Run, clean: list[str], address: str, team: Founded) -> None:
    assert run("merge", "7/baseline", "--yes")[0] == 0
    assert run("carry", clean[0], "7/tacky", "--new", "-m", "begun")[0] == 0
    code, out, _ = run("carry", "7/baseline", "7/tacky", "rf.upper_stud.length_in", "--json", "-m", "the stud alone")
    assert code == 0
    with Studbook(address, team.token) as book:
        tacky = book.pull("7/tacky")
        assert json.loads(out)["revision"]["carried_from"] == book.resolve("7/baseline").id
    assert at(tacky.document(), steps(UPPER)) == 1.7
    assert at(tacky.document(), steps(LOWER)) == at(DOCUMENT, steps(LOWER))
    assert run("carry", "7/baseline", "7/tacky", "rf.upper_stud.length_in")[0] == 0
    assert len(run("history", "7/tacky")[1].splitlines()) == 3
    assert run("carry", "7/baseline", "7/tacky", "setup.nowhere")[0] == 2
    assert run("carry", "7/baseline", "7/stud", "setup.front.rf.upper_stud", "--new")[0] == 0
    with Studbook(address, team.token) as book:
        assert list(book.pull("7/stud").document()["setup"]["front"]) == ["rf"]


async def test_a_setup_is_carried_from_another_book(
    run: Run,
    clean: list[str],
    address: str,
    team: Founded,
    shared_database: Any,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    friends = await found_team(shared_database.owner_dsn, team_name="Friends", chief_name="Ada")
    monkeypatch.setenv("STUDBOOK_TOKEN", friends.token)
    assert run("car", "add", "9", "--name", "Nine")[0] == 0
    words = ("carry", clean[1], "9/baseline", "--from-url", address)
    code, _, err = run(*words, "--new")
    assert (code, "STUDBOOK_FROM_TOKEN" in err) == (2, True)
    (tmp_path / "token").write_text(team.token)
    assert run(*words, "--new", "--token-file", "token")[0] == 0
    monkeypatch.setenv("STUDBOOK_FROM_TOKEN", team.token)
    code, out, _ = run("carry", clean[2], "9/baseline", LOWER, "--from-url", address, "--json")
    assert (code, json.loads(out)["revision"]["carried_from"]) == (0, clean[2])
    with Studbook(address, friends.token) as book:
        carried = book.pull("9/baseline").document()
    assert (at(carried, steps(UPPER)), at(carried, steps(LOWER))) == (1.7, 1.1)
