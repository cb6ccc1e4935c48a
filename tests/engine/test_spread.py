"""How sure an answer is. The figures are from an independent solver on the invented dirt car, rounded as printed."""

from dataclasses import replace

import numpy as np
import pytest

from golden.front_corners import corner
from studbook_service.engine.centers import roll_center
from studbook_service.engine.changes import Moves, apply
from studbook_service.engine.corner import FrontLinkage, stack
from studbook_service.engine.linkage import solve_angle, solve_travel
from studbook_service.engine.spread import COORDINATES, lean_spread, survey_spread
from studbook_service.engine.wheel import wheel


def held(trial: FrontLinkage) -> dict[str, np.ndarray]:
    """Change of camber with the lower arm, and so the spring on it, held."""
    return {"camber_deg": wheel(solve_angle(trial, angle_rad=0.0)).camber_deg + 4.0}


def surveyed(trial: FrontLinkage) -> dict[str, np.ndarray]:
    at = wheel(solve_travel(trial, travel_in=0.0))
    left = wheel(solve_travel(corner("dirt lf"), travel_in=0.0))
    return {
        "bump": at.bump_steer_deg_per_in,
        "gain": at.camber_gain_deg_per_in,
        "roll center": roll_center(left=left, right=at).height_in,
    }


@pytest.mark.parametrize(("joint", "low", "high"), [("upper", -0.83, -0.02), ("lower", -0.86, 0.10)])
def test_boss_leaning_ten_degrees_sideways(joint: str, low: float, high: float) -> None:
    """The reference leant the axis in the plane across the car; all round can only be as wide or wider."""
    longer = apply(corner("dirt rf"), Moves(**{f"{joint}_stud_in": 0.5}))
    found = lean_spread(longer, joint=joint, outcomes=held, lean_deg=10.0)["camber_deg"]  # type: ignore[arg-type]  # one of the two
    assert float(found.low) == pytest.approx(low, abs=0.02)
    assert float(found.high) == pytest.approx(high, abs=0.03)
    narrow = lean_spread(longer, joint=joint, outcomes=held)["camber_deg"]  # type: ignore[arg-type]  # the same
    assert float(found.low) < float(narrow.low) < float(held(longer)["camber_deg"]) < float(narrow.high)


def test_no_extra_length_has_no_spread() -> None:
    found = lean_spread(corner("dirt rf"), joint="upper", outcomes=held)["camber_deg"]
    assert float(found.low) == pytest.approx(0.0, abs=1e-9)
    assert float(found.high) == pytest.approx(0.0, abs=1e-9)


def test_a_sixteenth_at_the_rods_inner_end_is_what_bump_steer_hangs_on() -> None:
    """−0.026 → −0.063 deg per in."""
    found = survey_spread(corner("dirt rf"), outcomes=surveyed)["bump"]
    assert COORDINATES[int(found.coordinate)] in {"tie_inner.z", "tie_outer.z"}
    assert float(found.change) == pytest.approx(-0.063 + 0.026, abs=1e-3)


def test_a_sixteenth_at_both_upper_inner_heights() -> None:
    """0.03 in of roll center, 0.03 deg per in of gain."""
    rf, up = corner("dirt rf"), np.array([0.0, 0.0, 1 / 16])
    higher = replace(rf, upper_front=rf.upper_front + up, upper_rear=rf.upper_rear + up)
    new, old = surveyed(higher), surveyed(rf)
    assert abs(float(new["roll center"] - old["roll center"])) == pytest.approx(0.03, abs=5e-3)
    assert abs(float(new["gain"] - old["gain"])) == pytest.approx(0.03, abs=5e-3)


def test_largest_change_is_the_largest_of_all_trials_one_by_one() -> None:
    rf = apply(corner("dirt rf"), Moves(lower_stud_in=0.5))
    found, base = survey_spread(rf, outcomes=held)["camber_deg"], float(held(rf)["camber_deg"])
    changes = {}
    for index, name in enumerate(COORDINATES):
        point, axis = name.split(".")
        for sign in (1, -1):
            place = getattr(rf, point) + sign / 16 * np.eye(3)["xyz".index(axis)]
            changes[index, sign] = float(held(replace(rf, **{point: place}))["camber_deg"]) - base
    (index, _), largest = max(changes.items(), key=lambda item: abs(item[1]))
    assert int(found.coordinate) == index
    assert float(found.change) == pytest.approx(largest, abs=1e-9)


def test_both_sides_at_once() -> None:
    pair = apply(stack([corner("dirt lf"), corner("dirt rf")]), Moves(upper_stud_in=0.5))

    def gain(trial: FrontLinkage) -> dict[str, np.ndarray]:
        return {"gain": wheel(solve_travel(trial, travel_in=0.0)).camber_gain_deg_per_in}

    leant, taped = lean_spread(pair, joint="upper", outcomes=gain), survey_spread(pair, outcomes=gain)
    assert leant["gain"].low.shape == taped["gain"].change.shape == (2,)
    alone = survey_spread(apply(corner("dirt rf"), Moves(upper_stud_in=0.5)), outcomes=gain)["gain"]
    assert float(taped["gain"].change[1]) == pytest.approx(float(alone.change), abs=1e-12)


def test_refuses_another_joint() -> None:
    with pytest.raises(ValueError, match="joint"):
        lean_spread(corner("dirt rf"), joint="middle", outcomes=held)  # type: ignore[arg-type]  # wrong on purpose
