"""Each command: what it prints, what it sends, how it ends."""

import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from cli.running import Run
from studbook.cli import file_origin, main
from studbook.cli.exit_codes import exit_code
from studbook.core.errors import local
from studbook.formats import read

STUD = "setup.front.rf.upper_stud.length_in"


def test_pull_writes_a_file_and_remembers(run: Run, small_book: Any) -> None:
    code, out, _ = run("pull", "7/baseline")
    assert (code, out) == (0, "7-baseline.toml: 7/baseline at 111111111111\n")
    assert read(Path("7-baseline.toml").read_bytes(), "toml") == small_book.documents[0]
    mark = file_origin.load_origin(Path("7-baseline.toml"))
    assert mark is not None
    assert (mark.sheet, mark.revision) == ("7/baseline", "1" * 64)


def test_pull_takes_its_form_from_the_files_ending(run: Run, small_book: Any) -> None:
    for form in ("json", "toml", "csv"):
        assert run("pull", "7/baseline", "-o", f"car.{form}")[0] == 0
        assert read(Path(f"car.{form}").read_bytes(), form) == small_book.documents[0]
    code, out, _ = run("pull", "1111111", "-o", "-", "--form", "csv")
    assert code == 0
    assert "setup.cg.height_in,17,in" in out
    assert run("pull", "7/baseline", "-o", "car.xls")[0] == 2


@pytest.mark.usefixtures("small_book")
def test_pull_does_not_write_over_changes(run: Run) -> None:
    run("pull", "7/baseline", "-o", "car.csv")
    assert run("pull", "7/baseline", "-o", "car.csv")[0] == 0
    Path("car.csv").write_text(Path("car.csv").read_text().replace("17", "18"))
    code, _, err = run("pull", "7/baseline", "-o", "car.csv")
    assert code == 2
    assert err == "studbook: car.csv holds changes that were not pushed; pull to another file, or --force\n"
    assert run("pull", "7/baseline", "-o", "car.csv", "--force")[0] == 0


def test_push_sends_what_changed_and_goes_on_from_there(run: Run, small_book: Any) -> None:
    run("pull", "7/baseline", "-o", "car.csv")
    for height in ("17.5", "18"):
        text = Path("car.csv").read_bytes().decode()
        Path("car.csv").write_bytes(
            "".join(
                f"setup.cg.height_in,{height},in\r\n" if line.startswith("setup.cg.height_in") else line
                for line in text.splitlines(keepends=True)
            ).encode()
        )
        code, out, _ = run("push", "car.csv", "-m", "fuel higher")
        assert code == 0
        sent = small_book.asked[-1][2]
        assert sent == {"note": "fuel higher", "edits": [{"path": "setup.cg.height_in", "value": float(height)}]}
    assert out == f"7/baseline is now {'3' * 12}\n"
    code, _, err = run("push", "car.csv")
    assert (code, err) == (0, f"studbook: nothing differs from {'3' * 12} of 7/baseline\n")


def test_a_stale_push_says_who_was_first_and_keeps_the_file(run: Run, small_book: Any) -> None:
    run("pull", "7/baseline", "-o", "car.toml")
    mine = Path("car.toml").read_text().replace("17", "18")
    Path("car.toml").write_text(mine)
    small_book.record(small_book.documents[0] | {"notes": "slick"}, note="it dried", author="Cy")
    code, _, err = run("push", "car.toml", "-m", "mine")
    assert code == 3
    assert err.startswith(
        "studbook: someone pushed before you; car.toml is as you left it\n  Cy pushed 222222222222 at "
    )
    assert "it dried" in err
    assert Path("car.toml").read_text() == mine


@pytest.mark.usefixtures("small_book")
def test_bad_rows_are_told_at_once_and_nothing_is_sent(run: Run, small_book: Any) -> None:
    Path("car.csv").write_text("path,value,unit\nsetup.cg.height_in,3,in\nmeasured.scales.lf_lb,5900,lb\n")
    code, _, err = run("push", "car.csv", "7/baseline", "--replace")
    assert code == 1
    assert err.splitlines() == [
        "studbook: car.csv: nothing was pushed",
        "line 2: setup.cg.height_in: 3 in is below the least accepted, 10 in",
        "line 3: measured.scales.lf_lb: 5900 lb is above the most accepted, 1500 lb",
    ]
    assert small_book.asked == []


