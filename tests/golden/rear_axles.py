"""The invented rear axles as the engine's axles, and cases with answers by hand."""

import json
from functools import cache
from pathlib import Path
from typing import Any

from studbook_service.engine.rear_axle import AxleLinkage, LinkRod, rear_axle_from_survey

REAR_AXLES: dict[str, Any] = json.loads((Path(__file__).parent / "rear_axles.json").read_text())["axles"]

# A lateral bar, ends (y, z): it crosses the center plane at 9.947 in, while its middle is at 10.000 in. Two conventions
# are in print; the crossing is the one used. A level bar's height is the roll center's: euromotor.org training slides,
# pres11 slide 5 (read); an inclined bar's crossing: from memory; the number is geometry by hand.
LATERAL_BAR: dict[str, Any] = {"chassis": (20.0, 11.0), "axle": (-18.0, 9.0), "crossing_in": 9.947368421052632}

# Barton and Fieldhouse, Automotive Chassis Engineering, Springer 2018, eq. 3.69 (p. 197): 100 % anti-squat needs
# e/d = h/l; lengths of problem 13677084 at transtutors.com (read, no answer printed).
ANTI_SQUAT = {"cg_height_in": 30.0, "wheelbase_in": 120.0, "slope_at_100_percent": 0.25}


def survey(name: str) -> dict[str, Any]:
    """The survey of an axle by name, "dirt" or "asphalt", as keyword arguments of `rear_axle_from_survey`."""
    given = REAR_AXLES[name]
    return {
        "rods": {rod: LinkRod(**ends) for rod, ends in given["rods"].items()},
        **{key: given[key] for key in ("wheel_left", "wheel_right", "left_radius_in", "right_radius_in")},
    }


@cache
def rear_axle(name: str) -> AxleLinkage:
    """An axle by name: "dirt" has a birdcage on each side, "asphalt" three links on the axle."""
    return rear_axle_from_survey(**survey(name))


WHEELS: dict[str, Any] = {
    "wheel_left": (-104.0, 31.0, 13.5),
    "wheel_right": (-104.0, -31.0, 13.5),
    "left_radius_in": 13.5,
    "right_radius_in": 13.5,
}
"""An axle square and level, 62 in wide."""


def plain(**rods: LinkRod) -> AxleLinkage:
    """That axle on level parallel links and a level bar, 11 in high, but for the rods given."""
    links = {
        "left_link": LinkRod((-84.0, 22.0, 9.0), (-104.0, 22.0, 9.0)),
        "right_link": LinkRod((-84.0, -22.0, 9.0), (-104.0, -22.0, 9.0)),
        "torque_link": LinkRod((-84.0, 0.0, 20.0), (-104.0, 0.0, 20.0)),
        "lateral_bar": LinkRod((-106.0, 20.0, 11.0), (-106.0, -18.0, 11.0)),
    }
    return rear_axle_from_survey(rods=links | rods, **WHEELS)
