"""Every move as a crew records it: a document's field, its sign and its sum, against the values of moves.json."""

import json
from typing import Any

import numpy as np
import pytest

from golden import moves as golden
from studbook.history.canonical import Tree
from studbook_service.engine.axle_pose import solve_axle
from studbook_service.engine.axle_readings import axle_readings
from studbook_service.engine.linkage import solve_travel
from studbook_service.engine.rear_centers import rear_wheels
from studbook_service.engine.wheel import wheel
from studbook_service.translate.corner import corner_fitted
from studbook_service.translate.document import DocumentReader, checked
from studbook_service.translate.rear_end import mount_motion, rear_end
from translate.documents import car, whole_car, with_edits

WANTED: dict[str, Any] = json.loads(golden.FILE.read_text())
CLOSE = 1e-6
REAR_CASES = [(name, move) for name, moves in WANTED["rear"].items() for move in moves]

# How a crew says each move, and what the survey had.
FRONT_FIELDS = {
    "upper_stud_in": ("upper_stud.length_in", "upper_stud.length_in", 1.2),
    "lower_stud_in": ("lower_stud.length_in", "lower_stud.length_in", 1.35),
    "upper_housing_in": ("upper_housing.ball_offset_in", "upper_housing.ball_offset_in", 0.125),
    "lower_housing_in": ("lower_housing.ball_offset_in", "lower_housing.ball_offset_in", -0.25),
    "upper_arm_in": ("upper_arm.length_in", "upper_arm.length_in", 9.0),
    "tie_rod_in": ("tie_rod.length_in", "tie_rod.length_in", 16.0),
    "outer_spacer_in": ("tie_rod.outer_spacer_in", "tie_rod.outer_spacer_in", 0.5),
    "wheel_offset_in": ("wheel.offset_in", "wheel_offset_in", 2.0),
    "loaded_radius_in": ("tire.loaded_radius_in", "loaded_radius_in", None),
}


def front_document(name: str) -> Tree:
    """The car of the golden corners with measured axes, and every length on record."""
    side, corner = golden.CORNERS[name], name.removeprefix("dirt ")
    axes = {axis: golden.outboard(way, side).tolist() for axis, way in golden.AXES.items()}
    root = f"survey__front__{corner}"
    edits: dict[str, Any] = {
        f"{root}__upper_stud__axis": axes["upper_stud_axis"],
        f"{root}__lower_stud__axis": axes["lower_stud_axis"],
        f"{root}__upper_housing__axis": axes["upper_housing_axis"],
        f"{root}__lower_housing__axis": axes["lower_housing_axis"],
        f"{root}__tie_rod__outer_axis": axes["outer_axis"],
    }
    for _, field, then in FRONT_FIELDS.values():
        if then is not None:
            edits[f"{root}__{field.replace('.', '__')}"] = then
    return with_edits(car("dirt"), **edits)


def figures(tree: Tree, name: str) -> dict[str, Any]:
    corner = corner_fitted(DocumentReader(tree=checked(tree)), name.removeprefix("dirt "))
    assert corner is not None
    at = wheel(solve_travel(corner, travel_in=golden.TRAVEL_IN))
    return {
        "camber_deg": float(at.camber_deg),
        "toe_deg": float(at.toe_deg),
        "caster_deg": float(at.caster_deg),
        "patch_in": at.patch.tolist(),
    }


def same(found: dict[str, Any], wanted: dict[str, Any]) -> None:
    assert found.keys() == wanted.keys()
    for each, value in wanted.items():
        np.testing.assert_allclose(found[each], value, atol=CLOSE, rtol=0, err_msg=each)


def moved(tree: Tree, name: str, move: str) -> Tree:
    """A document with a move as fitted."""
    amount = golden.front_moves(golden.CORNERS[name])[move]
    root, corner = f"setup__front__{name.removeprefix('dirt ')}", tree["survey"]["front"][name.removeprefix("dirt ")]
    if move not in FRONT_FIELDS:
        return with_edits(tree, **{f"{root}__moved__{move}": amount.tolist()})
    field, _, then = FRONT_FIELDS[move]
    before = corner["loaded_radius_in"] if then is None else then
    return with_edits(tree, **{f"{root}__{field.replace('.', '__')}": before + amount})


@pytest.mark.parametrize("move", golden.FRONT)
@pytest.mark.parametrize("name", golden.CORNERS)
def test_a_recorded_move_of_a_corner(name: str, move: str) -> None:
    same(figures(moved(front_document(name), name, move), name), WANTED["front"][name][move])


@pytest.mark.parametrize("name", golden.CORNERS)
def test_all_recorded_moves_of_a_corner_together(name: str) -> None:
    tree = front_document(name)
    same(figures(tree, name), WANTED["front"][name]["surveyed"])
    for move in golden.FRONT:
        tree = moved(tree, name, move)
    same(figures(tree, name), WANTED["front"][name]["all"])


