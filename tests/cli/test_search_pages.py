"""What a search found, on a page. The answers' figures are invented; only their layout and the asking are looked at."""

from collections.abc import Callable
from typing import Any

import msgspec
import pytest

from studbook.cli.search import carry_over_page, stud_page
from studbook.wire.searches import CarryOverAnswer, StudSearchAnswer

Run = Callable[..., tuple[int, str, str]]
CAMBERS = [-1.74, -4.0, -7.07]
SAID = {
    "engine": "1",
    "revision": "1" * 64,
    "assumptions": ["An assumption."],
    "missing": [],
    "cautions": ["A caution."],
}
COUNTS = {
    "total_count": 90,
    "tried_count": 80,
    "fitting_count": 70,
    "excluded": [{"constraint": "caster", "count": 10}],
}
STUD = "RF upper stud: 1.70 in instead of 1.20 in"


def outcome(off: float) -> dict[str, Any]:
    return {
        "camber_off_deg": off,
        "camber_deg": CAMBERS,
        "camber_gain_deg_per_in": -1.32,
        "caster_deg": 5.15,
        "toe_deg": -0.12,
        "toe_change_deg": 0.1,
        "bump_steer_deg_per_in": -0.026,
        "bump_steer_in_per_in": -0.012,
        "line_at_center_in": 4.95,
    }


def plan(off: float, *todo: str, **more: Any) -> dict[str, Any]:
    return {"todo": todo, "adjustments": [], "parts_changed_count": len(todo), "outcome": outcome(off), **more}


BEST = ["camber curve", "roll center"]
STUDS = {
    **SAID,
    "corner": "rf",
    "said": ["RF: 80 combinations tried, " + "and a good deal more to say, " * 5],
    "travel_in": [-2.0, 0.0, 2.0],
    "camber_target_deg": [-1.5, -4.0, -7.2],
    "counts": COUNTS,
    "now": outcome(0.37),
    "roll_center_now": {"height_in": 3.87, "y_in": -7.2},
    "ranked": [
        plan(0.02, STUD, "RF tie rod: 1 flat", roll_center={"height_in": 4.06, "y_in": -9.2}, best_in=BEST),
        plan(0.37, roll_center={}, best_in=["parts changed"]),
    ],
}
CARRY_OVER = {
    **SAID,
    "source": "2" * 64,
    "said": [f"Most alike: {STUD}."],
    "travel_in": [-2.0, 0.0, 2.0],
    "lf": {"aim": outcome(0.0), "now": outcome(0.5), "counts": COUNTS},
    "rf": {"aim": outcome(0.0), "now": outcome(0.6), "counts": COUNTS},
    "roll_center_aim": {"height_in": 4.06, "y_in": -9.2},
    "roll_center_now": {"height_in": 3.87, "y_in": -7.2},
    "ranked": [{"parts_changed_count": 1, "lf": plan(0.5), "rf": plan(0.0, STUD), "roll_center": {"height_in": 4.06}}],
}


def test_a_search_of_studs() -> None:
    page = stud_page(msgspec.convert(STUDS, StudSearchAnswer))
    rows = {line.split()[0]: line.split() for line in page if line.startswith(("now", "1 ", "2 "))}
    assert rows["now"] == ["now", "0.37", "-1.32", "5.15", "-0.026", "3.87", "7.2", "right", "0"]
    assert rows["1"] == ["1", "0.02", "-1.32", "5.15", "-0.026", "4.06", "9.2", "right", "2", "camber", "curve"]
    assert rows["2"][5:8] == ["-", "-", "0"]
    first = next(number for number, line in enumerate(page) if line.startswith("1 "))
    assert [line[page[first].index(BEST[0]) :] for line in page[first : first + 2]] == BEST
    text = "\n".join(page)
    assert f" 1  {STUD}\n    RF tie rod: 1 flat" in text
    assert " 2  Nothing changes." in text
    assert "-2.00   -1.50  -1.74" in text
    assert text.index("An assumption.") < text.index("A caution.")
    assert max(len(line) for line in page) <= 100


def test_a_carry_over() -> None:
    page = carry_over_page(msgspec.convert(CARRY_OVER, CarryOverAnswer))
    text = "\n".join(page)
    assert text.count("to be like") == 3
    assert f" 1  {STUD}" in text
    assert max(len(line) for line in page) <= 100