def test_faults_that_the_service_finds_get_their_lines(run: Run, small_book: Any) -> None:
    Path("car.csv").write_text("path,value,unit\nsetup.cg.hieght_in,17,\n")
    fault = {"detail": "setup.cg.hieght_in: no such field", "path": "setup.cg.hieght_in"}
    small_book.refuse = problem("bad_document", status=422, errors=[fault])
    code, _, err = run("push", "car.csv", "7/baseline", "--new")
    assert (code, err) == (1, "studbook: nothing was pushed\n  line 2: setup.cg.hieght_in: no such field\n")


@pytest.mark.usefixtures("small_book")
def test_an_empty_file_takes_no_setups_place(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "cut-short.toml"
    file.write_text("# the disk was full\n")
    for word in ("--replace", "--new"):
        code, _, err = run("push", str(file), "7/baseline", word)
        assert (code, err) == (1, f"studbook: {file}: nothing was pushed\nit holds no field\n")


@pytest.mark.usefixtures("small_book")
def test_a_file_that_was_not_pulled_needs_a_word(run: Run) -> None:
    Path("car.toml").write_text("notes = 'x'")
    for words in (("push", "car.toml"), ("push", "car.toml", "7/baseline")):
        code, _, err = run(*words)
        assert code == 2
        assert "was not pulled" in err
    assert run("push", "car.toml", "7/baseline", "--replace", "-m", "n")[0] == 0


def test_edit_takes_short_paths_and_amounts(run: Run, small_book: Any) -> None:
    code, out, _ = run("edit", "7/baseline", "rf.upper_stud.length_in+=0.5", "--remove", "own.idea", "-m", "longer")
    assert code == 0
    assert small_book.asked[-1][2] == {
        "note": "longer",
        "edits": [{"path": "own.idea", "remove": True}, {"path": STUD, "value": 1.7}],
    }
    assert out.splitlines() == [f"{STUD}: 1.2 -> 1.7 in", "own.idea: 3 -> -", f"7/baseline is now {'2' * 12}"]


def test_edit_in_an_editor(run: Run, small_book: Any, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    monkeypatch.setenv("EDITOR", "sed -i s/tacky/slick/")
    assert run("edit", "7/baseline", "-m", "dried")[0] == 0
    assert small_book.asked[-1][2] == {"note": "dried", "edits": [{"path": "notes", "value": "slick"}]}
    monkeypatch.setenv("EDITOR", "true")
    assert run("edit", "7/baseline")[:2] == (0, "Nothing was changed.\n")
    monkeypatch.setenv("EDITOR", "sed -i s/17/3/")
    code, _, err = run("edit", "7/baseline", "-m", "slip")
    assert code == 1
    assert "your text is kept: mend it, then studbook push " in err
    assert "3 in is below the least accepted, 10 in" in err
    monkeypatch.setenv("EDITOR", "false")
    assert run("edit", "7/baseline")[0] == 2
    monkeypatch.delenv("EDITOR")
    monkeypatch.delenv("VISUAL", raising=False)
    assert run("edit", "7/baseline")[0] == 2


def test_history_and_diff(run: Run, small_book: Any) -> None:
    small_book.record(small_book.documents[0], note="two\nlines", author="Cy")
    code, out, _ = run("history", "7/baseline")
    assert code == 0
    assert [line.split()[0] for line in out.splitlines()] == ["revision", "2" * 12, "1" * 12]
    assert "two lines" in out
    changes = [
        {"path": STUD, "before": 1.2, "after": 1.7, "unit": "in"},
        {"path": "notes", "after": "slick"},
        {"path": "own.p", "before": [1, 2.5]},
    ]
    answer = {"since": "1" * 64, "revision": "2" * 64, "changes": changes}
    small_book.answers[f"/v1/revisions/{'2' * 64}/changes"] = answer
    code, out, _ = run("diff", "7/baseline~1", "7/baseline")
    assert code == 0
    assert out.splitlines()[1].split() == [STUD, "1.2", "1.7", "in", "+0.5"]
    assert out.splitlines()[2].split() == ["notes", "-", "slick"]
    assert out.splitlines()[3].split() == ["own.p", "[1,2.5]", "-"]
    assert json.loads(run("diff", "7/baseline~1", "7/baseline", "--json")[1]) == answer


def test_cars_and_sheets(run: Run, small_book: Any) -> None:
    car = {"car": "7", "name": "Dirt", "number": "7", "retired": False, "revision": small_book.revisions[0], "tag": "t"}
    small_book.answers |= {"/v1/cars": {"items": [car]}, "/v1/cars/7": car}
    small_book.answers["/v1/cars/7/sheets"] = {"items": [small_book.sheet()]}
    assert run("cars")[1].splitlines() == ["car  number  name", "7    7       Dirt"]
    assert json.loads(run("cars", "--json")[1]) == {"items": [car]}
    assert run("sheets", "7")[1].splitlines()[1].startswith("7/baseline  111111111111")
    small_book.answers["/v1/cars"] = car
    assert run("car", "add", "7", "--name", "Dirt", "--number", "7")[1] == "car 7, number 7, Dirt\n"
    assert small_book.asked[-1][2] == {"car": "7", "name": "Dirt", "number": "7"}
    assert run("car", "change", "7", "--retired")[0] == 0
    assert small_book.asked[-1][2] == {"retired": True}
    assert run("car", "change", "7")[0] == 2


def test_carry_is_a_new_revision(run: Run, small_book: Any) -> None:
    small_book.record({"notes": "worse"}, note="", author="Cy")
    assert run("carry", "7/baseline~1", "7/baseline", "-m", "back")[0] == 0
    sent = small_book.asked[-1][2]
    assert (sent["carried_from"], sent["note"]) == ("1" * 64, "back")
    assert small_book.documents[-1] == small_book.documents[0]


def test_what_if_sends_full_paths(run: Run, small_book: Any) -> None:
    small_book.answers["/v1/what-if"] = {
        "engine": "1",
        "headline": ["Nothing changes."],
        "changes": [],
        "assumptions": [],
        "missing": [],
        "cautions": [],
    }
    code, out, _ = run("what-if", "7/baseline", "rf.upper_stud.length_in-=0.2")
    assert code == 0
    assert small_book.asked[-1][2]["edits"] == [{"path": STUD, "value": 1}]
    assert out.splitlines() == [
        "What if, on 7/baseline at 111111111111:",
        f"  {STUD}: 1.2 -> 1 in",
        "",
        "Nothing changes.",
    ]


@pytest.mark.parametrize(
    ("code", "status", "ends"),
    [
        ("bad_document", 422, 1),
        ("not_found", 404, 1),
        ("not_allowed", 403, 1),
        ("fields_missing", 422, 1),
        ("stale", 412, 3),
        ("split", 409, 3),
        ("bad_reference", 400, 2),
        ("later", 400, 1),
        ("too_costly", 422, 1),
    ],
)
def test_refusals_have_their_exit_codes(run: Run, small_book: Any, code: str, status: int, ends: int) -> None:
    small_book.refuse = problem(code, status=status, detail="said so")
    assert run("sheets", "7") == (ends, "", "studbook: said so [request r1]\n")


@pytest.mark.parametrize("code", ["too_many", "too_slow", "busy", "unavailable"])
def test_what_can_be_tried_again_has_its_own_exit_code(code: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert exit_code(local(code, "said so")) == 4
    assert capsys.readouterr().err == "studbook: said so\n"


def test_every_fault_has_its_line(run: Run, small_book: Any) -> None:
    faults = [{"detail": "a: no"}, {"detail": "b: no"}]
    small_book.refuse = problem("fields_missing", status=422, detail="too thin", errors=faults)
    assert run("front", "1111111")[2] == "studbook: too thin [request r1]\n  a: no\n  b: no\n"


def test_nobody_there_is_code_4(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("STUDBOOK_TOKEN", "t")
    monkeypatch.setenv("STUDBOOK_URL", "http://127.0.0.1:1")
    monkeypatch.setenv("STUDBOOK_TIMEOUT_S", "1.5")
    code, _, err = run("cars")
    assert code == 4
    assert err.startswith("studbook: http://127.0.0.1:1 does not answer")
    assert err.count("\n") == 1 + ("trying again" in err)


def test_usage_is_code_2(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("STUDBOOK_TOKEN", "")
    for words in (
        ("cars",),
        ("pull",),
        ("pull", "no such form"),
        ("nonsense",),
        ("cars", "--loud"),
        ("push", "no.toml"),
    ):
        code, out, err = run(*words)
        assert (code, out) == (2, ""), words
        assert err.startswith("studbook: ")
        assert err.count("\n") == 1


@pytest.mark.parametrize(("typed", "meant"), [("save", "stick write"), ("load", "stick read"), ("tokens", "token")])
def test_another_word_for_a_command_names_the_command(run: Run, typed: str, meant: str) -> None:
    code, out, err = run(typed, "book.file")
    assert (code, out) == (2, "")
    assert err == f"studbook: there is no command {typed}: it is `studbook {meant}`\n"


def test_fields_are_listed_with_unit_bounds_and_choices(run: Run) -> None:
    code, out, _ = run("fields", "setup", "rf", "upper_stud.length_in")
    assert code == 0
    assert out.splitlines()[-2].split() == ["setup.front.rf.upper_stud.length_in", "in", "0.6", "3"]
    told = " ".join(run("fields", "outing")[1].split())
    assert "practice, hot_laps, qualifying, heat, b_main, feature, test" in told
    assert "place.corner" in run("fields", "shop")[1]
    assert run("fields", "setup", "xyz")[2] == "studbook: no field of setup has 'xyz' in its name\n"
    assert "there are no fields of 'cars': setup, event" in run("fields", "cars")[2]


def test_help_tells_commands_exit_codes_and_environment(run: Run) -> None:
    code, out, _ = run("--help")
    assert code == 0
    for word in ("what-if", "carry", "Exit codes", "STUDBOOK_URL", "NO_COLOR"):
        assert word in out


def test_commands_of_the_service_say_what_to_install(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("importlib.metadata.entry_points", lambda **_: [])
    for name in ("serve", "migrate", "demo"):
        code, _, err = run(name, "--port", "1")
        assert code == 2
        assert err == f'studbook: `studbook {name}` comes with the service: pip install "studbook-service[embedded]"\n'


def test_other_distributions_add_commands(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    class Entry:
        value = "theirs:register"

        def load(self) -> Callable[[Any], None]:
            return lambda app: app.command(lambda: sys.stdout.write("theirs\n") and None, name="serve")

    monkeypatch.setattr("importlib.metadata.entry_points", lambda **_: [Entry()])
    assert run("serve")[:2] == (0, "theirs\n")


def test_an_interrupt_is_130(monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(_: object) -> int:
        raise KeyboardInterrupt

    monkeypatch.setattr("studbook.cli.program.run", interrupted)
    assert main(["cars"]) == 130


@pytest.mark.usefixtures("small_book")
def test_a_reader_that_leaves_is_no_error() -> None:
    program = "import sys; from studbook.cli import main; sys.exit(main(['history', '7/baseline']))"
    command = f'"{sys.executable}" -c "{program}" | true; echo ${{PIPESTATUS[0]}}'
    done = subprocess.run(["bash", "-c", command], capture_output=True, text=True, check=True, env=os.environ)
    assert (done.stdout, done.stderr) == ("0\n", "")


def problem(code: str, **more: Any) -> dict[str, Any]:
    return {"type": f"urn:studbook:problem:{code}", "title": code, "code": code, "request_id": "r1", **more}
