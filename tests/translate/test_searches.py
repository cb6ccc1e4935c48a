"""Searches from document to answer: what is tried, what is told, and that what is told does what it says.

The stock, limits and targets are invented.
"""

import itertools
import math
from typing import Any, Literal

import msgspec
import pytest

from present import present
from studbook.wire.answers import Travels
from studbook.wire.searches import (
    Candidate,
    CarryOver,
    CarryOverAnswer,
    Inventory,
    StudAtHand,
    StudSearch,
    StudSearchAnswer,
    StudStock,
)
from studbook_service.translate.carry_over import carry_over_answer
from studbook_service.translate.errors import CannotClose, FieldsMissing, TooCostly
from studbook_service.translate.front import front_answer
from studbook_service.translate.searches import stud_search_answer
from translate.documents import HEIGHTS, car, with_edits

TARGET = [(travel, -4 - 1.5 * travel) for travel in (-2.0, -1.0, 0.0, 1.0, 2.0, 3.0)]
STOCK = [
    StudStock(joint="upper", length_in=1.7),
    StudStock(joint="lower", length_in=1.85, count=2),
    StudStock(joint="either", length_in=1.6),
]


def studs(tree: Any = None, **more: Any) -> StudSearchAnswer:
    terms: dict[str, Any] = {"studs": STOCK, "shims_within_in": 0.125, "spacers_within_in": 0.25} | more
    wanted = StudSearch(**{"revision": "0f3a9c", "corner": "rf", "camber_target": TARGET, **terms})
    return stud_search_answer(tree or car(), origins={}, wanted=wanted)


def carry_over(source: Any, tree: Any, **more: Any) -> CarryOverAnswer:
    terms: dict[str, Any] = {"studs": STOCK, "shims_within_in": 0.125, "spacers_within_in": 0.125} | more
    wanted = CarryOver(source="0f3a9c", revision="7be210", **terms)
    return carry_over_answer(source, tree, source_origins={}, origins={}, wanted=wanted)


def put_in(tree: Any, candidate: Candidate, corner: str = "rf") -> Any:
    """Record what a candidate says to do, as a crew would."""
    fitted = tree["setup"]["front"][corner]
    edits: dict[str, Any] = {
        "upper_stud__length_in": candidate.upper_stud_in,
        "lower_stud__length_in": candidate.lower_stud_in,
    }
    for each in candidate.adjustments:
        if each.by == "tie_rod":
            edits["tie_rod__turns"] = each.turns
        elif each.by == "outer_spacer":
            edits["tie_rod__outer_spacer_in"] = fitted["tie_rod"]["outer_spacer_in"] + each.amount_in
        else:
            end = "front" if "front" in each.where else "rear"
            edits[f"upper_shims__{end}_in"] = fitted["upper_shims"][f"{end}_in"] + each.amount_in
    return with_edits(tree, **{f"setup__front__{corner}__{path}": value for path, value in edits.items()})


def test_what_is_told_does_what_it_says() -> None:
    answer = studs(roll_center_in=(3.5, 4.5), bump_steer_most_deg_per_in=0.05)
    assert len(answer.ranked) >= 3
    assert (answer.travel_in, answer.camber_target_deg) == ([z for z, _ in TARGET], [camber for _, camber in TARGET])
    for candidate in answer.ranked:
        tree = put_in(car(), candidate)
        now = front_answer(tree, origins={}, travels=Travels(low_in=-2, high_in=3, step_in=1))
        outcome = candidate.outcome
        assert present(now.rf).curve.camber_deg == pytest.approx(outcome.camber_deg, abs=1e-5)
        assert present(now.rf).now.bump_steer_deg_per_in == pytest.approx(outcome.bump_steer_deg_per_in, abs=1e-5)
        assert present(now.rf).now.caster_deg == pytest.approx(outcome.caster_deg, abs=1e-5)
        assert present(now.rf).now.toe_deg == pytest.approx(outcome.toe_deg, abs=1e-5)
        rf = present(now.rf)
        assert rf.now.bump_steer_in_per_in == pytest.approx(outcome.bump_steer_in_per_in, abs=1e-5)
        assert rf.now.line_at_center_in == pytest.approx(outcome.line_at_center_in, abs=1e-4)
        drift = max(abs(toe - rf.now.toe_deg) for toe in rf.curve.toe_deg)
        assert outcome.toe_change_deg == pytest.approx(drift, abs=1e-5)
        assert present(now.axle).roll_center.height_in == pytest.approx(
            present(candidate.roll_center).height_in, abs=1e-4
        )
        assert 3.5 <= present(present(candidate.roll_center).height_in) <= 4.5
        assert abs(outcome.bump_steer_deg_per_in) <= 0.05
        assert abs(outcome.caster_deg - answer.now.caster_deg) <= 0.5
        # A flat of the rod is 0.0185 in, and 0.01 in of rod about 0.1 deg (common practice, no source).
        assert abs(outcome.toe_deg - answer.now.toe_deg) < 0.11
        wanted = [camber for _, camber in TARGET]
        off = math.dist(outcome.camber_deg, wanted) / math.sqrt(len(wanted))
        assert outcome.camber_off_deg == pytest.approx(off, abs=1e-5)


