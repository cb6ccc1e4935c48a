"""A car that came back: every reading against what the other answers say, by brute force, and in words."""

import math
import random
from typing import Any

import pytest
from msgspec import UNSET

from present import present
from scales.cars import WHEELS, chain, edited
from studbook.history.canonical import Tree
from studbook.wire.answers import Travels
from studbook.wire.around_scales import Finding, ReturnedAnswer
from studbook.wire.rear import BumpRolls
from studbook.wire.shop import Tolerances
from studbook_service.translate.as_returned import CheckReadings, LeftRevision, as_returned_answer
from studbook_service.translate.attitude import attitude_answer
from studbook_service.translate.effects import effects_between
from studbook_service.translate.loads import loads_answer
from studbook_service.translate.origins import origins
from studbook_service.translate.rear import rear_answer
from studbook_service.translate.subjects import DocumentAnswers

LEFT = LeftRevision("0" * 64, "named in the check")
USUAL = {
    "corner": 10,
    "total": 20,
    "cross": 0.3,
    "height": 1 / 8,
    "camber": 0.3,
    "caster": 0.5,
    "toe": 1 / 16,
    "lead": 1 / 8,
    "play": 0.005,
}
TURNED = {
    "setup.rear.rr.spring.perch.thread_showing_in": 2.78125,
    "setup.front.rf.upper_shims.front_in": 0.125,
    "setup.front.rf.upper_shims.rear_in": 0.1875,
    "setup.rear.rods.left_lower.length_in": 15.35,
}


def returned(measured: Tree, *trees: Tree, own: Tolerances | None = None, limits: Any = None) -> ReturnedAnswer:
    given = CheckReadings(measured, own or Tolerances(), limits or {})
    return as_returned_answer(trees[0], origins=origins(trees), left=LEFT, given=given)


def named(answer: ReturnedAnswer) -> dict[str, Finding]:
    return {found.what: found for found in answer.findings}


def one(what: str, measured: Tree, *trees: Tree, **more: Any) -> Finding:
    return named(returned(measured, *trees, **more))[what]


def test_a_car_that_was_never_surveyed_is_held_against_its_own_readings() -> None:
    scaled = {f"{name}_lb": load for name, load in zip(WHEELS, (590, 503, 718, 629), strict=True)}
    alignment = {"front": {"rf": {"alignment": {"camber_deg": -4}}}}
    left = {"measured": {"scales": scaled, "basis": {"fuel_gal": 14, "fuel_lb_per_gal": 6.2}, **alignment}}
    read = {"scales": scaled | {"rf_lb": 515}, "front": {"rf": {"alignment": {"camber_deg": -4.6}}}}
    found = named(returned(read, left))
    assert {what for what, each in found.items() if each.beyond} == {"RF weight", "RF camber"}
    assert (found["RF weight"].difference, found["RF camber"].difference) == (12, -0.6)
    burned = {"basis": {"fuel_gal": 4, "fuel_lb_per_gal": 6.2}}
    lighter = returned(read | burned, left)
    assert named(lighter)["total weight"].expected == 2440 - 62
    # (515 + 718) / 2452 less (503 + 718) / 2440, by hand.
    assert round(present(found["cross weight"].difference), 2) == 0.24
    assert named(lighter)["RF weight"].expected is UNSET
    assert lighter.missing
    turned = {**left, "setup": {"rear": {"rr": {"spring": {"perch": {"thread_showing_in": 2.5}}}}}}
    later = returned(read, turned, left)
    assert "RF weight" not in named(later)
    assert later.missing


def expected(trees: tuple[Tree, ...]) -> dict[str, float]:
    """What each reading should be, from the answers that tell it otherwise."""
    read_in = origins(trees)
    now = present(loads_answer(trees[0], origins=read_in).now)
    stance = attitude_answer(trees[0], origins=read_in).ride_height
    leads = [rear_answer(tree, origins=origins([tree]), over=BumpRolls()).now for tree in (trees[0], trees[-1])]
    found = {f"{name.upper()} weight": getattr(now, f"{name}_lb") for name in WHEELS}
    found |= {"total weight": now.total_lb, "cross weight": now.cross_percent}
    for name in ("lf", "rf"):
        wheel = getattr(stance, name)
        found[f"{name.upper()} camber"] = wheel.camber_deg
        found[f"{name.upper()} toe"] = 26 * math.tan(math.radians(wheel.toe_deg))
    found["total toe"] = found["LF toe"] + found["RF toe"]
    for name in ("lr", "rr"):
        found[f"{name.upper()} lead"] = getattr(leads[0], name).lead_change_in - getattr(leads[1], name).lead_change_in
    return found


