"""Pages about joints and damping, and the commands that ask for them; the numbers are invented."""

from collections.abc import Callable
from typing import Any

import msgspec

from studbook.cli.damping import damping_page
from studbook.cli.joints import joints_page
from studbook.wire.damping import DampingAnswer
from studbook.wire.joints import JointsAnswer

STUD = {
    "title": "seat section only",
    "worst_section": "seat, 0.75 in",
    "lever_in": 1.35,
    "moment_in_lb": 400,
    "bending_psi": 10000,
    "axial_psi": -900,
    "shear_psi": 1000,
    "slenderness": 1.8,
    "longer": {"longer_in": [0, 0.5], "bending_psi": [10000, 13700]},
}
STRENGTH = {
    "yield_psi": 125000,
    "source": "the batch's certificate",
    "first_yield_lb": 3800,
    "hinge_lb": 6500,
    "shear_lb": 32000,
    "share_of_first_yield": 0.31,
    "bends_first": True,
}
TURNS = {"turns_rad_per_in": 0.0297, "spins_rad_per_in": 0.001, "tilts_rad_per_in": 0.0296}
BALL = {
    **TURNS,
    "breakaway_in_lb": 48,
    "swing": {
        "limit_deg": 25,
        "angle_deg": 12,
        "margin_deg": -1.6,
        "at_travel_in": -3,
        "at_rack_in": 2.5,
        "binds": True,
        "text": "RF lower joint BINDS: 26.6 deg of 25",
    },
    "load": {"force_lb": [0, 0, -1], "size_lb": 550, "across_lb": 316, "axial_lb": -450, "axial_is": "tension"},
    "stud": STUD | {"strength": STRENGTH},
}
CORNER = {
    "joints": {"upper_ball": TURNS, "lower_ball": BALL},
    "tight": {"tight_lb": 5.3, "free_lb": 0.5},
    "breakaway": {"title": "preload part only", "total_lb": 1.95, "preload_lb": 1.95},
    "dead_band_in": 0.022,
    "against_shock": {"friction_lb": 8, "text": "RF joints: 8.0 lb at the shaft"},
    "load": {
        "vertical_lb": 503,
        "unsprung_lb": 73,
        "side_lb": 0,
        "braking_lb": 0,
        "brake": "free",
        "brake_torque_in_lb": 0,
        "text": "503 lb on the tire (scales); brake free",
    },
    "spring_lb": 680,
}
JOINTS = {
    "engine": "1",
    "cautions": ["A caution. " * 12],
    "assumptions": ["An assumption."],
    "missing": [{"subject": "swing margin", "fields": ["setup.front.rf.upper_stud.swing_limit_deg"]}],
    "bindings": ["RF lower joint BINDS: 26.6 deg of 25"],
    "tight_joints": "Two ball joints at 50 in-lb against two at 5: 5.3 lb.",
    "rf": CORNER,
}
AT = {
    "compression_lb": 165,
    "rebound_lb": 198,
    "rebound_over_compression_ratio": 1.2,
    "compression_slope_lb_s_per_in": 25,
    "rebound_slope_lb_s_per_in": 30,
}
CYCLE = {
    "stroke_in": 2,
    "frequency_hz": 1,
    "peak_in_per_s": 6.28,
    "work_in_lb": 830,
    "least_in_lb": 826,
    "most_in_lb": 832,
    "coefficient_lb_s_per_in": 42,
    "damping_ratio": 0.63,
}
DAMPING = {
    "engine": "1",
    "cautions": ["A caution."],
    "assumptions": ["An assumption."],
    "missing": [{"subject": "LF shock", "fields": [], "why": "the curve is not single-valued"}],
    "lf": {"spring_rate_lb_per_in": 375},
    "rf": {"shock": {"at": {"3": AT}, "cycle": CYCLE, "gas_lb": 23}, "ride_hz": 1.83},
    "rear_ride": {"rate_lb_per_in": 364, "hz": 1.62},
    "front_bar": {"rate_lb_per_in": 150, "left_end_lb_per_in": 360, "right_end_lb_per_in": 360, "hooked": True},
    "rear_stagger": {"stagger_in": 3.8, "rolls_round_ft": 127, "needed_in": 1.85},
    "gears": {"final_drive_ratio": 6.075, "mph_per_1000_rpm": 13.95, "limit_mph": 109, "engine_rpm": 5734},
}


def in_order(page: list[str], wanted: list[str]) -> None:
    text = "\n".join(page)
    places = [text.index(each) for each in wanted]
    assert places == sorted(places)
    assert max(map(len, page)) <= 100


def test_joints_begin_with_cautions_and_assumptions() -> None:
    page = joints_page(msgspec.convert(JOINTS, JointsAnswer))
    assert page[0] == "Cautions"
    wanted = [
        "An assumption.",
        "5.3 lb",
        "- RF lower joint BINDS",
        "AT THE WHEEL",
        "preload part only",
        "8.0 lb at the",
    ]
    wanted += [
        "breakaway",
        "BINDS -1.6",
        "RF under 503 lb",
        "450 tension",
        "13700",
        "0.31 of first yield",
        "Not comp",
    ]
    in_order(page, wanted)
    row = next(line for line in page if line.startswith("dead band"))
    assert row.split()[-1] == "0.022"


def test_damping_lays_the_corners_side_by_side() -> None:
    page = damping_page(msgspec.convert(DAMPING, DampingAnswer))
    wanted = ["at 3 in/s", "165/198 1.20", "CORNER", "work a cycle", "Cycle: 2 in at 1 Hz", "Rear axle in bump"]
    wanted += ["Front bar: 150 lb", "hooked", "Rear stagger 3.80", "127 ft to the left", "needs 1.85"]
    wanted += ["Final drive 6.075", "5,734 rpm", "not single-valued", "A caution."]
    in_order(page, wanted)
    spring = next(line for line in page if line.startswith("spring lb/in"))
    assert spring.split()[-2:] == ["375", "-"]


def test_shocks_of_four_corners_fit_the_terminal_whole() -> None:
    shock = {"at": {"10": {**AT, "compression_lb": 1165, "rebound_lb": 1198}}}
    answer = DAMPING | {name: {"shock": shock} for name in ("lf", "rf", "lr", "rr")}
    page = damping_page(msgspec.convert(answer, DampingAnswer))
    assert max(map(len, page)) <= 80
    assert not [line for line in page if "..." in line]
    assert next(line for line in page if line.startswith("at 10 in/s")).count("1165/1198 1.20") == 4


def test_commands_ask_for_what_was_typed(small_book: Any, run: Callable[..., Any]) -> None:
    address = f"/v1/revisions/{'1' * 64}"
    small_book.answers = {f"{address}/joints": JOINTS, f"{address}/damping": DAMPING}
    code, out, _ = run("joints", "7/baseline", "--side", "950", "--braking", "350.125", "--brake", "free", "--on", "rf")
    assert (code, out.splitlines()[0]) == (0, "Cautions")
    asked = small_book.asked[-1][1]
    for wanted in ("side_lb=950", "braking_lb=350.125", "brake=free", "on=rf"):
        assert wanted in asked
    assert "vertical_lb" not in asked
    code, out, _ = run("damping", "7/baseline", "--radius", "250", "--json")
    assert (code, msgspec.json.decode(out)["gears"]) == (0, DAMPING["gears"])
    assert "radius_ft=250" in small_book.asked[-1][1]