def test_caster_stays_within_what_was_asked() -> None:
    excluded = []
    for within in (0.1, 0.5, 2.0):
        answer = studs(caster_within_deg=within)
        assert answer.ranked
        assert all(abs(each.outcome.caster_deg - answer.now.caster_deg) <= within for each in answer.ranked)
        excluded.append({each.constraint: each.count for each in answer.counts.excluded}.get("caster", 0))
    assert excluded[0] > excluded[1] > excluded[2]


def test_everything_is_accounted_for() -> None:
    answer = studs(bump_steer_most_deg_per_in=0.03)
    counts = answer.counts
    excluded = {each.constraint: each.count for each in counts.excluded}
    # 3 uppers × 3 lowers, 9 stacks each of front and rear shims, 9 of spacers; one pair wants two of one stud.
    assert counts.total_count == 3 * 3 * 9 * 9 * 9
    assert excluded["not in stock"] == 9 * 9 * 9
    assert counts.total_count == counts.fitting_count + sum(excluded.values())
    assert counts.tried_count == counts.total_count - excluded["not in stock"]
    assert f"{counts.tried_count:,} combinations tried" in answer.notes[0]


def test_the_best_of_everything_is_named_and_nothing_given_is_beaten() -> None:
    ranked = studs(keep_count=3).ranked
    assert {name for each in ranked for name in each.best_in} == {
        *("camber curve", "bump steer", "roll center", "parts changed")
    }
    assert "camber curve" in ranked[0].best_in
    assert [each.parts_changed_count for each in ranked if "parts changed" in each.best_in] == [0]


def test_with_nothing_at_hand_it_stays_as_it_is() -> None:
    answer = studs(studs=[], shims_within_in=0, spacers_within_in=0)
    (only,) = answer.ranked
    assert only.todo == []
    assert only.outcome == answer.now
    assert answer.counts.tried_count == 1
    assert "leave it as it is" in answer.notes[1]


def test_more_at_hand_never_comes_out_worse() -> None:
    off = [
        studs(studs=STOCK[:count], shims_within_in=within).ranked[0].outcome.camber_off_deg
        for count, within in ((0, 0), (0, 0.0625), (1, 0.0625), (3, 0.125))
    ]
    # Cambers within 0.01 deg of each other are ranked by the rest.
    assert all(more <= less + 0.01 for less, more in itertools.pairwise(off))


def test_too_many_are_refused_before_any_is_tried() -> None:
    with pytest.raises(TooCostly, match=r"[0-9,]+ combinations .*, 1,000 may be: list fewer studs.*RF"):
        studs(most_count=1000)


def test_no_time_leaves_some_untried_and_says_so() -> None:
    answer = studs(time_s=0.0)
    assert answer.counts.tried_count == 0
    assert "not tried before the time was up" in answer.notes[0]
    assert answer.ranked == []


def test_impossible_targets_leave_nothing_and_name_what_excluded_it() -> None:
    answer = studs(roll_center_in=(20.0, 30.0))
    assert answer.ranked == []
    assert "roll center" in {each.constraint for each in answer.counts.excluded}
    assert "Nothing fits" in answer.notes[-1]
    assert b"null" not in msgspec.json.encode(answer)


