"""From leaves to jobs. What each field is about at the car is the trade's common practice, no source."""

import itertools
from typing import Any

import pytest

from studbook.history.leaves import dotted
from studbook.wire.fields import ANY, catalog
from studbook_service.work.car_fields import FOLLOWS, car_field
from studbook_service.work.difference import difference
from studbook_service.work.jobs import JOB_KINDS
from work.sheets import car, demo_sheets, edited

RF = "setup.front.rf"
LR = "setup.rear.lr"

JOBS: list[tuple[dict[str, Any], dict[str, str]]] = [
    ({f"{RF}.upper_stud.length_in": 1.7}, {"stud-rf-upper": "upper_stud"}),
    ({f"{RF}.lower_stud.part": "l-rf-2"}, {"stud-rf-lower": "lower_stud"}),
    ({f"{RF}.upper_stud.preload_target_in_lb": 8}, {"preload-rf-upper": "preload"}),
    ({f"{RF}.upper_stud.preload_target_in_lb": 8, f"{RF}.upper_stud.length_in": 1.7}, {"stud-rf-upper": "upper_stud"}),
    ({f"{RF}.upper_housing.ball_offset_in": 0.5}, {"housing-rf-upper": "housing_screwed"}),
    ({f"{RF}.lower_housing.ball_offset_in": 0.5}, {"housing-rf-lower": "housing_pressed"}),
    (
        {f"{RF}.upper_shims.front_in": 0.3, f"{RF}.tie_rod.length_in": 15.1},
        {"shims-rf": "shims", "tie-rod-rf": "tie_rod"},
    ),
    ({f"{RF}.moved.lower_front_in": [0, 0, 0.25]}, {"pivots-rf-lower": "lower_pivots"}),
    ({f"{RF}.tie_rod.outer_spacer_in": 0.375}, {"bump-spacer-rf": "bump_spacer"}),
    ({f"{RF}.spring.rate_lb_per_in": 425}, {"spring-rf": "spring_coil_over"}),
    ({f"{RF}.spring.kind": "big"}, {"spring-rf": "spring_big"}),
    ({f"{LR}.spring.rate_lb_per_in": 250}, {"spring-lr": "spring_rear"}),
    ({f"{LR}.spring.perch.thread_showing_in": 2.6}, {"perch-lr": "perch_coil_over"}),
    ({f"{LR}.spring.rubber_count": 1}, {"rubber-lr": "rubber"}),
    ({f"{LR}.shock.serial": "s-2", f"{LR}.shock.gas_psi": 90}, {"shock-lr": "shock"}),
    ({f"{LR}.shock.gas_psi": 90}, {"gas-lr": "gas"}),
    ({f"{LR}.shock.rebound.clicks": 3, f"{RF}.shock.compression.clicks": 3}, {"clicks": "clicks"}),
    ({f"{LR}.wheel.spacer_in": 0.5}, {"wheel-lr": "wheel_offset"}),
    ({f"{LR}.tire.compound": "hard"}, {"tire-lr": "wheel_swap"}),
    ({f"{LR}.tire.heat_cycles": 0}, {"tire-lr": "wheel_swap"}),
    ({f"{RF}.upper_stud.nights": 0}, {"stud-rf-upper": "upper_stud"}),
    ({f"{LR}.tire.cuts": "grooved"}, {"cuts-lr": "tire_cut"}),
    ({f"{LR}.tire.pressure_cold_psi": 9, f"{RF}.tire.pressure_cold_psi": 9}, {"pressures": "pressures"}),
    ({f"{LR}.tire.rollout_in": 88}, {"stagger": "stagger"}),
    ({"setup.rear.rods.lateral_bar.chassis_hole": "3 of 4"}, {"rod-lateral_bar": "lateral_bar"}),
    ({"setup.rear.rods.left_upper.chassis_hole": "3 of 4"}, {"rod-left_upper": "trailing_bar"}),
    ({"setup.rear.rods.torque_link.spring_preload_in": 0.5}, {"rod-torque_link": "torque_link"}),
    ({"setup.front.bar.preload_turns": 2}, {"bar-front": "bar"}),
    ({"setup.drivetrain.spur_ratio": 1.29, "setup.drivetrain.final_drive_ratio": 6.269}, {"gear": "gear"}),
    ({"setup.brakes.front_share_percent": 60}, {"brake-bias": "brake_bias"}),
    ({"setup.ballast.left_rail.position_in": [-70, 17, 9]}, {"ballast": "ballast"}),
]


@pytest.mark.parametrize(("edits", "jobs"), JOBS)
def test_each_change_is_its_job(edits: dict[str, Any], jobs: dict[str, str]) -> None:
    found = difference(car(), edited(edits))
    assert {item.id: item.kind for item in found.items} == jobs
    assert found.by_hand == []
    told = {dotted(change.path) for item in found.items for change in item.leaves}
    assert told | {dotted(change.path) for change in found.recorded} == set(edits)


