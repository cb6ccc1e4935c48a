"""The engine against an independent solver on random corners."""

import numpy as np

from golden.independent_axles import GroundUnder
from golden.independent_solvers import SPINDLE, Distances, Joints, random_axes, random_points
from studbook_service.engine.changes import MOVES, PIVOTS, Moves, apply
from studbook_service.engine.corner import corner_from_survey
from studbook_service.engine.linkage import Pose, reach, solve_travel
from studbook_service.engine.steering import rack
from studbook_service.engine.wheel import wheel

STUDS = (0.0, 0.1, 0.5, 1.0)  # extra lengths that can be bought: common practice, no source
RACKS = (0.0, 2.5, -2.5)
SIDES = (1, -1)
LITTLE = (0.0, 1.5, -1.5)
INSIDE = 0.98  # of the linkage's own reach, where it is shorter than the travels


def worst(
    solver: type[Distances | Joints], *, corners: int, travels: tuple[float, ...], racks: tuple[float, ...] = RACKS
) -> tuple[int, float, float]:
    """How many positions were compared, and the largest difference in inches and degrees.

    Left and right, each length of stud above and below, to the travels given or to the linkage's limit.
    """
    rng = np.random.default_rng(20)
    compared, worst_in, worst_deg = 0, 0.0, 0.0
    for number in range(corners):
        survey = random_points(rng, side=1 if number % 2 else -1)
        extra = STUDS[number % len(STUDS)]
        upper, lower = (extra, 0.0) if number // 4 % 2 else (0.0, extra)
        corner = apply(corner_from_survey(**survey), Moves(upper_stud_in=upper, lower_stud_in=lower))
        for shift in racks:
            ends = reach(corner, steer_in=rack(shift_in=shift))
            reached = np.clip(travels, INSIDE * float(ends.lowest_in), INSIDE * float(ends.highest_in))
            pose = solve_travel(corner, travel_in=reached, steer_in=rack(shift_in=shift))
            assert pose.closed.all()
            other = solver(survey, upper_stud_in=upper, lower_stud_in=lower)
            other.solve(0.0, 0.5 * shift)
            for index, travel in enumerate(reached):
                apart, turned = _difference(pose, index, *other.solve(float(travel), shift))
                worst_in, worst_deg, compared = max(worst_in, apart), max(worst_deg, turned), compared + 1
    return compared, worst_in, worst_deg


def worst_of_moves(solver: type[Distances | Joints], *, together: int) -> tuple[int, float, float]:
    """As `worst`, of every move alone on a left and a right corner and then of several at once; patches included.

    Studs, housings and the rod's bolt have measured axes of their own.
    """
    rng = np.random.default_rng(21)
    crews = [(name,) for name in MOVES for _ in SIDES]
    crews += [tuple(rng.choice(MOVES, size=5, replace=False)) for _ in range(together - 2)] + [MOVES] * 2
    compared, worst_in, worst_deg = 0, 0.0, 0.0
    for number, crew in enumerate(crews):
        survey = random_points(rng, side=SIDES[number % 2]) | random_axes(rng)
        amounts = {name: rng.uniform(-0.3, 0.3, 3 if name in PIVOTS else None) for name in crew}
        radius = survey["loaded_radius_in"] + amounts.get("loaded_radius_in", 0.0)
        corner = apply(corner_from_survey(**survey), Moves(**amounts))
        other = solver(survey, **amounts)
        for shift in (0.0, 1.0):
            pose = solve_travel(corner, travel_in=LITTLE, steer_in=rack(shift_in=shift))
            assert pose.closed.all()
            patch = wheel(pose).patch
            for index, travel in enumerate(LITTLE):
                points, spin = other.solve(travel, shift)
                apart, turned = _difference(pose, index, points, spin)
                ground = GroundUnder(0.0, 0.0, 0.0).patch(points["wheel_center"], spin, radius)
                apart = max(apart, float(np.linalg.norm(patch[:, index] - ground)))
                worst_in, worst_deg, compared = max(worst_in, apart), max(worst_deg, turned), compared + 1
    return compared, worst_in, worst_deg


def _difference(pose: Pose, index: int, points: dict[str, np.ndarray], spin: np.ndarray) -> tuple[float, float]:
    apart = max(float(np.linalg.norm(getattr(pose, name)[:, index] - points[name])) for name in SPINDLE)
    return apart, float(np.degrees(np.linalg.norm(np.cross(pose.spin[:, index], spin))))