def test_brute_force_over_many_checks() -> None:
    # One setup as it was scaled, one with a perch, shims and a rod changed since, which nobody scaled or aligned.
    first = edited(chain()[0], {f"measured.rear.{name}.lead_in": 0.0 for name in ("lr", "rr")})
    chance = random.Random(6)  # noqa: S311 - readings, no secrets
    for trees in ((first,), (edited(first, TURNED), first)):
        should = expected(trees)
        for _ in range(10):
            off = {what: chance.uniform(-2, 2) * USUAL[subject(what)] for what in should}
            read = {what: should[what] + off[what] for what in should}
            angle = {name: math.degrees(math.atan(read[f"{name.upper()} toe"] / 26)) for name in ("lf", "rf")}
            measured: Tree = {
                "scales": {f"{name}_lb": read[f"{name.upper()} weight"] for name in WHEELS},
                "front": {
                    name: {"alignment": {"camber_deg": read[f"{name.upper()} camber"], "toe_deg": angle[name]}}
                    for name in ("lf", "rf")
                },
                "rear": {name: {"lead_in": read[f"{name.upper()} lead"]} for name in ("lr", "rr")},
            }
            loads = [measured["scales"][f"{name}_lb"] for name in WHEELS]
            read["total weight"], read["total toe"] = sum(loads), read["LF toe"] + read["RF toe"]
            read["cross weight"] = 100 * (loads[1] + loads[2]) / sum(loads)
            answer = returned(measured, *trees)
            assert {found.what for found in answer.findings} == should.keys()
            for found in answer.findings:
                assert found.expected == pytest.approx(should[found.what], abs=2e-5), found.what
                assert found.difference == pytest.approx(read[found.what] - should[found.what], abs=3e-5)
                assert found.beyond is (abs(read[found.what] - should[found.what]) > USUAL[found.subject])
                assert found.recorded is (len(trees) > 1)
            beyond = [found.text for found in answer.findings if found.beyond]
            assert answer.headline[1:] == beyond


def subject(what: str) -> str:
    """`corner` of a corner's weight, else the last word; of both together the first."""
    first, last = what.split()
    return ("corner" if first.isupper() else first) if last == "weight" else last


def test_heights_are_what_was_read_and_what_was_turned_since() -> None:
    first = chain()[-1]
    read = {name: first["measured"]["ride_height"][name]["height_in"] for name in WHEELS}
    measured: Tree = {"ride_height": {name: {"height_in": height} for name, height in read.items()}}
    same = returned(measured, first)
    assert [found.difference for found in same.findings] == pytest.approx([0] * 4, abs=1e-9)
    assert same.headline == ["All as it was left."]
    # Eight turns of the left rear raise it by far more than an eighth; nothing of that was read.
    turned = edited(first, {"setup.rear.lr.spring.perch.thread_showing_in": 3.625})
    effect = effects_between(DocumentAnswers([first]), DocumentAnswers([turned, first]), travels=Travels())
    rise = present(effect.on_scales).ride_height
    found = named(returned(measured, turned, first))
    for name in WHEELS:
        height = found[f"{name.upper()} height"]
        assert height.difference == pytest.approx(-getattr(rise, f"{name}_in"), abs=1e-5)
    assert found["LR height"].beyond
    assert "beside what was recorded: tire pressure, a perch turned, a spring sagged?" in found["LR height"].text


@pytest.mark.parametrize(
    ("what", "measured", "words"),
    [
        (
            "RF camber",
            {"front": {"rf": {"alignment": {"camber_deg": -4.6}}}},
            "RF camber -0.60 deg with nothing recorded: bent or slipped?",
        ),
        (
            "LF toe",
            {"front": {"lf": {"alignment": {"toe_deg": -0.3}}}},
            "LF toe 0.082 in out with nothing recorded: a tie rod bent, or its sleeve slipped?",
        ),
        (
            "RF weight",
            {"scales": {"rf_lb": 488}},
            "RF weight -15.0 lb with nothing recorded: a perch turned, a spring sagged, a bar that binds?",
        ),
        (
            "LR lead",
            {"rear": {"lr": {"lead_in": -0.1875}}},
            "LR lead -0.19 in (3/16) with nothing recorded: a rod bent, or its end slipped?",
        ),
        (
            "RF lower joint axial play",
            {"front": {"rf": {"lower_joint": {"play_axial_in": 0.012}}}},
            "RF lower joint axial play +0.011 in with nothing recorded: worn, or its cap backed off?",
        ),
    ],
)
def test_what_is_beyond_is_said_in_words(what: str, measured: Tree, words: str) -> None:
    found = one(what, measured, chain()[-1])
    assert (found.beyond, found.text) == (True, words)


