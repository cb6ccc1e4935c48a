"""Setup documents for tests, made from the invented corners in tests/golden/front_corners.json."""

import copy
import json
from pathlib import Path
from typing import Any

from studbook.history.canonical import Tree, canonical
from studbook.history.changes import FieldChange, apply
from studbook.history.leaves import steps

GOLDEN = json.loads((Path(__file__).parents[1] / "golden" / "front_corners.json").read_text())
REAR = json.loads((Path(__file__).parents[1] / "golden" / "rear_axles.json").read_text())["axles"]
HEIGHTS: dict[str, tuple[float, list[float]]] = {
    "lf": (4.9, [-14, 13.5]),
    "rf": (5.3, [-14, -14.5]),
    "lr": (6.6, [-86, 20]),
    "rr": (6.2, [-86, -21]),
}
SCALES = {"lf_lb": 590, "rf_lb": 503, "lr_lb": 718, "rr_lb": 629}


def surveyed(kind: str, name: str) -> Tree:
    golden = GOLDEN["corners"][f"{kind} {name}"]
    spring = golden["spring"]
    return {
        "points": {f"{point}_in": place for point, place in golden["points_in"].items()},
        "camber_deg": golden["camber_deg"],
        "toe_deg": golden["toe_deg"],
        "loaded_radius_in": golden["loaded_radius_in"],
        "upper_stud": {"length_in": 1.2},
        "lower_stud": {"length_in": 1.35},
        "upper_shims": {"front_in": 0.25, "rear_in": 0.25},
        "tie_rod": {"outer_spacer_in": 0.5, "outer_axis": [0, 0, 1]},
        "spring": {"chassis_in": spring["chassis"], "moving_in": spring["moving"], "sits_on": spring["body"]},
    }


def fitted(rate: float) -> Tree:
    return {
        "upper_stud": {"length_in": 1.2},
        "lower_stud": {"length_in": 1.35},
        "upper_shims": {"front_in": 0.25, "rear_in": 0.25, "adding_moves_pivot": "inboard"},
        "tie_rod": {"outer_spacer_in": 0.5, "moves_per_turn_in": 0.111111},
        "spring": {"rate_lb_per_in": rate, "perch": {"in_per_turn": 0.0625}},
    }


def car(kind: str = "dirt") -> Tree:
    """A thin but complete front: what every front answer needs, nothing for the rest of the car."""
    corners = GOLDEN["corners"]
    tree: Tree = canonical(
        {
            "survey": {
                "front": {
                    "lf": surveyed(kind, "lf"),
                    "rf": surveyed(kind, "rf"),
                    "steering": {"kind": "rack", "ahead_of_axle": True},
                },
                "ride_height": {name: {"height_in": h, "at_in": at} for name, (h, at) in HEIGHTS.items()},
                "wheelbase": {"left_in": 103.4, "right_in": 103.0},
            },
            "setup": {
                "front": {name: fitted(corners[f"{kind} {name}"]["spring"]["rate_lb_per_in"]) for name in ("lf", "rf")},
                "cg": {"height_in": 18.5},
                "brakes": {"front_share_percent": 52},
            },
            "measured": {"scales": SCALES},
        }
    )
    return tree


def whole_car(kind: str = "dirt") -> Tree:
    """That car with the rear axle of tests/golden/rear_axles.json on its rods."""
    axle, tree = REAR[kind], car(kind)
    tree["survey"]["rear"] = {
        "lr": {"wheel_center_in": axle["wheel_left"], "loaded_radius_in": axle["left_radius_in"]},
        "rr": {"wheel_center_in": axle["wheel_right"], "loaded_radius_in": axle["right_radius_in"]},
        "rods": {
            name: {"chassis_in": rod["chassis"], "carrier_in": rod["carrier"], "on": rod["on"]}
            for name, rod in axle["rods"].items()
        },
    }
    whole: Tree = canonical(tree)
    return whole


def with_edits(tree: Tree, **edits: Any) -> Tree:
    """Set leaves by dotted path, the dots written as `__`; None removes."""
    changes = []
    for path, value in edits.items():
        at = steps(path.replace("__", "."))
        changes.append(FieldChange(at) if value is None else FieldChange(at, after=value))
    edited: Tree = canonical(apply(changes, copy.deepcopy(tree)))
    return edited
