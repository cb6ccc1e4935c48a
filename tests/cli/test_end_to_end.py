"""The command against the real service and database: the job from an empty book to a reverted change.

The car is invented. Figures: only what any longer stud must do is asserted, the engine has its own tests.
"""

import json
from pathlib import Path

import pytest

from cli.running import Run
from studbook.cli import file_origin
from studbook.formats import read, write

pytestmark = pytest.mark.usefixtures("as_chief")
DOCUMENT = Path(__file__).parents[1] / "http" / "document.json"
STUD = "setup.front.rf.upper_stud.length_in"


@pytest.fixture(autouse=True)
def _start(tmp_path: Path) -> None:
    document = json.loads(DOCUMENT.read_text())
    for form in ("json", "toml", "csv"):
        (tmp_path / f"start.{form}").write_text(write(document, form), newline="")


def test_the_job_from_an_empty_book(run: Run) -> None:
    assert run("cars")[:2] == (0, "No cars yet: studbook car add CAR --name NAME --number NUMBER\n")
    assert run("car", "add", "7", "--name", "Dirt seven", "--number", "7")[0] == 0
    assert run("car", "add", "7")[0] == 1
    assert run("push", "start.csv", "7/baseline", "--new", "-m", "as it stood")[0] == 0
    assert run("push", "start.json", "7/baseline", "--new")[0] == 3

    code, out, _ = run("what-if", "7/baseline", "rf.upper_stud.length_in+=0.5")
    assert code == 0
    assert "RIGHT FRONT" in out
    assert "bump steer" in out
    assert max(len(line) for line in out.splitlines()) <= 100
    before = json.loads(run("what-if", "7/baseline", "rf.upper_stud.length_in+=0.5", "--json")[1])
    assert before["changes"][0]["path"] == STUD

    assert run("pull", "7/baseline", "-o", "mine.toml")[0] == 0
    assert run("edit", "7/baseline", "rf.upper_stud.length_in+=0.5", "-m", "longer stud")[0] == 0
    mine = read(Path("mine.toml").read_bytes(), "toml") | {"notes": "my own words"}
    Path("mine.toml").write_text(write(mine, "toml"))
    code, _, err = run("push", "mine.toml", "-m", "words")
    assert code == 3
    assert "Chris pushed " in err
    assert "longer stud" in err
    assert run("pull", "7/baseline", "-o", "again.toml")[0] == 0
    Path("again.toml").write_text(Path("again.toml").read_text() + "\n[own]\nidea = 1\n")
    code, _, err = run("push", "again.toml", "-m", "an idea")
    assert code == 1
    assert "own.idea: no such field" in err
    assert run("push", "again.toml", "-m", "an idea", "--allow-unknown")[0] == 0

    code, out, _ = run("diff", "7/baseline~2", "7/baseline")
    assert [line.split()[0] for line in out.splitlines()] == ["field", "own.idea", STUD]
    assert run("effects", "7/baseline~1")[0] == 0
    assert run("carry", "7/baseline~2", "7/baseline", "-m", "back")[0] == 0
    assert run("diff", "7/baseline~3", "7/baseline")[1] == "Nothing differs.\n"
    code, out, _ = run("history", "7/baseline")
    assert [line.split()[-1] for line in out.splitlines()] == ["note", "back", "idea", "stud", "stood"]
    assert run("front", "7/baseline")[0] == 0


def test_every_form_brings_the_same_setup(run: Run) -> None:
    run("car", "add", "7")
    for form in ("csv", "toml", "json"):
        assert run("push", f"start.{form}", f"7/{form}", "--new")[0] == 0
        run("pull", f"7/{form}", "-o", f"back.{form}")
        assert read(Path(f"back.{form}").read_bytes(), form) == read(DOCUMENT.read_bytes(), "json")
    assert run("diff", "7/csv", "7/toml")[1] == run("diff", "7/toml", "7/json")[1] == "Nothing differs.\n"


def test_a_bad_value_leaves_the_book_as_it_was(run: Run) -> None:
    run("car", "add", "7")
    run("push", "start.json", "7/baseline", "--new")
    code, _, err = run("edit", "7/baseline", "rf.upper_stud.length_in=30.48")
    assert code == 1
    assert "30.48 in is above the most accepted, 3 in" in err
    assert len(run("history", "7/baseline")[1].splitlines()) == 2
    assert run("what-if", "12/baseline", "notes=x")[0] == 1
    assert run("history", "3f9a1c")[0] == 2


def test_a_file_pulled_from_another_book_begins_a_sheet_here(run: Run) -> None:
    """Its hidden companion names a revision that this book does not have."""
    assert run("car", "add", "8")[0] == 0
    file = Path("start.toml")
    file_origin.save_origin(file, sheet="7/baseline", revision="ab" * 32)
    code, out, err = run("push", "start.toml", "8/own", "--new", "-m", "from the demo")
    assert (code, err) == (0, "")
    assert out.startswith("8/own is now ")
    assert "[from abababababab]" in run("history", "8/own")[1]
