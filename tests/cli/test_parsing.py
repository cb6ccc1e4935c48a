"""Changes as people type them."""

from typing import Any

import pytest
from msgspec import UNSET

from studbook.cli import CommandFailedError
from studbook.cli.parsing import change_text, parse_changes
from studbook.history.changes import FieldChange

DOCUMENT: dict[str, Any] = {
    "notes": "tacky",
    "own": {"idea": 3, "rf": {"length_in": 2}},
    "setup": {
        "front": {"rf": {"upper_stud": {"length_in": 1.2}, "spring": {"rate_lb_per_in": 425}}},
        "rear": {"rods": {"left_upper": {"length_in": 18}}},
    },
    "survey": {"front": {"rf": {"upper_stud": {"length_in": 1.0}}}},
}


def read(*words: str, remove: tuple[str, ...] = (), allow_unknown: bool = False) -> list[tuple[str, Any]]:
    changes = parse_changes(words, remove=remove, document=DOCUMENT, allow_unknown=allow_unknown)
    return [(".".join(change.path), change.after) for change in changes]


@pytest.mark.parametrize(
    ("word", "path", "value"),
    [
        ("setup.front.rf.upper_stud.length_in=1.5", "setup.front.rf.upper_stud.length_in", 1.5),
        ("rf.upper_stud.length_in+=0.5", "setup.front.rf.upper_stud.length_in", 1.7),
        ("rf.upper_stud.length_in-=.1", "setup.front.rf.upper_stud.length_in", 1.1),
        ("rf.upper_stud.length_in+=-0.1", "setup.front.rf.upper_stud.length_in", 1.1),
        ("survey.front.rf.upper_stud.length_in=1.1", "survey.front.rf.upper_stud.length_in", 1.1),
        ("cg.height_in=17.5", "setup.cg.height_in", 17.5),
        ("notes=a = b, +=c", "notes", "a = b, +=c"),
        ("notes=", "notes", ""),
        ("rods.left_upper.length_in+=0.25", "setup.rear.rods.left_upper.length_in", 18.25),
        ("left_upper.length_in=19", "setup.rear.rods.left_upper.length_in", 19),
        ("rods.right_upper.length_in=17", "setup.rear.rods.right_upper.length_in", 17),
        ("ballast.left_rail.position_in=[1, 2, 3]", "setup.ballast.left_rail.position_in", [1, 2, 3]),
        ("ballast.left_rail.position_in=1, -2,0.3", "setup.ballast.left_rail.position_in", [1, -2, 0.3]),
        ("own.idea+=1", "own.idea", 4),
        ("idea=true", "own.idea", True),
    ],
)
def test_a_path_may_be_its_tail(word: str, path: str, value: object) -> None:
    assert read(word) == [(path, value)]


@pytest.mark.parametrize(
    ("word", "told"),
    [
        (
            "upper_stud.length_in+=0.5",
            "could be setup.front.lf.upper_stud.length_in, setup.front.rf.upper_stud",
        ),
        ("length=1", "no such field"),
        ("setup.cg.hieght_in=17", "no such field; the nearest known is setup.cg.height_in"),
        ("rf.spring.rate_lb_per_in=1,200", "write numbers without commas"),
        ("rf.spring.rate_lb_per_in=soft", "'soft' is not a number (lb_per_in)"),
        ("lf.upper_stud.length_in+=0.5", "setup.front.lf.upper_stud.length_in has no value to add to"),
        ("notes+=more", "only a number can be added to"),
        ("notes", "write path=value"),
        ("=1", "write path=value"),
    ],
)
def test_what_cannot_be_meant_is_told(word: str, told: str) -> None:
    with pytest.raises(CommandFailedError) as caught:
        read(word)
    assert str(caught.value).startswith(f"{word}: ")
    assert told in str(caught.value)


def test_every_word_is_told_at_once() -> None:
    with pytest.raises(CommandFailedError) as caught:
        read("a=1", "notes=x", "notes=y", remove=("own",))
    assert len(str(caught.value).splitlines()) == 3
    assert "notes is given twice" in str(caught.value)
    assert "there is no field own to remove" in str(caught.value)


def test_an_unknown_path_stands_as_it_is_when_allowed() -> None:
    assert read('own.new="x"', allow_unknown=True) == [("own.new", "x")]


def test_removing() -> None:
    assert read(remove=("rf.spring.rate_lb_per_in",)) == [("setup.front.rf.spring.rate_lb_per_in", UNSET)]


def test_a_change_is_said_with_its_unit() -> None:
    assert change_text(FieldChange(("setup", "cg", "height_in"), UNSET, 17)) == "setup.cg.height_in: - -> 17 in"
