"""Documents for the card: a thin car whose every number is invented, and the demo's cars."""

import copy
import datetime as dt
from functools import cache
from typing import Any

from msgspec import UNSET

from studbook.history.canonical import Tree, canonical
from studbook.history.changes import FieldChange, apply
from studbook.history.leaves import steps
from studbook_service.demo.scenario import story, team

TODAY = dt.date(2026, 5, 2)


def stud(length_in: float, part: str) -> Tree:
    return {"length_in": length_in, "part": part, "preload_target_in_lb": 6, "nut_torque_ft_lb": 45, "nights": 9}


def front(name: str) -> Tree:
    return {
        "upper_stud": stud(1.2, f"u-{name}-1"),
        "lower_stud": stud(1.35, f"l-{name}-1"),
        "upper_housing": {"mount": "screwed", "ball_offset_in": 0.35},
        "lower_housing": {"mount": "pressed", "ball_offset_in": 0.4},
        "upper_shims": {"front_in": 0.25, "rear_in": 0.25, "adding_moves_pivot": "inboard"},
        "tie_rod": {"length_in": 15, "moves_per_turn_in": 0.111111, "outer_spacer_in": 0.25},
        "target": {"camber_deg": -4, "caster_deg": 5, "toe_deg": -0.12},
        **sprung(400),
    }


def sprung(rate: float) -> Tree:
    return {
        "spring": {
            "kind": "coil_over",
            "rate_lb_per_in": rate,
            "free_length_in": 12,
            "part": f"{rate:g} x 12",
            "perch": {"thread_showing_in": 2.5, "in_per_turn": 0.0625},
        },
        "shock": {"serial": "s-1", "gas_psi": 60, "compression": {"clicks": 8}, "rebound": {"clicks": 6}},
        "wheel": {"offset_in": 4, "nut_torque_ft_lb": 95},
        "tire": {"compound": "soft", "rollout_in": 87, "pressure_cold_psi": 10, "heat_cycles": 3},
    }


@cache
def car() -> Tree:
    balls = {"upper_ball_in": [-1.1, -24.4, 18.3], "lower_ball_in": [0, -26.1, 7.3]}
    rods = {
        "lateral_bar": {"chassis_in": [-100, 15, 14], "carrier_in": [-101, -5, 13], "on": "axle"},
        "left_upper": {"chassis_in": [-80, 18, 16], "carrier_in": [-95, 18, 15], "on": "birdcage_left"},
    }
    tree = {
        "survey": {"front": {"rf": {"points": balls}}, "rear": {"rods": rods}},
        "setup": {
            "front": {"lf": front("lf"), "rf": front("rf"), "bar": {"hooked": True, "preload_turns": 1}},
            "rear": {
                "lr": sprung(225),
                "rr": sprung(200),
                "rods": {
                    "lateral_bar": {"chassis_hole": "2 of 4"},
                    "left_upper": {"chassis_hole": "2 of 4", "angle_deg": 12},
                    "torque_link": {"kind": "pull", "spring_preload_in": 0.25},
                },
                "axle": {"pinion_deg": 4},
            },
            "drivetrain": {"spur_ratio": 1.25, "final_drive_ratio": 6.075},
            "brakes": {"front_share_percent": 58, "pads": "medium"},
            "ballast": {"left_rail": {"weight_lb": 38, "position_in": [-62, 17, 9], "fixing": "two bolts"}},
        },
    }
    made: Tree = canonical(tree)
    return made


def edited(edits: dict[str, Any], tree: Tree | None = None) -> Tree:
    """Set leaves by dotted path in the car; None takes one away."""
    changes = [FieldChange(steps(path), after=UNSET if value is None else value) for path, value in edits.items()]
    result: Tree = canonical(apply(changes, copy.deepcopy(tree or car())))
    return result


@cache
def demo_sheets() -> dict[str, list[Tree]]:
    """Give each of the demo's sheets as its documents, oldest first, and each car's sheets' last ones together."""
    found: dict[str, list[Tree]] = {}
    for each in team().cars:
        for step in story(each, today=TODAY):
            found.setdefault(f"{step.car}/{step.sheet}", []).append(step.document)
        found[each.slug] = [found[f"{each.slug}/{sheet}"][-1] for sheet in each.sheets]
    return found