def test_a_team_puts_its_own_tolerances_over() -> None:
    measured: Tree = {"front": {"rf": {"alignment": {"camber_deg": -4.25}}}}
    usual = one("RF camber", measured, chain()[-1])
    assert (usual.beyond, usual.tolerance) == (False, 0.3)
    answer = returned(measured, chain()[-1], own=Tolerances(camber_deg=0.2))
    assert (named(answer)["RF camber"].beyond, named(answer)["RF camber"].tolerance) == (True, 0.2)
    assert answer.assumptions[0] == "tolerances: common practice, those of the team for camber_deg"


def test_a_joint_beyond_its_own_limit_is_replaced() -> None:
    measured: Tree = {"front": {"rf": {"lower_joint": {"play_axial_in": 0.004}}}}
    assert not one("RF lower joint axial play", measured, chain()[-1]).beyond
    found = one("RF lower joint axial play", measured, chain()[-1], limits={("rf", "lower_joint"): 0.003})
    assert found.text == "RF lower joint axial play 0.004 in, its limit is 0.003: replace it."
    tighter: Tree = {"front": {"rf": {"lower_joint": {"play_axial_in": 0.0}}}}
    assert not one("RF lower joint axial play", tighter, chain()[-1]).beyond


def test_another_driver_is_compared_only_where_the_seat_is_known() -> None:
    # Weighed with 185 lb aboard; nobody sits in it on Monday.
    left = edited(chain()[-1], {"setup.seat.position_in": None})
    loads = {"lf_lb": 540, "rf_lb": 470, "lr_lb": 655, "rr_lb": 590}
    measured: Tree = {"scales": loads, "basis": {"driver_aboard": False}}
    unknown = returned(measured, left)
    assert named(unknown)["total weight"].expected == pytest.approx(2440 - 185)
    assert not named(unknown)["total weight"].beyond
    assert named(unknown)["RF weight"].expected is UNSET
    assert any(each.fields == ["setup.seat.position_in"] for each in unknown.missing)
    seated = edited(left, {"setup.seat.position_in": [-55, 11, 18]})
    known = named(returned(measured, seated))
    assert sum(present(known[f"{name.upper()} weight"].expected) for name in WHEELS) == pytest.approx(
        2440 - 185, abs=1e-3
    )


def test_bars_are_compared_as_they_were_linked() -> None:
    left = edited(
        chain("21")[-1],
        {"setup.front.bar.hooked": True, "measured.basis.bar_hooked": True, "setup.front.bar.preload_turns": 1},
    )
    answer = loads_answer(left, origins=origins([left]))
    read: Tree = {"lf_lb": 700, "rf_lb": 600, "lr_lb": 800, "rr_lb": 600}
    for hooked, weights in ((True, answer.bars_hooked), (False, answer.bars_unhooked)):
        found = named(returned({"scales": read, "basis": {"bar_hooked": hooked}}, left))
        assert found["RF weight"].expected == pytest.approx(present(weights).rf_lb, abs=1e-5)
    # What the check does not say is taken as it was on the scales.
    assert named(returned({"scales": read}, left))["RF weight"].expected == pytest.approx(
        present(answer.bars_hooked).rf_lb, abs=1e-5
    )


def test_a_thin_book_compares_what_it_can() -> None:
    left: Tree = {"measured": {"ride_height": {"lf": {"height_in": 4.9}}, "rear": {"lr": {"lead_in": 0.0}}}}
    measured: Tree = {
        "scales": {"lf_lb": 590, "rf_lb": 503, "lr_lb": 718, "rr_lb": 629},
        "ride_height": {"lf": {"height_in": 4.7}},
        "front": {"lf": {"alignment": {"camber_deg": 3.0}}},
        "rear": {"lr": {"lead_in": 0.0}},
    }
    found = named(returned(measured, left))
    assert found["LF height"].difference == pytest.approx(-0.2)
    assert found["LR lead"].difference == 0
    assert found["LF camber"].text == "LF camber 3.00 deg: the book has nothing to compare it with"
    assert "LF weight" not in found
    assert returned({}, left).headline == ["There is no reading to compare with the book."]
