"""Pages about a car on its scales, in a corner and its perches, from the answers in openapi/examples; what is asked."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec
import pytest

from studbook.cli.cornering import cornering_page
from studbook.cli.effects import effects_page
from studbook.cli.loads import loads_page
from studbook.cli.perches import perches_page
from studbook.wire.answers import Effects
from studbook.wire.loads import CorneringAnswer, LoadsAnswer, PerchesAnswer

EXAMPLES = Path(__file__).parents[2] / "openapi" / "examples"
Run = Callable[..., tuple[int, str, str]]


def body(name: str) -> Any:
    return json.loads((EXAMPLES / f"{name}.json").read_bytes())["response"]["body"]


def pages() -> dict[str, list[str]]:
    return {
        "loads": loads_page(msgspec.convert(body("read_loads"), LoadsAnswer)),
        "cornering": cornering_page(msgspec.convert(body("try_cornering"), CorneringAnswer)),
        "perches": perches_page(msgspec.convert(body("search_perches"), PerchesAnswer)),
        "effects": effects_page(msgspec.convert(body("read_effects"), Effects)),
    }


def test_no_page_is_wider_than_the_screen() -> None:
    for name, page in pages().items():
        assert max(map(len, page)) <= 98, name
        assert not any(line.endswith("...") for line in page), name


def test_the_sheet_for_the_wall() -> None:
    page = pages()["loads"]
    rows = {line[:16].strip(): line.split() for line in page if line.startswith(("LR perch", "RF ride", "RR rollout"))}
    told = body("read_loads")["sheet"]
    place = told["what"].index("LR perch +1 turn")
    assert rows["LR perch +1 turn"][4] == f"{told['cross_percent'][place]:+.2f}"
    assert rows["RF ride +1/8 in"][11] == "+0.12"
    assert any(line.startswith("SPRINGS AT THE WHEELS") for line in page)


def test_what_a_change_does_on_the_scales_stands_in_the_effects() -> None:
    page = "\n".join(pages()["effects"])
    assert "On the scales, before any perch is turned: RF" in page
    assert "ON THE SCALES, nothing put right" in page
    assert "What moves it" in page
    assert "\nLOADS" not in page


def test_a_corner_and_perches_at_a_glance() -> None:
    corner, perches = pages()["cornering"], pages()["perches"]
    assert corner[0].startswith("50.0 mph:")
    assert [line.split()[0] for line in corner if line.startswith(("weight", "camber"))] == ["camber", "weight"]
    assert "cross" in perches[0]
    assert any(line.startswith("  LR") and "turns in" in line for line in perches)


def test_what_is_asked(small_book: Any, run: Run) -> None:
    id_ = small_book.revisions[0]["id"]
    small_book.answers |= {
        f"/v1/revisions/{id_}/loads": body("read_loads"),
        "/v1/cornering": body("try_cornering"),
        "/v1/searches/perches": body("search_perches"),
    }
    assert run("loads", "7/baseline")[0] == 0
    code, out, _ = run(
        "cornering", "7/baseline", "cg.height_in=18", "--radius-ft", "300", "--speed-mph", "50", "--json"
    )
    assert (code, json.loads(out)["speed_mph"]) == (0, 50)
    edits = [{"path": "setup.cg.height_in", "value": 18}]
    asked = small_book.asked[-1][2]
    assert asked == asked | {"revision": id_, "edits": edits, "radius_ft": 300, "speed_mph": 50}
    assert run("perches", "7/baseline", "--cross", "52", "--perch", "lr", "--perch", "rr", "--step", "0.5")[0] == 0
    wanted = {"revision": id_, "cross_percent": 52, "perches": ["lr", "rr"], "step_turns": 0.5}
    asked = small_book.asked[-1][2]
    assert asked == asked | wanted


@pytest.mark.parametrize("words", [("cornering", "7/baseline"), ("perches", "7/baseline", "--cross", "x")])
def test_slips_of_the_pen(small_book: Any, run: Run, words: tuple[str, ...]) -> None:
    assert run(*words)[0] == 2
    assert small_book.asked == []
