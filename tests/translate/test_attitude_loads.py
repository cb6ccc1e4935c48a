"""What stands on the wheels of a car at an attitude, how that squashes its tires, and what steering does there."""

import datetime as dt
from typing import Final

import numpy as np
import pytest
from msgspec import UNSET
from scipy.optimize import root

from golden.independent_axles import AxleDistances, CornerOnGround, GroundUnder
from present import present
from studbook.history.canonical import Tree
from studbook.wire.attitude import AttitudeAnswer, CarStance
from studbook_service.demo import scenario
from studbook_service.engine.rear_axle import LinkRod
from studbook_service.translate.attitude import attitude_answer
from studbook_service.translate.errors import CannotClose, FieldsMissing
from studbook_service.translate.loads import loads_answer
from studbook_service.translate.origins import origins
from studbook_service.translate.stances import ChassisAttitude
from translate.documents import whole_car, with_edits

TODAY = dt.date(2026, 6, 1)
END: Final = {"lf": "front", "rf": "front", "lr": "rear", "rr": "rear"}
LEVEL, ROLLED = ChassisAttitude(0.0, 0.0, 0.0), ChassisAttitude(-0.8, 2.0, 0.4)
LINK = {
    "pitman_pivot_in": [10, 8, 8],
    "pitman_axis": [0, 0, 1],
    "pitman_end_in": [5, 8, 8],
    "idler_pivot_in": [10, -8, 8],
    "idler_axis": [0, 0, 1],
    "idler_end_in": [5, -8, 8],
}


def car(slug: str = "7") -> Tree:
    return scenario.base(slug, today=TODAY)


def answer(*chain: Tree, place: ChassisAttitude | None = None, steer_in: float = 0.0) -> AttitudeAnswer:
    return attitude_answer(chain[0], origins=origins(chain), attitude=place, steer_in=steer_in)


def told(stance: CarStance, name: str) -> list[float]:
    return [getattr(getattr(stance, wheel), name) for wheel in END]