def test_every_kind_of_job_of_the_table_comes_from_some_field_or_check() -> None:
    made = {kind for _, jobs in JOBS for kind in jobs.values()}
    others: dict[str, dict[str, Any]] = {
        "upper_arm": {f"{RF}.upper_arm.part": "b"},
        "revalve": {f"{RF}.shock.oil": "thin"},
        "bump_stop": {f"{RF}.bump_stop.packers_in": 0.25},
        "droop_limit": {f"{RF}.droop_limit.travel_in": 3},
        "tire_mount": {f"{RF}.tire.compound": "hard"},
        "perch_weight_jack": {f"{RF}.spring.perch.thread_showing_in": 3},
    }
    from_nothing = {f"{RF}.upper_arm.part": "a", f"{RF}.shock.oil": "thick", f"{RF}.droop_limit.travel_in": 2}
    old = edited({**from_nothing, f"{RF}.wheel.part": "w-1", f"{RF}.spring.kind": "big"})
    for kind, edits in others.items():
        [item] = difference(old, edited(edits, old)).items
        assert item.kind == kind
    checks = {"inspect", "heights", "camber_gauge", "toe_check", "bump_sheet", "swing", "scales", "wheel_torque"}
    assert made | set(others) | checks == set(JOB_KINDS)


def test_what_was_only_written_down_is_no_job() -> None:
    written = {
        "notes": "tacky",
        "setup.surface": "dirt",
        f"{RF}.upper_stud.nights": 10,
        f"{RF}.target.camber_deg": -4.25,
        f"{RF}.upper_stud.seat_diameter_in": 0.62,
        "measured.scales.lf_lb": 590,
    }
    found = difference(car(), edited(written))
    assert found.items == []
    assert {dotted(change.path) for change in found.recorded} == set(written)


def test_a_reading_that_comes_out_of_a_job_follows_it_and_alone_is_left_to_the_crew() -> None:
    alone = difference(car(), edited({f"{LR}.spring.installed_length_in": 11, "setup.rear.axle.pinion_deg": 5}))
    assert alone.items == []
    assert [change.path[-1] for change in alone.recorded] == ["installed_length_in"]  # it was not recorded before
    assert [change.path[-1] for change in alone.by_hand] == ["pinion_deg"]
    rod = difference(
        car(), edited({"setup.rear.rods.left_upper.chassis_hole": "3 of 4", "setup.rear.axle.pinion_deg": 5})
    )
    assert [item.id for item in rod.items] == ["rod-left_upper"]
    assert rod.by_hand == []


def test_what_no_job_covers_is_said() -> None:
    found = difference(car(), edited({"setup.brakes.pads": "hard", "setup.own_idea": 3}))
    assert [dotted(change.path) for change in found.by_hand] == ["setup.brakes.pads", "setup.own_idea"]


def test_every_field_of_a_setup_is_judged() -> None:
    """A field added to the schema is a job, or only written down, or named here as left to the crew."""
    unjudged = set()
    for path in catalog():
        what = car_field(tuple("any" if step == ANY else step for step in path))
        if path[0] == "setup" and not what.component and not what.written and what.leaf not in FOLLOWS:
            unjudged.add(what.leaf)
    left = {
        "upper_stud.lock",
        "lower_stud.lock",
        "lower_arm.length_in",
        "lower_arm.part",
        "spring_base_in",
        "front.steering.half_travel_in",
        "front.steering.in_per_turn",
        "front.steering.part",
        *(f"{end}.bar.{leaf}" for end in ("front", "rear") for leaf in ("outer_diameter_in", "inner_diameter_in")),
        *(f"{end}.bar.active_length_in" for end in ("front", "rear")),
        "rear.axle.drive",
        *(f"rear.axle.{what}_{side}_deg" for what in ("camber", "toe") for side in ("left", "right")),
        "drivetrain.ring_pinion_ratio",
        "brakes.front_caliper_on",
        "brakes.rear_caliper_on",
        "brakes.pads",
        "fuel_cell.position_in",
        "fuel_cell.capacity_gal",
        "seat.position_in",
    }
    assert unjudged - left == set(), "put it in work/car_fields.py, or name it here as left to the crew"
    assert left - unjudged == set(), "work/car_fields.py judges it now: take its name away here"


def test_pieces_of_ballast_are_counted() -> None:
    moved = {"setup.ballast.seat.weight_lb": 38, "setup.ballast.seat.position_in": [-80, 4, 12]}
    gone = {f"setup.ballast.left_rail.{leaf}": None for leaf in ("weight_lb", "position_in", "fixing")}
    [one] = difference(car(), edited(moved | gone)).items
    assert one.times == 1
    two = moved | {"setup.ballast.rail.weight_lb": 10}
    [both] = difference(car(), edited(two)).items
    assert both.times == 2


def test_on_the_way_back_wear_is_no_new_part_but_a_new_part_goes() -> None:
    worn = edited({f"{LR}.tire.heat_cycles": 4})
    assert difference(worn, car(), back=True).items == []
    renewed = edited({f"{LR}.tire.heat_cycles": 0})
    assert [item.id for item in difference(renewed, car(), back=True).items] == ["tire-lr"]
    assert difference(edited({f"{LR}.tire.heat_cycles": 0}), edited({f"{LR}.tire.heat_cycles": 1})).items == []


def test_a_cut_cannot_be_taken_back() -> None:
    cut = edited({f"{LR}.tire.cuts": "grooved"})
    [item] = difference(cut, car(), back=True).items
    assert (item.id, item.kind) == ("cuts-lr", "wheel_swap")


@pytest.mark.parametrize("sheet", sorted(demo_sheets()))
def test_the_demos_changes_are_all_understood(sheet: str) -> None:
    documents = demo_sheets()[sheet]
    for before, after in itertools.pairwise(documents):
        assert difference(before, after).by_hand == []
        assert difference(after, before, back=True).by_hand == []
