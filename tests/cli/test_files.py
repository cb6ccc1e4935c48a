"""Files that somebody else sent or put in the way: refused in a sentence, quickly; none is written through a link."""

import os
import time
from pathlib import Path
from typing import Any

import pytest

from cli.running import Run, fine
from studbook.cli.files import FILE_MOST, read_file, write_file
from studbook.cli.source_store import Source, save_sources

TOKEN = "sbk_" + "Q" * 38
SHARE = {"id": "s-1", "car": "7", "sheet": "baseline", "label": "Friends", "until": "2027-03-31T21:59:59Z"}


def text_of(kind: str) -> str:
    """Give a file that costs its reader more than it says."""
    return {
        "dotted": ".".join(["a"] * 30_000) + "=1\n",
        "dotted, in a group": "x = {" + ".".join(["a"] * 30_000) + "=1}\n",
        "dotted, a table": "[" + ".".join(["'a'"] * 30_000) + "]\nb=1\n",
        "digits": f"notes = {'9' * 5000}\n",
        "deep": "a = " + "[" * 30_000,
    }[kind]


@pytest.mark.parametrize("kind", ["dotted", "dotted, in a group", "dotted, a table", "digits", "deep"])
def test_a_costly_file_is_refused_quickly(run: Run, small_book: Any, kind: str) -> None:
    Path("hostile.toml").write_text(text_of(kind))
    begun = time.monotonic()
    code, out, err = run("push", "hostile.toml", "7/baseline", "--replace")
    assert (code, out) == (1, ""), err
    assert time.monotonic() - begun < 5
    assert "nothing was pushed" in err
    assert len(err) < 500
    assert small_book.asked == []


@pytest.mark.parametrize("kind", ["json", "csv"])
def test_a_number_of_5000_digits_is_refused(run: Run, small_book: Any, kind: str) -> None:
    digits = "9" * 5000
    text = {"json": f'{{"notes": {digits}}}', "csv": f"path,value\nsetup.cg.height_in,{digits}\n"}[kind]
    Path(f"hostile.{kind}").write_text(text)
    code, _, err = run("push", f"hostile.{kind}", "7/baseline", "--replace")
    assert (code, "nothing was pushed" in err, len(err) < 500) == (1, True, True)
    assert small_book.asked == []


def test_a_file_is_bounded_and_ordinary(run: Run, small_book: Any, tmp_path: Path) -> None:
    with Path("huge.toml").open("wb") as out:
        out.truncate(3 << 30)
    os.mkfifo("pipe.toml")
    Path("folder.toml").mkdir()
    Path("zero.toml").symlink_to("/dev/zero")
    begun = time.monotonic()
    for name, why in (
        ("huge.toml", "larger than 1 MiB"),
        ("pipe.toml", "is a pipe"),
        ("folder.toml", "is a folder"),
        ("zero.toml", "is a device"),
        ("/dev/zero", "is a device"),
    ):
        code, out_, err = run("push", name, "7/baseline", "--replace", "--form", "toml")
        assert (code, out_, why in err) == (2, "", True), err
    for name in ("pipe.toml", "folder.toml", "zero.toml", "huge.toml"):
        code, _, err = run("sources", "add", "friend", "https://book.example", "--token-file", name)
        assert (code, err.count("\n")) == (2, 1)
    assert time.monotonic() - begun < 5
    assert FILE_MOST == 1 << 20
    assert (small_book.asked, tmp_path.is_dir()) == ([], True)


def test_nothing_is_written_through_a_link(run: Run, small_book: Any, tmp_path: Path) -> None:
    precious = tmp_path / "precious"
    precious.write_text("mine")
    Path("7-baseline.toml").symlink_to(precious)
    code, _, err = run("pull", "7/baseline", "--force")
    assert (code, "7-baseline.toml is a link" in err) == (2, True)
    Path("7-baseline.toml").unlink()
    Path(".7-baseline.toml.studbook").symlink_to(precious)
    code, _, err = run("pull", "7/baseline", "--force")
    assert (code, ".7-baseline.toml.studbook is a link" in err) == (2, True)
    Path(".7-baseline.toml.studbook").unlink()
    fine(run("pull", "7/baseline"))
    assert precious.read_text() == "mine"
    assert small_book.asked


def test_an_export_follows_no_link(run: Run, small_book: Any, tmp_path: Path) -> None:
    precious = tmp_path / "precious"
    precious.write_text("mine")
    small_book.answers["/v1/export"] = {
        "cursor": "1-0",
        "items": [{"name": "laps", "about": "", "key": [], "columns": []}],
    }
    small_book.answers["/v1/export/laps"] = [[{"a": 1}], [[0]]]
    for place in ("000000000.part", "000000000.csv"):
        folder = tmp_path / place / "laps"
        folder.mkdir(parents=True)
        (folder / place).symlink_to(precious)
        run("export", "laps", "--to", str(tmp_path / place), "--format", "csv")
        assert precious.read_text() == "mine", place
    (tmp_path / "listed").mkdir()
    (tmp_path / "listed" / "export.json").symlink_to(precious)
    assert run("export", "laps", "--to", str(tmp_path / "listed"), "--format", "csv")[0] == 2
    assert precious.read_text() == "mine"


