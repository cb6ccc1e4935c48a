"""The beam axle and the attitude agree with SciPy's general solver and with a rigid-body library.

Neither shares the engine's equations: rotations, Jacobians and the search for the place are the libraries' own.
"""

import numpy as np
import pytest

from golden.independent_axles import AxleDistances, AxleJoints, CornerOnGround, GroundUnder, random_axle
from golden.independent_solvers import random_points
from studbook_service.engine.attitude import car_stance
from studbook_service.engine.axle_pose import solve_axle
from studbook_service.engine.corner import corner_from_survey
from studbook_service.engine.rear_axle import rear_axle_from_survey
from studbook_service.engine.steering import rack

PLACES = ((0.0, 0.0), (-1.5, 5.0), (2.0, -3.0), (-3.5, 1.0), (1.0, 6.0))
STANCES = ((-0.5, 2.0, 0.4), (-1.5, 4.5, -0.8), (0.5, -2.0, 1.0))
CLOSE_IN = 1e-8


@pytest.mark.parametrize("solver", [AxleDistances, AxleJoints])
@pytest.mark.parametrize("name", ["dirt", "asphalt"])
def test_axles_agree(name: str, solver: type[AxleDistances | AxleJoints]) -> None:
    rng = np.random.default_rng(31)
    bumps, rolls = np.array(PLACES).T
    for _ in range(15):
        given = random_axle(rng, name)
        axle, other = rear_axle_from_survey(**given), solver(given)
        pose = solve_axle(axle, bump_in=bumps, roll_deg=rolls)
        assert pose.closed.all()
        ends = [pose.rod_ends(rod)[1] for rod in axle.names]
        for index, (bump, roll) in enumerate(PLACES):
            theirs, left, right = other.solve(bump, np.radians(roll))
            for ours, point in zip(ends, theirs, strict=True):
                assert np.linalg.norm(ours[:, index] - point) < CLOSE_IN
            assert np.linalg.norm(pose.wheels[:, 0, index] - left) < CLOSE_IN
            assert np.linalg.norm(pose.wheels[:, 1, index] - right) < CLOSE_IN


def test_cars_on_the_ground_agree() -> None:
    rng = np.random.default_rng(32)
    for number in range(8):
        fronts = [random_points(rng, side) for side in (1, -1)]
        rear = random_axle(rng, ("dirt", "asphalt")[number % 2])
        changes = rng.uniform(-0.2, 0.2, 4)
        shift = rng.uniform(-1.0, 1.0)
        heave, roll, pitch = np.array(STANCES).T
        at = car_stance(
            left=corner_from_survey(**fronts[0]),
            right=corner_from_survey(**fronts[1]),
            axle=rear_axle_from_survey(**rear),
            heave_in=heave, roll_deg=roll, pitch_deg=pitch,
            steer_in=rack(shift_in=shift),
            radius_change_in=changes[:, None],
        )  # fmt: skip
        assert at.closed.all()
        others = [CornerOnGround(front) for front in fronts]
        for each in ("left_radius_in", "right_radius_in"):
            rear[each] += changes[2 if each.startswith("left") else 3]
        axle = AxleDistances(rear)
        for index, stance in enumerate(STANCES):
            under = GroundUnder(*stance)
            for wheel, (other, front) in enumerate(zip(others, fronts, strict=True)):
                radius = front["loaded_radius_in"] + changes[wheel]
                points, spin = other.on_ground(under, np.array([0.0, shift, 0.0]), radius)
                center = points["wheel_center"]
                assert abs(center[2] - front["wheel_center"][2] - at.travel_in[wheel, index]) < CLOSE_IN
                assert np.abs(under.patch(center, spin, radius) - at.patch[:, wheel, index]).max() < CLOSE_IN
                level = under.turn.apply(spin)
                assert np.degrees(-np.arcsin(level[2])) == pytest.approx(at.camber_deg[wheel, index], abs=1e-8)
                toe = np.degrees(np.arctan2(level[0], front["side"] * level[1]))
                assert toe == pytest.approx(at.toe_deg[wheel, index], abs=1e-8)
            _, *wheels = axle.on_ground(under)
            for wheel, center in zip((2, 3), wheels, strict=True):
                patch = under.patch(center, wheels[0] - wheels[1], axle.radii[wheel - 2])
                assert np.abs(patch - at.patch[:, wheel, index]).max() < CLOSE_IN
                surveyed = rear["wheel_left" if wheel == 2 else "wheel_right"][2]
                assert abs(center[2] - surveyed - at.travel_in[wheel, index]) < CLOSE_IN
