"""The readings of tape and angle gauge at a placed beam axle, and how fast they change."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from studbook_service.engine.beam import RIGID
from studbook_service.engine.vectors import Array, cross

if TYPE_CHECKING:
    from studbook_service.engine.axle_pose import AxlePose


@dataclass(frozen=True, eq=False, kw_only=True)
class AxleReadings:
    """An axle against its survey, chassis axes; every array is (*batch) unless noted, NaN where the rods do not close.

    Attributes:
        bump_in: rise of the midpoint of the wheel centers.
        roll_deg: change of atan2(z_R − z_L, y_L − y_R), + right wheel up.
        travel_in: rise of each wheel center, left then right, (2, *batch).
        lead_change_in: how far each wheel went forward, left then right, (2, *batch).
        wheelbase_in: from x = 0, the front wheel centers at the survey, back to each wheel center, (2, *batch).
        lateral_shift_in: how far the midpoint went to the left.
        steer_deg: axle steer, change of atan2(−a_x, a_y) of the axle's line a, + to the left.
        pinion_deg: pinion angle against the chassis, + nose up: atan2(d_z, d_x) of the direction d of the axle that
            pointed along the chassis at the survey.
        birdcage_indexing_deg: how far each birdcage turned on the axle, + nose up, in the order of `RearAxle.cages`,
            (cages, *batch).
        steer_per_bump_deg_per_in, pinion_per_bump_deg_per_in: change per inch of bump, roll held.
        steer_per_roll_deg_per_deg, pinion_per_roll_deg_per_deg: change per degree of axle roll, bump held.
    """

    bump_in: Array
    roll_deg: Array
    travel_in: Array
    lead_change_in: Array
    wheelbase_in: Array
    lateral_shift_in: Array
    steer_deg: Array
    pinion_deg: Array
    birdcage_indexing_deg: Array
    steer_per_bump_deg_per_in: Array
    steer_per_roll_deg_per_deg: Array
    pinion_per_bump_deg_per_in: Array
    pinion_per_roll_deg_per_deg: Array


def axle_readings(pose: AxlePose) -> AxleReadings:
    """The readings of an axle.

    Args:
        pose: any batch, chassis axes.

    Source: definitions; the rates are v' = ω × v of rigid-body kinematics.

    >>> from studbook_service.engine.axle_pose import solve_axle
    >>> from studbook_service.engine.examples import AXLE
    >>> at = axle_readings(solve_axle(AXLE, bump_in=-1.5, roll_deg=5))
    >>> lr = (at.travel_in[0], at.lead_change_in[0], at.birdcage_indexing_deg[0])
    >>> [round(float(x), 2) for x in (*lr, at.steer_deg, at.pinion_deg)]
    [-4.31, 1.39, -11.56, -1.53, 5.16]
    """
    axle, wheels, line = pose.axle, pose.wheels, pose.state.left
    surveyed = np.stack([axle.wheel_left, axle.wheel_right], axis=1)
    lead, _, travel = wheels - surveyed.reshape((3, 2) + (1,) * (wheels.ndim - 2))
    nose = pose.direction((1.0, 0.0, 0.0))
    turn = pose.motions[3:RIGID]
    line_rate, nose_rate = cross(turn, line[:, None]), cross(turn, nose[:, None])
    steer_rate = (line[0] * line_rate[1] - line[1] * line_rate[0]) / (line[0] ** 2 + line[1] ** 2)
    pinion_rate = (nose[0] * nose_rate[2] - nose[2] * nose_rate[0]) / (nose[0] ** 2 + nose[2] ** 2)
    return AxleReadings(
        bump_in=(travel[0] + travel[1]) / 2,
        roll_deg=np.degrees(_roll(line) - _roll(axle.beam.left)),
        travel_in=travel,
        lead_change_in=lead,
        wheelbase_in=-wheels[0],
        lateral_shift_in=pose.state.midpoint[1] - axle.beam.midpoint[1],
        steer_deg=np.degrees(_steer(line) - _steer(axle.beam.left)),
        pinion_deg=np.degrees(np.arctan2(nose[2], nose[0])),
        birdcage_indexing_deg=-np.degrees(pose.state.turned),
        steer_per_bump_deg_per_in=np.degrees(steer_rate[0]),
        steer_per_roll_deg_per_deg=steer_rate[1],
        pinion_per_bump_deg_per_in=np.degrees(pinion_rate[0]),
        pinion_per_roll_deg_per_deg=pinion_rate[1],
    )


def _roll(line: Array) -> Array:
    result: Array = np.arctan2(-line[2], line[1])
    return result


def _steer(line: Array) -> Array:
    result: Array = np.arctan2(-line[0], line[1])
    return result