class ByHand:
    """A car as surveyed, by SciPy: each linkage from its distances, loads and tires from the root of four balances."""

    def __init__(self, tree: Tree) -> None:
        survey = tree["survey"]
        self.fronts = []
        for side, name in ((1, "lf"), (-1, "rf")):
            given = survey["front"][name]
            points = {point[:-3]: np.array(at, float) for point, at in given["points"].items()}
            angles = {key: given[key] for key in ("camber_deg", "toe_deg", "loaded_radius_in")}
            self.fronts.append({"side": side, **points, **angles, "spring": given["spring"]})
        self.corners = [CornerOnGround(front) for front in self.fronts]
        rear = survey["rear"]
        rods = {name: LinkRod(rod["chassis_in"], rod["carrier_in"], rod["on"]) for name, rod in rear["rods"].items()}
        self.rear = {
            "rods": rods,
            **{f"wheel_{side}": rear[name]["wheel_center_in"] for side, name in (("left", "lr"), ("right", "rr"))},
            **{f"{side}_radius_in": rear[name]["loaded_radius_in"] for side, name in (("left", "lr"), ("right", "rr"))},
        }
        wheels = [tree["setup"][end][name] for name, end in END.items()]
        self.tires = np.array([wheel["tire"]["rate_lb_per_in"] for wheel in wheels])
        self.loads = np.array([tree["measured"]["scales"][f"{name}_lb"] for name in END], float)
        # rates at the wheels are checked where they are made, in tests/engine/test_wheel_rates.py
        rates = loads_answer(tree, origins={})
        self.springs = np.zeros((4, 4))
        for first, axle in ((0, rates.front), (2, rates.rear)):
            block = [
                [present(axle).left_lb_per_in, present(axle).coupling_lb_per_in],
                [present(axle).coupling_lb_per_in, present(axle).right_lb_per_in],
            ]
            self.springs[first : first + 2, first : first + 2] = block
        self.ratios = np.array([present(rates.front).left_ratio, present(rates.front).right_ratio])
        level = GroundUnder(0, 0, 0)
        placed = [corner.solve(0.0, 0.0) for corner in self.corners]
        spots = [
            level.patch(at["wheel_center"], spin, front["loaded_radius_in"])
            for (at, spin), front in zip(placed, self.fronts, strict=True)
        ]
        left, right = (np.array(self.rear[f"wheel_{side}"], float) for side in ("left", "right"))
        for center, radius in ((left, "left_radius_in"), (right, "right_radius_in")):
            spots.append(level.patch(center, left - right, self.rear[radius]))
        self.x, self.y, _ = np.array(spots).T

    def spring_lengths(self, place: ChassisAttitude, steer_in: float) -> np.ndarray:
        """Of both front springs, the wheels on the ground, from the mounts on the lower arms."""
        lengths = []
        for corner, front in zip(self.corners, self.fronts, strict=True):
            at, _ = corner.on_ground(GroundUnder(*place), np.array([0.0, steer_in, 0.0]), front["loaded_radius_in"])
            pivot, along = front["lower_front"], front["lower_rear"] - front["lower_front"]
            then, now = (
                np.stack([along, arm, np.cross(along, arm)], axis=1)
                for arm in (ball - pivot for ball in (front["lower_ball"], at["lower_ball"]))
            )
            moving = pivot + now @ np.linalg.solve(then, np.array(front["spring"]["moving_in"]) - pivot)
            lengths.append(np.linalg.norm(moving - front["spring"]["chassis_in"]))
        return np.array(lengths)

    def solve(self, place: ChassisAttitude, steer_in: float = 0.0) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Loads, camber and toe."""
        rises = place.heave_in + np.radians(place.roll_deg) * self.y - np.radians(place.pitch_deg) * self.x
        jacked = np.zeros(4)
        # a spring that steering shortens is pressed as if its wheel had moved up against its arm
        jacked[:2] = -(self.spring_lengths(place, steer_in) - self.spring_lengths(place, 0.0)) / self.ratios
        found = root(
            lambda up: self.springs @ (up - rises + jacked) + self.tires * up, np.zeros(4), method="hybr", tol=1e-14
        )
        radii, under = found.x, GroundUnder(*place)
        camber, toe = [], []
        for corner, front, grown in zip(self.corners, self.fronts, radii, strict=False):
            shift = np.array([0.0, steer_in, 0.0])
            level = under.turn.apply(corner.on_ground(under, shift, front["loaded_radius_in"] + grown)[1])
            camber.append(np.degrees(-np.arcsin(level[2])))
            toe.append(np.degrees(np.arctan2(level[0], front["side"] * level[1])))
        axle = {**self.rear}
        for index, side in ((2, "left"), (3, "right")):
            axle[f"{side}_radius_in"] += radii[index]
        _, left, right = AxleDistances(axle).on_ground(under)
        line = under.turn.apply((left - right) / np.linalg.norm(left - right))
        for sign in (1, -1):
            camber.append(np.degrees(-np.arcsin(sign * line[2])))
            toe.append(np.degrees(np.arctan2(sign * line[0], line[1])))
        return self.loads - self.tires * radii, np.array(camber), np.array(toe)


@pytest.mark.parametrize("steer_in", [0.0, 1.2])
def test_loads_tires_and_linkages_solved_by_another(steer_in: float) -> None:
    tree = with_edits(car("7"), measured__front=None, setup__rear__rods=None)
    other = ByHand(tree)
    for place in (ROLLED, ChassisAttitude(0.3, -1.0, -0.5), LEVEL):
        loads, camber, toe = other.solve(place, steer_in)
        found = present(answer(tree, place=place, steer_in=steer_in).requested)
        assert told(found, "load_lb") == pytest.approx(loads, abs=1e-3)
        assert told(found, "camber_deg") == pytest.approx(camber, abs=1e-6)
        assert told(found, "toe_deg") == pytest.approx(toe, abs=1e-6)


@pytest.mark.parametrize("slug", ["7", "12", "21"])
def test_held_where_it_stands_it_is_as_it_stands(slug: str) -> None:
    tree = with_edits(car(slug), setup__rear__lr__spring__perch__thread_showing_in=3.5)
    stands = answer(tree, car(slug)).ride_height
    place = ChassisAttitude(stands.heave_in, stands.roll_deg, stands.pitch_deg)
    held = present(answer(tree, car(slug), place=place).requested)
    for name in ("load_lb", "camber_deg", "travel_in", "tire_deflection_in"):
        assert told(held, name) == pytest.approx(told(stands, name), abs=2e-3 if name == "load_lb" else 3e-6)


def test_at_ride_height_it_weighs_what_its_scales_would_read() -> None:
    tree = with_edits(car(), setup__rear__lr__spring__perch__thread_showing_in=3.5)
    stands, now = answer(tree, car()).ride_height, present(loads_answer(tree, origins=origins([tree, car()])).now)
    assert told(stands, "load_lb") == [now.lf_lb, now.rf_lb, now.lr_lb, now.rr_lb]
    assert stands.roll_deg > 0.1  # left rear perch in: the left side comes up
    read = np.array(told(answer(car()).ride_height, "load_lb"))
    rates = [tree["setup"][END[name]][name]["tire"]["rate_lb_per_in"] for name in END]
    assert told(stands, "tire_deflection_in") == pytest.approx((told(stands, "load_lb") - read) / rates, abs=1e-5)


def test_heights_read_after_a_change_are_where_it_stands() -> None:
    perch = with_edits(car(), setup__rear__lr__spring__perch__thread_showing_in=3.5)
    moved = answer(perch, car()).ride_height
    heights = {f"measured__ride_height__{name}__height_in": 6.0 for name in ("lr", "rr")}
    read = with_edits(perch, **heights)
    stands = answer(read, perch, car()).ride_height
    assert stands.pitch_deg == answer(with_edits(car(), **heights)).ride_height.pitch_deg
    assert told(stands, "load_lb") == pytest.approx(told(moved, "load_lb"), abs=0.05)
    later = with_edits(read, setup__rear__lr__spring__perch__thread_showing_in=3.75)
    assert answer(later, read, perch, car()).ride_height.roll_deg - stands.roll_deg == pytest.approx(
        (moved.roll_deg - answer(car()).ride_height.roll_deg) * 0.25 / 0.375, abs=2e-3
    )


def test_a_stop_that_carries_and_its_curve_are_told() -> None:
    found = answer(car("21"), place=ChassisAttitude(-1.0, 4.0, 0.5))
    assert found.engaged == ["RF bump stop"]
    soft = with_edits(car("21"), setup__front__rf__bump_stop=None)
    less = present(answer(soft, place=ChassisAttitude(-1.0, 4.0, 0.5)).requested).rf
    assert present(present(found.requested).rf.load_lb) > present(less.load_lb)
    assert present(found.requested).rf.travel_in < less.travel_in


def test_a_wheel_that_carries_nothing_is_told() -> None:
    found = answer(car(), place=ChassisAttitude(1.6, 5.5, 0.0))
    assert present(found.requested).lf.load_lb == 0
    # all that a tire can come out is what its static load pressed it in
    assert present(found.requested).lf.tire_deflection_in == pytest.approx(-590 / 800, abs=1e-6)
    assert "LF: carries nothing and is off the ground; it is computed with its tire just touching" in found.limits
    assert any("links carry nothing" in each for each in found.assumptions)


def test_for_want_of_loads_tires_keep_their_radius_and_it_is_said() -> None:
    found = answer(whole_car(), place=ROLLED)
    assert present(found.requested).rf.load_lb is UNSET
    assert present(found.requested).rf.tire_deflection_in is UNSET
    assert any("tires keep their loaded radius" in each for each in found.assumptions)
    fields = {field for each in found.missing for field in each.fields}
    assert "setup.front.lf.tire.rate_lb_per_in" in fields
    unscaled = answer(with_edits(car(), measured__scales=None), place=ROLLED)
    assert [(each.subject, len(each.fields)) for each in unscaled.missing] == [("weights", 4)]


def test_what_no_scales_could_show_is_said_and_the_rest_answered() -> None:
    curve = {"setup__front__rf__bump_stop__curve_in_lb_pairs": [[0, 0], [0.5, 300], [1, 200]]}
    found = answer(with_edits(car("21"), **curve), place=ROLLED)
    assert present(found.requested).rf.load_lb is UNSET
    assert "curve_in_lb_pairs" in present(found.missing[0].why)


def test_steering_turns_both_wheels_and_moves_weight() -> None:
    straight, left, right = (
        present(answer(car(), place=LEVEL, steer_in=steer).requested) for steer in (0.0, 1.5, -1.5)
    )
    # An independent constraint solver: a rack of 1.5 in turns the wheels 14.9 and 14.8 deg from where they pointed.
    assert left.lf.toe_deg == pytest.approx(-14.9, abs=0.1)
    assert left.rf.toe_deg == pytest.approx(14.8, abs=0.1)
    assert left.steer_in == 1.5
    # Common practice, no source: with caster and scrub, turning left puts weight on the left front, off the right.
    assert present(left.lf.load_lb) > present(straight.lf.load_lb) > present(right.lf.load_lb)
    assert present(right.rf.load_lb) > present(straight.rf.load_lb) > present(left.rf.load_lb)
    stands = answer(car(), place=LEVEL, steer_in=1.5).ride_height
    assert stands.steer_in == 0
    assert told(stands, "toe_deg") == told(answer(car()).ride_height, "toe_deg")


def test_steering_past_its_stop_is_told() -> None:
    found = answer(car(), place=LEVEL, steer_in=2.75)
    assert found.limits == ["steering: 2.75 in (2 3/4) is past its stop at 2.50 in (2 1/2) from straight ahead"]


@pytest.mark.parametrize(("steer", "wheel"), [(5.0, "RF"), (-5.0, "LF")])
def test_steering_further_than_the_linkage_goes_is_refused(steer: float, wheel: str) -> None:
    with pytest.raises(CannotClose, match=f"{wheel} cannot follow the ground .*, steered: its linkage travels"):
        answer(car(), place=LEVEL, steer_in=steer)


def test_a_center_link_steers_as_its_arms_swing() -> None:
    link = {f"survey__front__steering__{point}": at for point, at in LINK.items()}
    tree = with_edits(car(), survey__front__steering__kind="center_link", **link)
    racked, linked = (answer(each, place=LEVEL, steer_in=1.5).requested for each in (car(), tree))
    assert present(linked).lf.toe_deg == pytest.approx(present(racked).lf.toe_deg, abs=1.5)
    assert present(linked).lf.toe_deg != present(racked).lf.toe_deg
    short = with_edits(tree, survey__front__steering__pitman_end_in=[8, 8, 8])
    with pytest.raises(CannotClose, match=r"center link cannot go \+2\.5 in"):
        answer(short, place=LEVEL, steer_in=2.5)


def test_steering_that_is_not_known_is_refused_by_name() -> None:
    unsaid = with_edits(car(), survey__front__steering__kind=None)
    assert present(answer(unsaid, place=LEVEL).requested).lf.toe_deg == pytest.approx(-0.12, abs=1e-3)
    for tree, lacks in (
        (unsaid, ["survey.front.steering.kind"]),
        (
            with_edits(car(), survey__front__steering__kind="center_link"),
            [f"survey.front.steering.{point}" for point in LINK],
        ),
    ):
        with pytest.raises(FieldsMissing) as refused:
            answer(tree, place=LEVEL, steer_in=0.5)
        assert refused.value.missing[0].fields == lacks
    with pytest.raises(CannotClose, match="drag link is not modeled"):
        answer(with_edits(car(), survey__front__steering__kind="drag_link"), place=LEVEL, steer_in=0.5)
