"""Members, tokens, protection and the audit record by command, against the real service. Names are invented."""

import datetime as dt
import json
from pathlib import Path

import pytest

from cli.running import Run
from studbook_service.store import Founded

pytestmark = pytest.mark.usefixtures("as_chief")
DOCUMENT = (Path(__file__).parents[1] / "http" / "document.json").read_text()
UNTIL = (dt.datetime.now().astimezone() + dt.timedelta(days=30)).date().isoformat()


@pytest.fixture
def sheet(run: Run) -> str:
    """A car with a sheet."""
    Path("start.json").write_text(DOCUMENT)
    assert run("car", "add", "7", "--name", "Dirt seven")[0] == 0
    assert run("push", "start.json", "7/baseline", "--new", "-m", "as it stood")[0] == 0
    return "7/baseline"


@pytest.fixture
def robin(run: Run) -> tuple[str, str]:
    """A member of the crew: id and token."""
    member = json.loads(run("members", "add", "Robin", "--json")[1])["id"]
    return member, run("token", "new", "--member", member, "--label", "Robin's phone")[1].strip()


def rows(out: str) -> list[list[str]]:
    return [line.split() for line in out.splitlines()]


def test_members_join_change_leave_and_come_back(run: Run, team: Founded) -> None:
    assert run("me")[1] == f"Chris, {team.member}: your token opens the whole book, as chief\n"
    code, out, _ = run("members", "add", "Robin", "--role", "viewer")
    assert code == 0
    member, told = out.split(", ", 1)
    assert (member[:2], len(member), told) == ("m-", 12, "Robin, viewer\n")
    assert run("members", "change", member, "--role", "crew", "--name", "Robin R")[1] == f"{member}, Robin R, crew\n"
    assert run("members", "change", member)[0] == 2
    assert sorted(rows(run("members")[1])[1:]) == sorted(
        [[team.member, "Chris", "chief"], [member, "Robin", "R", "crew"]]
    )
    assert run("members", "end", member)[1] == f"{member}, Robin R, crew, left\n"
    assert [member, "Robin", "R", "crew", "left"] in rows(run("members", "list")[1])
    assert run("members", "back", member)[1] == f"{member}, Robin R, crew\n"
    items = json.loads(run("members", "--json")[1])["items"]
    assert {each["id"]: each["role"] for each in items} == {team.member: "chief", member: "crew"}
    assert run("members", "add", "Ada", "--id", "ada")[1] == "ada, Ada, crew\n"
    code, _, err = run("members", "add", "Ada", "--id", "ada")
    assert (code, err.startswith("studbook: ")) == (1, True)


@pytest.mark.parametrize(
    "words",
    [
        ("members", "change", "m-nobodyhere", "--role", "crew"),
        ("members", "add", "Robin", "--id", "merge"),
        ("members", "add", "two\nlines"),
        ("members", "change", "CHIEF", "--role", "viewer"),
        ("members", "end", "CHIEF"),
        ("token", "new", "--label", "x", "--member", "m-nobodyhere"),
        ("token", "end", "0123456789ab"),
        ("shares", "end", "s-nosuchthing"),
        ("shares", "new", "99", "--for", "Friends", "--until", UNTIL),
        ("protect", "99/baseline"),
    ],
)
def test_refusals_end_with_1_and_one_line(run: Run, team: Founded, words: tuple[str, ...]) -> None:
    code, out, err = run(*(team.member if word == "CHIEF" else word for word in words))
    assert (code, out) == (1, ""), err
    assert err.startswith("studbook: ")


@pytest.mark.parametrize(
    "words",
    [
        ("members", "add", "Robin", "--role", "boss"),
        ("token", "new"),
        ("shares", "new", "7"),
        ("shares", "new", "7", "--for", "Friends", "--until", "soon"),
        ("shares", "new", "7/a/b", "--for", "Friends", "--until", UNTIL),
        ("protect", "7"),
        ("audit", "verify", "--head", "nothex"),
    ],
)
def test_slips_of_the_pen_end_with_2(run: Run, words: tuple[str, ...]) -> None:
    code, out, err = run(*words)
    assert (code, out) == (2, ""), err


def test_a_token_alone_is_on_standard_output(run: Run, robin: tuple[str, str]) -> None:
    code, out, err = run(
        "token", "new", "--member", robin[0], "--label", "to look only", "--role", "viewer", "--days", "7"
    )
    assert (code, len(out), out[:4]) == (0, 43, "sbk_")
    assert out.strip() not in err
    assert "opens the book to " in err
    viewer = out.strip()
    assert "as viewer" in run("me", token=viewer)[1]
    assert json.loads(run("token", "new", "--label", "mine", "--json")[1])["about"]["role"] == "chief"
    listed = run("token")[1]
    assert [line for line in listed.splitlines() if "to look only" in line and "Robin" in line]
    assert viewer not in listed
    own = json.loads(run("token", "--json", token=robin[1])[1])["items"]
    assert {each["member"] for each in own} == {robin[0]}
    ended = next(each["id"] for each in own if each["label"] == "to look only")
    assert run("token", "end", ended, token=robin[1])[1] == f"{ended} (to look only) opens nothing any more\n"


def test_who_may_not_is_told(run: Run, robin: tuple[str, str], sheet: str) -> None:
    for words in (
        ("members",),
        ("token", "new", "--label", "more"),
        ("shares",),
        ("protect", sheet),
        ("audit", "verify"),
    ):
        code, out, err = run(*words, token=robin[1])
        assert (code, out, "crew may not" in err) == (1, "", True)


def test_on_a_protected_sheet_only_a_chief_records(run: Run, robin: tuple[str, str], sheet: str) -> None:
    edit = ("edit", sheet, "rf.lower_stud.length_in=1.1", "-m", "lower")
    assert run("protect", sheet) == (0, f"only chiefs record on {sheet} now\n", "")
    code, _, err = run(*edit, token=robin[1])
    assert (code, "chief" in err) == (1, True)
    assert "[protected]" in run("sheets", "7")[1]
    assert run(*edit)[0] == 0
    assert json.loads(run("protect", sheet, "--off", "--json")[1]) == {
        "car": "7",
        "sheet": "baseline",
        "protected": False,
    }
    assert run("edit", sheet, "rf.lower_stud.length_in=1.2", token=robin[1])[0] == 0
    assert [row[3] for row in rows(run("history", sheet)[1])[1:]] == ["Robin", "Chris", "Chris"]


def test_the_record_of_changes_is_verified_from_its_pages(run: Run, robin: tuple[str, str], sheet: str) -> None:
    run("protect", sheet)
    code, out, _ = run("audit")
    assert code == 0
    assert [row[4] for row in rows(out)[1:]] == ["team.found", "member.add", "token.make", "protection.on"]
    assert [row[3] for row in rows(out)[1:]] == ["owner", "Chris", "Chris", "Chris"]
    assert robin[1] not in out
    lines = json.loads(run("audit", "list", "-n", "2", "--json")[1])["items"]
    assert [each["seq"] for each in lines] == [3, 4]
    found = json.loads(run("audit", "verify", "--json")[1])
    assert found == {"lines": 4, "head": lines[-1]["chain"]}
    run("protect", sheet, "--off")
    code, out, _ = run("audit", "verify", "--head", found["head"][:16])
    assert (code, out.splitlines()[0]) == (
        0,
        "5 lines, each fits the one before; the head noted down is that of line 4",
    )
    code, out, err = run("audit", "verify", "--head", "0" * 64)
    assert (code, out, "was cut short" in err) == (1, "", True)