def test_a_table_names_no_other_folder(run: Run, small_book: Any, tmp_path: Path) -> None:
    for name in ("../../away", "/away", ".."):
        small_book.answers["/v1/export"] = {
            "cursor": "1-0",
            "items": [{"name": name, "about": "", "key": [], "columns": []}],
        }
        code, _, err = run("export", "all", "--to", str(tmp_path / "to"), "--format", "csv")
        assert (code, "no name of a folder" in err) == (1, True), err
    assert not (tmp_path / "to").exists()


def test_a_pulled_files_name_is_what_was_typed(run: Run, small_book: Any, tmp_path: Path) -> None:
    home = tmp_path / "deep" / "er"
    home.mkdir(parents=True)
    os.chdir(home)
    for revision in small_book.revisions:
        revision |= {"car": "../../../away", "sheet": "../x"}
    code, _, err = run("pull", "1111111")
    assert (code, "names no sheet" in err) == (1, True)
    for revision in small_book.revisions:
        revision |= {"car": "other", "sheet": "thing"}
    fine(run("pull", "1111111"))
    fine(run("pull", "7/baseline~0"))
    files = {str(each.relative_to(tmp_path)) for each in tmp_path.rglob("*") if each.is_file()}
    assert files == {
        *("deep/er/1111111.toml", "deep/er/.1111111.toml.studbook"),
        *("deep/er/7-baseline.toml", "deep/er/.7-baseline.toml.studbook"),
    }


def test_a_file_that_is_replaced_keeps_its_mode_and_a_new_one_has_the_users(tmp_path: Path) -> None:
    file = tmp_path / "a.toml"
    before = os.umask(0o027)
    try:
        write_file(file, b"1")
        assert file.stat().st_mode & 0o777 == 0o640
        file.chmod(0o604)
        write_file(file, b"2")
    finally:
        os.umask(before)
    assert (file.stat().st_mode & 0o777, read_file(file)) == (0o604, b"2")
    assert [each.name for each in tmp_path.iterdir()] == ["a.toml"]


def test_secrets_that_others_may_read_are_told(run: Run, small_book: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    small_book.answers["/v1/me"] = {"id": "s-1", "name": "Friends", "role": "share", "share": SHARE}
    monkeypatch.setenv("XDG_CONFIG_HOME", str(Path.cwd() / "configuration"))
    Path("token").write_text(f"{TOKEN}\n")
    Path("token").chmod(0o644)
    words = ("sources", "add", "friend", os.environ["STUDBOOK_URL"], "--token-file", "token")
    code, _, err = run(*words)
    assert (code, "others on this machine may read token (mode 0644)" in err) == (0, True)
    kept = Path("configuration/studbook/sources.json")
    assert kept.stat().st_mode & 0o777 == 0o600
    assert run("sources")[2] == ""
    kept.chmod(0o640)
    assert f"others on this machine may read {Path.cwd() / kept} (mode 0640)" in run("sources")[2]


def test_plain_http_to_another_machine_is_allowed_by_name(
    run: Run, small_book: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    own = os.environ["STUDBOOK_URL"]
    monkeypatch.setenv("XDG_CONFIG_HOME", str(Path.cwd() / "configuration"))
    monkeypatch.setenv("STUDBOOK_TIMEOUT_S", "0.2")
    monkeypatch.setenv("STUDBOOK_FROM_TOKEN", TOKEN)
    far = "http://192.0.2.1:9"  # RFC 5737: of no machine
    for words in (
        ("cars",),
        ("sources", "add", "friend", far),
        ("carry", "7/baseline", "7/other", "--new", "--from-url", far),
    ):
        monkeypatch.setenv("STUDBOOK_URL", far if words == ("cars",) else own)
        code, _, err = run(*words)
        assert (code, "not encrypted" in err, "--insecure-http" in err) == (2, True, True), words
        code, _, err = run(*words, "--insecure-http")
        assert (code, "not encrypted" in err) == (4, False), words
    monkeypatch.setenv("STUDBOOK_INSECURE_HTTP", "1")
    monkeypatch.setenv("STUDBOOK_URL", far)
    assert run("cars")[0] == 4
    monkeypatch.delenv("STUDBOOK_INSECURE_HTTP")
    save_sources({"friend": Source(far, TOKEN)})
    code, _, err = run("pull", "friend:7/baseline")
    assert (code, "not encrypted" in err) == (2, True)
    save_sources({"friend": Source(far, TOKEN, insecure_http=True)})
    assert run("pull", "friend:7/baseline")[0] == 4
    assert small_book


@pytest.mark.parametrize(
    ("name", "value", "why"),
    [
        ("STUDBOOK_TOKEN", f"{TOKEN}\nx", "line break"),
        ("STUDBOOK_TOKEN", f"{TOKEN}é", "no token has"),
        ("STUDBOOK_URL", "127.0.0.1:8710", "is no address"),
        ("STUDBOOK_TIMEOUT_S", "soon", "give seconds"),
        ("STUDBOOK_TIMEOUT_S", "nan", "give seconds"),
    ],
)
def test_a_setting_that_is_none_is_told_at_once(
    run: Run, small_book: Any, monkeypatch: pytest.MonkeyPatch, name: str, value: str, why: str
) -> None:
    monkeypatch.setenv(name, value)
    begun = time.monotonic()
    code, out, err = run("cars")
    assert (code, out, why in err, TOKEN[4:] in err) == (2, "", True, False)
    assert time.monotonic() - begun < 1
    assert small_book.asked == []