def test_one_corner_is_carried_over_alone() -> None:
    alone = {name: value for name, value in CARRY_OVER.items() if name not in {"lf", "roll_center_aim", "ranked"}}
    ranked = [{"parts_changed_count": 1, "rf": plan(0.0, STUD)}]
    page = "\n".join(carry_over_page(msgspec.convert(alone | {"ranked": ranked}, CarryOverAnswer)))
    assert "LF " not in page
    assert f" 1  {STUD}" in page


def test_the_books_studs_are_listed_with_what_was_left_out() -> None:
    inventory = {
        "taken_from": "anywhere",
        "studs": [{"part": "s-041", "length_in": 1.7, "where": "trailer", "fits": ["rf.upper", "rf.lower"]}],
        "left_out": [{"part": part, "why": "on car 12"} for part in ("s-1", "s-2")],
        "splits": [{"line": "part/s-041", "used": "1", "tips": ["1", "2"]}],
    }
    pages = [
        stud_page(msgspec.convert(STUDS | {"inventory": inventory}, StudSearchAnswer)),
        carry_over_page(msgspec.convert(CARRY_OVER | {"inventory": inventory}, CarryOverAnswer)),
    ]
    for page in pages:
        text = "\n".join(page)
        assert "s-041        1.7  trailer  RF upper, RF lower" in text
        assert "  - s-1, s-2: on car 12" in text
        assert "  - s-041: read by its newest; to settle it: studbook part correct s-041" in text
        assert text.index("Left out") < text.index("A caution.")


@pytest.mark.parametrize(
    ("words", "inventory"),
    [
        ((), None),
        (("--from-trailer",), "trailer"),
        (("--from-shelf",), "anywhere"),
        (("--from-trailer", "--from-shelf"), "anywhere"),
    ],
)
def test_where_studs_are_taken_from_is_sent(
    run: Run, small_book: Any, words: tuple[str, ...], inventory: str | None
) -> None:
    book = small_book
    book.answers |= {"/v1/searches/studs": STUDS, "/v1/searches/carry-over": CARRY_OVER}
    for asked in (("studs", "7/baseline", "rf", "--camber", "0:-4"), ("carry-over", "7/baseline", "7/baseline")):
        code, _, err = run("search", *asked, *words)
        assert (code, err) == (0, "")
        assert book.asked[-1][2].get("inventory") == inventory


def test_what_is_asked_for_is_sent(run: Run, small_book: Any) -> None:
    book = small_book
    book.record(book.documents[0], note="second", author="Bo")
    book.answers |= {"/v1/searches/studs": STUDS, "/v1/searches/carry-over": CARRY_OVER}
    words = (
        "7/baseline",
        "rf",
        "--camber",
        "-2:-1.5",
        "--camber",
        "0:-4",
        "--stud",
        "lower:1.85x2",
        "--stud",
        "upper:.9",
    )
    code, out, err = run("search", "studs", *words, "--roll-center", "3:4.5", "--bump-steer", "0.05", "--keep", "2")
    assert (code, err) == (0, "")
    assert "RF: 80 combinations tried" in out
    sent = book.asked[-1][2]
    assert sent["revision"] == book.revisions[-1]["id"]
    assert sent["camber_target"] == [[-2, -1.5], [0, -4]]
    assert sent["studs"] == [
        {"joint": "lower", "length_in": 1.85, "count": 2},
        {"joint": "upper", "length_in": 0.9},
    ]
    assert (sent["roll_center_in"], sent["bump_steer_most_deg_per_in"], sent["keep_count"]) == ([3, 4.5], 0.05, 2)
    code, out, _ = run("search", "carry-over", "7/baseline~1", "7/baseline", "--json")
    assert code == 0
    assert book.asked[-1][2]["source"] == book.revisions[-2]["id"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--camber", "0"), "--camber 0: write two numbers"),
        (("--camber", "0:-4", "--stud", "1.7"), "--stud 1.7: write upper:1.7"),
        (("--camber", "0:-4", "--roll-center", "3-4"), "--roll-center 3-4: write two numbers"),
    ],
)
def test_slips_of_the_pen(run: Run, words: tuple[str, ...], said: str) -> None:
    code, _, err = run("search", "studs", "7/baseline", "rf", *words)
    assert code == 2
    assert said in err