@pytest.mark.parametrize("way", ["inboard", "outboard"])
@pytest.mark.parametrize("name", golden.CORNERS)
def test_shims_move_their_pivot_the_way_that_is_recorded(name: str, way: str) -> None:
    tree, side = front_document(name), golden.CORNERS[name]
    shims = f"setup__front__{name.removeprefix('dirt ')}__upper_shims"
    edits = {
        f"{shims}__front_in": 0.25 + 0.125,
        f"{shims}__rear_in": 0.25 - 0.0625,
        f"{shims}__adding_moves_pivot": way,
    }
    out = 1 if way == "outboard" else -1
    pivots = {"upper_front_in": (0, side * out * 0.125, 0), "upper_rear_in": (0, side * out * -0.0625, 0)}
    same(figures(with_edits(tree, **edits), name), golden.corner_expected(name, **pivots))


@pytest.mark.parametrize("name", golden.CORNERS)
def test_a_spacer_adds_to_the_wheel_and_turns_to_the_rod(name: str) -> None:
    corner = name.removeprefix("dirt ")
    edits = {
        f"survey__front__{corner}__wheel_spacer_in": 0.25,
        f"setup__front__{corner}__wheel__offset_in": 1.5,
        f"setup__front__{corner}__wheel__spacer_in": 1.0,
        f"setup__front__{corner}__tie_rod__turns": -1.5,
        f"setup__front__{corner}__tie_rod__moves_per_turn_in": 0.1,
    }
    found = figures(with_edits(front_document(name), **edits), name)
    same(found, golden.corner_expected(name, wheel_offset_in=0.25, tie_rod_in=-0.15))


def rear_document(name: str, move: str) -> Tree:
    """The car of a golden axle with a move as fitted, its wheels' offsets and the left or right spring on record."""
    tree, spring, given = whole_car(name), dict(golden.SPRING[name]), golden.REAR[name].get(move, {})
    side = "lr" if spring["moving"][1] > 0 else "rr"
    edits: dict[str, Any] = {"survey__rear__lr__wheel_offset_in": 3.0, "survey__rear__rr__wheel_offset_in": 4.0}
    if "rod" in given:
        rod, ends = given["rod"], tree["survey"]["rear"]["rods"][given["rod"]]
        for field, amount in given["refit"].items():
            root = f"setup__rear__rods__{rod}"
            if field == "longer_in":
                edits[f"survey__rear__rods__{rod}__length_in"] = 20.0
                edits[f"{root}__length_in"] = 20.0 + amount
            else:
                edits[f"{root}__{field}"] = (np.asarray(ends[field], float) + amount).tolist()
    for wheel_name, amount in given.get("outboard", {}).items():
        corner = "lr" if wheel_name == "wheel_left" else "rr"
        edits[f"setup__rear__{corner}__wheel__offset_in"] = {"lr": 3.0, "rr": 4.0}[corner] + amount
    for wheel_name, amount in given.get("radius", {}).items():
        corner = "lr" if wheel_name == "wheel_left" else "rr"
        then = tree["survey"]["rear"][corner]["loaded_radius_in"]
        edits[f"setup__rear__{corner}__tire__loaded_radius_in"] = then + amount
    for end, amount in given.get("spring", {}).items():
        spring[end] = (np.asarray(spring[end], float) + amount).tolist()
    edits[f"survey__rear__{side}__spring__chassis_in"] = list(spring["chassis"])
    edits[f"survey__rear__{side}__spring__moving_in"] = list(spring["moving"])
    edits[f"survey__rear__{side}__spring__sits_on"] = "axle" if spring["on"] == "axle" else "birdcage"
    return with_edits(tree, **edits)


@pytest.mark.parametrize(("name", "move"), REAR_CASES)
def test_a_recorded_move_of_an_axle(name: str, move: str) -> None:
    reader = DocumentReader(tree=checked(rear_document(name, move)))
    rear = rear_end(reader)
    assert rear is not None
    pose = solve_axle(rear.axle, bump_in=golden.BUMP_IN, roll_deg=golden.ROLL_DEG)
    at, wheels = axle_readings(pose), rear_wheels(pose, **rear.radii_in)
    spring = mount_motion(reader, pose, "lr" if golden.SPRING[name]["moving"][1] > 0 else "rr", "spring")
    assert spring is not None
    wanted = WANTED["rear"][name][move]
    plain = ("lead_change_in", "travel_in", "lateral_shift_in", "steer_deg", "pinion_deg", "birdcage_indexing_deg")
    found = {each: getattr(at, each) for each in plain}
    found["spring_length_in"], found["spring_bump_ratio"] = spring.length_in, -spring.per_bump
    found["patch_in"] = [wheels.left.patch, wheels.right.patch]
    same(found, wanted)


def test_a_rod_whose_length_was_not_surveyed_counts_from_its_ends() -> None:
    """Ends 12 in ahead and 9 in up: 15 in."""
    rod = {"survey__rear__rods__torque_link__chassis_in": [-89.2, -1.5, 13.4]}
    tree = with_edits(whole_car("dirt"), **rod, setup__rear__rods__torque_link__length_in=15.25)
    rear = rear_end(DocumentReader(tree=checked(tree)))
    assert rear is not None
    assert rear.axle.longer_in[rear.axle.index("torque_link")] == pytest.approx(0.25, abs=1e-9)
