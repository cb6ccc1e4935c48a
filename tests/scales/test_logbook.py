"""Lines of the log: what is read from them, what is refused and why, and what they make of a setup."""

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from present import present
from scales.cars import chain
from studbook.core.errors import BadRequestError
from studbook.core.logbook import ADJUSTABLES, named, named_in, put_in, read_log
from studbook.history.changes import diff
from studbook.history.leaves import at, dotted, steps
from studbook.wire.fields import check, field
from studbook.wire.shop import Log

PERCH = "setup.rear.rr.spring.perch.thread_showing_in"


@pytest.mark.parametrize(
    ("line", "changes"),
    [
        (
            "RR perch +2 turns, LR pressure -1",
            [f"{PERCH}+=2 turns", "setup.rear.lr.tire.pressure_cold_psi-=1"],
        ),
        ("rr perch 1/2 turn in", [f"{PERCH}+=0.5 turns"]),
        ("RR  perch 1 1/2 turns out", [f"{PERCH}-=1.5 turns"]),
        ("RR jack +3 flats", [f"{PERCH}+=3 flats"]),
        ("RR perch -1/8 in", [f"{PERCH}-=0.125"]),
        ("RR perch =2.5 in", [f"{PERCH}=2.5"]),
        (
            "LF air +.5 lb; RF air = 11 psi",
            ["setup.front.lf.tire.pressure_cold_psi+=0.5", "setup.front.rf.tire.pressure_cold_psi=11"],
        ),
        (
            "LF shims +1/8 and RF rebound -2 clicks",
            [
                "setup.front.lf.upper_shims.front_in+=0.125",
                "setup.front.lf.upper_shims.rear_in+=0.125",
                "setup.front.rf.shock.rebound.clicks-=2",
            ],
        ),
        ("RF tie rod -1 flat", ["setup.front.rf.tie_rod.length_in-=1 flats"]),
        (
            "brakes +2%, front bar +1/2 turn",
            ["setup.brakes.front_share_percent+=2", "setup.front.bar.preload_turns+=0.5"],
        ),
    ],
)
def test_lines_are_read(line: str, changes: list[str]) -> None:
    assert read_log(line) == changes
    assert check({"changes": changes, "words": line}, Log) == []


@pytest.mark.parametrize(
    ("line", "why"),
    [
        ("", "nothing is given"),
        ("RR perch", "write corner, what, and how far"),
        ("RR perch 2 turns", r"which way\? \+ or -, or = for what it is now \(\+ is in, tightens\)"),
        ("RR perch 2 in", r"inches, or which way\? write \+2 turns, or 2 turns in"),
        ("RR perch +2 in", r"2 inches of thread\? write turns, such as \+2 turns"),
        ("RR perch +2 turns in", "say \\+ or in, not both"),
        ("RR perch =2 turns", "turns are only ever a change"),
        ("perch +1", r"which corner\? LF, RF, LR or RR"),
        ("XX perch +1", "xx is no corner: LF, RF, LR or RR"),
        ("LR sway +1", "sway is none of perch, pressure"),
        ("LR shims +1/8", "shims is at the front"),
        ("LF brakes +1", "brakes is of no corner"),
        ("LF pressure +1 turn", "turns is not its unit: psi"),
        ("LF pressure 1 psi in", "in is for threads alone"),
    ],
)
def test_what_cannot_be_read_is_said_why(line: str, why: str) -> None:
    with pytest.raises(BadRequestError, match=why):
        read_log(line)


def test_everything_wrong_is_told_at_once() -> None:
    with pytest.raises(BadRequestError) as refused:
        read_log("RR perch 2 turns, LR pressure -1, LR sway +1")
    assert [fault.detail.partition(":")[0] for fault in refused.value.faults] == ["RR perch 2 turns", "LR sway +1"]


def test_every_adjustable_is_a_field_of_the_setup_in_its_unit() -> None:
    for name, each in ADJUSTABLES.items():
        for path in each.paths:
            root = "setup." if not each.cornered else "setup.front.lf." if each.front else "setup.rear.rr."
            known = field(steps(root + path))
            assert known is not None, name
            assert known.unit == {"clicks": "count", "turns": known.unit}.get(each.unit, each.unit), name
            if each.pitch:
                pitch = field(steps(root + each.pitch))
                assert pitch is not None, name
                assert pitch.unit == "in_per_turn"


def test_turns_become_thread_by_the_perchs_pitch() -> None:
    before = chain()[0]
    after = put_in(read_log("RR perch +2 turns, RR perch -3 flats, LF shims +1/8"), before)
    pitch = at(before, steps("setup.rear.rr.spring.perch.in_per_turn"))
    changed = {dotted(each.path): present(each.after) - each.before for each in diff(before, after)}
    # Two turns and back half a one, six flats to the turn.
    assert changed == pytest.approx(
        {
            PERCH: 1.5 * pitch,
            "setup.front.lf.upper_shims.front_in": 0.125,
            "setup.front.lf.upper_shims.rear_in": 0.125,
        }
    )


@settings(max_examples=30)
@given(halves=st.lists(st.integers(-6, 6).filter(bool), min_size=1, max_size=6))
def test_logs_one_by_one_are_their_sum(halves: list[int]) -> None:
    before = chain()[0]
    lines = [f"RR perch {'+' if half > 0 else '-'}{Fraction(abs(half), 2)} turns" for half in halves]
    after = before
    for line in lines:
        after = put_in(read_log(line), after)
    moved = at(after, steps(PERCH)) - at(before, steps(PERCH))
    assert moved == pytest.approx(sum(halves) / 2 * 0.0625, abs=1e-6)
    assert put_in(read_log(", ".join(lines)), before) == after


def test_a_setup_that_does_not_tell_what_is_needed_is_named() -> None:
    with pytest.raises(BadRequestError, match=r"the setup has no setup\.rear\.rr\.spring\.perch\.in_per_turn"):
        put_in(read_log("RR perch +1 turn"), {})
    with pytest.raises(BadRequestError, match=r"no setup\.rear\.rr\.spring\.perch\.thread_showing_in to add to"):
        put_in(read_log("RR perch +1/8 in"), {})
    with pytest.raises(BadRequestError, match="is no change of a number; put it in by hand"):
        put_in(["notes=tacky"], {})


def test_a_revisions_note_names_the_logs_it_was_made_from() -> None:
    names = ["7/2026-05-02-1940", "7/2026-05-02-2012"]
    assert named_in(named(names) + ": tight off, 7/other") == names
    assert named_in("longer stud") == []