def test_one_corner_alone_is_searched_without_the_roll_center() -> None:
    tree = with_edits(car(), survey__front__lf__points__lower_ball_in=None)
    answer = studs(tree, roll_center_in=(3.5, 4.5))
    assert all(each.roll_center is msgspec.UNSET for each in answer.ranked)
    assert ["survey.front.lf.points.lower_ball_in"] in [each.fields for each in answer.missing]
    with pytest.raises(FieldsMissing):
        studs(tree, corner="lf")


def test_a_stud_that_is_not_recorded_is_not_changed() -> None:
    answer = studs(with_edits(car(), setup__front__rf__upper_stud__length_in=None))
    assert ["setup.front.rf.upper_stud.length_in"] in [each.fields for each in answer.missing]
    assert all(each.upper_stud_in is msgspec.UNSET for each in answer.ranked)


@pytest.mark.parametrize(
    ("camber", "bump_steer", "where"),
    [
        ("upper_slots", "outer_spacer", "RF upper front pivot: move"),
        ("lower_slots", "tie_inner_height", "RF lower front pivot: move"),
        ("upper_slugs", "tie_inner_height", "RF upper front pivot: "),
        ("upper_arm_thread", "outer_spacer", "RF upper arm: "),
    ],
)
def test_corners_that_are_adjusted_otherwise(camber: str, bump_steer: str, where: str) -> None:
    chosen = {
        "setup__front__rf__adjusters__camber": camber,
        "setup__front__rf__adjusters__bump_steer": bump_steer,
        "setup__front__rf__upper_arm__moves_per_turn_in": 0.0625,
    }
    lower = [(travel, camber - 1) for travel, camber in TARGET]
    answer = studs(with_edits(car(), **chosen), camber_target=lower, studs=[])
    assert answer.ranked[0].outcome.camber_off_deg < answer.now.camber_off_deg
    assert any(job.startswith(where) for each in answer.ranked for job in each.todo)


@pytest.mark.parametrize("kind", ["dirt", "asphalt"])
def test_equal_cars_carry_over_with_no_change(kind: str) -> None:
    answer = carry_over(car(kind), car(kind))
    (plan,) = answer.ranked
    assert plan.parts_changed_count == 0
    assert (present(plan.lf).todo, present(plan.rf).todo) == ([], [])
    assert (present(plan.lf).outcome, present(plan.rf).outcome) == (present(answer.lf).now, present(answer.rf).now)
    assert plan.roll_center == answer.roll_center_aim


def test_a_stud_in_one_car_is_found_for_the_other() -> None:
    source = with_edits(car(), setup__front__rf__upper_stud__length_in=1.7)
    best = carry_over(source, car()).ranked[0]
    assert [*present(best.lf).todo, *present(best.rf).todo] == ["RF upper stud: 1.70 in instead of 1.20 in"]
    without = carry_over(source, car(), studs=[]).ranked[0]
    assert present(without.rf).outcome.camber_off_deg > present(best.rf).outcome.camber_off_deg


def test_one_stud_is_not_given_to_both_corners() -> None:
    longer = {f"setup__front__{name}__upper_stud__length_in": 1.6 for name in ("lf", "rf")}
    source = with_edits(car(), **longer)
    for count, most in ((1, 1), (2, 2)):
        stock = [StudStock(joint="upper", length_in=1.6, count=count)]
        ranked = carry_over(source, car(), studs=stock).ranked
        used = [sum(present(plan).upper_stud_in == 1.6 for plan in (each.lf, each.rf)) for each in ranked]
        assert max(used) == most


def of_book(*studs: tuple[str, float, Literal["trailer", "shelf"], list[Any]]) -> Inventory:
    at_hand = [StudAtHand(part=part, length_in=length, where=where, fits=fits) for part, length, where, fits in studs]
    return Inventory(taken_from="anywhere", studs=at_hand, left_out=[])


def test_the_books_studs_are_named_with_where_they_lie() -> None:
    inventory = of_book(("s-1", 1.7, "shelf", ["rf.upper"]), ("s-2", 1.7, "trailer", ["rf.upper"]))
    wanted = StudSearch(
        revision="0f3a9c", corner="rf", camber_target=TARGET, shims_within_in=0.125, inventory="anywhere"
    )
    answer = stud_search_answer(car(), origins={}, wanted=wanted, inventory=inventory)
    longer = [each for each in answer.ranked if each.upper_stud_in == 1.7]
    assert longer
    for each in longer:
        assert each.todo[0] == "RF upper stud: 1.70 in instead of 1.20 in: s-2, trailer"
        assert [(stud.joint, stud.length_in, stud.part, stud.where) for stud in each.studs] == [
            ("upper", 1.7, "s-2", "trailer")
        ]
    assert answer.inventory == inventory
    assert "Studs of the book: 2 can go in, 0 are left out." in answer.notes
    assert any("not the same studs" in each for each in answer.assumptions)
    assert not any("angle of the taper alone" in each for each in answer.assumptions)
    assert any("wrong taper" in each for each in answer.cautions)
    fields = [each.fields for each in answer.missing]
    assert ["setup.front.rf.upper_stud.taper_included_deg"] in fields
    listed = studs(studs=[StudStock(joint="upper", length_in=1.7)], spacers_within_in=0.25)
    assert [each.outcome for each in listed.ranked] == [each.outcome for each in answer.ranked]
    assert listed.inventory is msgspec.UNSET


def test_both_joints_and_both_corners_share_one_stock() -> None:
    """Three studs that go anywhere, four joints that would have them."""
    anywhere: list[Any] = ["lf.upper", "lf.lower", "rf.upper", "rf.lower"]
    longer = {
        f"setup__front__{name}__{joint}_stud__length_in": 1.6 for name in ("lf", "rf") for joint in ("upper", "lower")
    }
    tree = with_edits(car(), **longer)
    for count in (1, 3, 4):
        inventory = of_book(*((f"s-{place}", 1.6, "trailer", anywhere) for place in range(count)))
        wanted = CarryOver(
            source="0f3a9c", revision="7be210", shims_within_in=0, spacers_within_in=0, inventory="trailer"
        )
        answer = carry_over_answer(tree, car(), source_origins={}, origins={}, wanted=wanted, inventory=inventory)
        used = [[stud.part for side in (plan.lf, plan.rf) for stud in present(side).studs] for plan in answer.ranked]
        assert all(len(tags) == len(set(tags)) for tags in used)
        assert max(len(tags) for tags in used) == count
        for plan, tags in zip(answer.ranked, used, strict=True):
            todo = " ".join([*present(plan.lf).todo, *present(plan.rf).todo])
            assert all(todo.count(f"{tag}, trailer") == 1 for tag in tags)


def test_another_car_comes_nearer_and_nothing_is_nan() -> None:
    answer = carry_over(car("asphalt"), car("dirt"))
    best = answer.ranked[0]
    assert present(best.lf).outcome.camber_off_deg < present(answer.lf).now.camber_off_deg
    assert present(best.rf).outcome.camber_off_deg < present(answer.rf).now.camber_off_deg
    assert b"null" not in msgspec.json.encode(answer)


def test_one_corner_of_each_is_carried_over_alone() -> None:
    half = with_edits(car(), survey__front__lf__points__lower_ball_in=None)
    answer = carry_over(half, car())
    assert answer.lf is msgspec.UNSET
    assert present(answer.ranked[0].rf).todo == []
    thin = with_edits(car(), survey__front__rf__points__lower_ball_in=None)
    with pytest.raises(FieldsMissing):
        carry_over(half, thin)


def test_travels_beyond_the_linkage() -> None:
    higher = {f"measured__ride_height__{name}__height_in": height + 5 for name, (height, _) in HEIGHTS.items()}
    up = with_edits(car(), **higher)
    with pytest.raises(CannotClose, match=r"LF of the car to match does not reach"):
        carry_over(up, car(), travel_in=[0.0, -8.0])
    answer = carry_over(car(), up, travel_in=[0.0, -8.0])
    assert answer.ranked == []
    assert {each.constraint for each in present(answer.rf).counts.excluded} >= {"cannot close"}
    assert "closes" in answer.notes[-1]
