"""The whole car on level ground: its four wheels at a heave, roll and pitch of the chassis."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import numpy.typing as npt

from studbook_service.engine.axle_pose import AxlePose, solve_axle_on_ground
from studbook_service.engine.beam import RIGID, BeamState
from studbook_service.engine.bounds import bounded, shaped
from studbook_service.engine.centers import RollCenterPoint, roll_center
from studbook_service.engine.changes import Moves, apply
from studbook_service.engine.ground import Ground, OverGround, ground
from studbook_service.engine.linkage import DIRECTIONS, POINTS, Pose, solve_to, solve_travel
from studbook_service.engine.rear_centers import RearWheels, rear_wheels
from studbook_service.engine.vectors import Array, cross
from studbook_service.engine.wheel import WheelAlignment, wheel

if TYPE_CHECKING:
    from studbook_service.engine.corner import FrontLinkage
    from studbook_service.engine.rear_axle import AxleLinkage

OFF_GROUND_IN = 0.02
"""A surveyed patch higher or lower than this is flagged."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Stance:
    """A car on the ground; NaN where a wheel cannot follow. Arrays of four are in the order of `WHEELS`.

    Attributes:
        left_front, right_front, axle: the poses of both front corners and of the axle, chassis axes.
        travel_in: rise of each wheel center against the chassis, along the chassis' z, (4, *batch).
        left_wheel, right_wheel: front wheels in ground axes, origin under the chassis origin: camber is camber to
            ground. Rates are per inch of wheel travel along the chassis' z.
        rear: the rear wheels in ground axes.
        camber_deg: camber to ground, (4, *batch).
        toe_deg: toe in the ground's plane, against the chassis' heading, (4, *batch).
        patch: contact patches in ground axes, in, (3, 4, *batch); z is 0.
        front_center, rear_center: kinematic roll centers, ground axes; the axle's from roll with its midpoint's height
            over the ground held.
        closed: whether all four wheels reach the ground, (*batch).
    """

    left_front: Pose
    right_front: Pose
    axle: AxlePose
    travel_in: Array
    left_wheel: WheelAlignment
    right_wheel: WheelAlignment
    rear: RearWheels
    camber_deg: Array
    toe_deg: Array
    patch: Array
    front_center: RollCenterPoint
    rear_center: RollCenterPoint
    closed: Array


def car_stance(
    *,
    left: FrontLinkage,
    right: FrontLinkage,
    axle: AxleLinkage,
    heave_in: npt.ArrayLike,
    roll_deg: npt.ArrayLike,
    pitch_deg: npt.ArrayLike,
    steer_in: npt.ArrayLike | None = None,
    radius_change_in: npt.ArrayLike = (0.0, 0.0, 0.0, 0.0),
    start: AxlePose | None = None,
) -> Stance:
    """The stance in which every patch, lowest on its tire toward the ground, lies on the ground; batch B, T and S.

    Args:
        left: left front corner, batch B.
        right: right front corner.
        axle: rear axle.
        heave_in: rise of the chassis origin, + up; batch T, as the angles. R = Ry(pitch)·Rx(roll) about the origin.
        roll_deg: + right side down.
        pitch_deg: + nose down.
        steer_in: displacement of both tie rods' inner ends, in, (3, *S), or of the left and the right one, (2, 3, *S).
        radius_change_in: of each loaded radius, −ΔF/k of the tire, in the order of `WHEELS`, (4, *batch).
        start: an axle pose near by to begin from.

    Raises:
        ValueError: naming the argument that is malformed.

    Source: rigid-body closure; agreement with an independent solver is in tests/engine.

    >>> from studbook_service.engine.examples import AXLE, CORNER, LEFT_CORNER
    >>> at = car_stance(left=LEFT_CORNER, right=CORNER, axle=AXLE, heave_in=-0.5, roll_deg=2, pitch_deg=0.3)
    >>> at.travel_in.round(2).tolist(), at.camber_deg.round(2).tolist()
    ([-0.62, 1.61, -1.12, 1.13], [1.45, -4.4, 0.53, -0.53])
    """
    under = ground(heave_in=heave_in, roll_deg=roll_deg, pitch_deg=pitch_deg)
    changes = shaped("radius_change_in", bounded("radius_change_in", radius_change_in, unit="in"), 4)
    steers = _steers(steer_in)
    poses = [
        _pose_on_ground(apply(corner, Moves(loaded_radius_in=change)), under, steer)
        for corner, change, steer in zip((left, right), changes, steers, strict=False)
    ]
    radii = axle.left_radius_in + changes[2], axle.right_radius_in + changes[3]
    rear_pose = solve_axle_on_ground(
        axle, up=under.up, heave_in=under.heave, left_radius_in=radii[0], right_radius_in=radii[1], start=start
    )
    return _stance(poses, rear_pose, under, radii)


def _steers(steer_in: npt.ArrayLike | None) -> tuple[Array | None, Array | None]:
    if steer_in is None:
        return None, None
    steer = bounded("steer_in", steer_in, unit="in")
    if steer.shape[:2] == (2, 3):
        return steer[0], steer[1]
    return shaped("steer_in", steer, 3), steer


def _pose_on_ground(corner: FrontLinkage, under: Ground, steer: Array | None) -> Pose:
    """The corner with its patch on the ground."""
    target = np.broadcast_to(-under.heave, np.broadcast_shapes(under.heave.shape, corner.radius_in.shape))
    return solve_to(corner, target, steer, OverGround(under.up, corner.radius_in))


def _stance(poses: list[Pose], rear_pose: AxlePose, under: Ground, radii: tuple[Array, Array]) -> Stance:
    with np.errstate(all="ignore"):
        left, right = (wheel(_corner_on_ground(pose, under)) for pose in poses)
        rear = rear_wheels(_axle_on_ground(rear_pose, under), left_radius_in=radii[0], right_radius_in=radii[1])
        surveyed = rear_pose.axle.wheel_left[2], rear_pose.axle.wheel_right[2]
        wheels = (left, right, *rear)
        return Stance(
            left_front=poses[0],
            right_front=poses[1],
            axle=rear_pose,
            travel_in=_joined(
                *(pose.travel_in for pose in poses), *(rear_pose.wheels[2, i] - surveyed[i] for i in (0, 1))
            ),
            left_wheel=left,
            right_wheel=right,
            rear=rear,
            camber_deg=_joined(*(each.camber_deg for each in wheels)),
            toe_deg=_joined(*(each.toe_deg for each in wheels)),
            patch=np.swapaxes(_joined(*(each.patch for each in wheels)), 0, 1),
            front_center=roll_center(left=left, right=right),
            rear_center=roll_center(left=rear.left, right=rear.right),
            closed=poses[0].closed & poses[1].closed & rear_pose.closed,
        )


def _joined(*arrays: Array) -> Array:
    return np.stack(np.broadcast_arrays(*arrays))


def _corner_on_ground(pose: Pose, under: Ground) -> Pose:
    """A corner's pose in ground axes."""
    turned: dict[str, Any] = {name: under.point(getattr(pose, name)) for name in POINTS}
    turned |= {name: under.direction(getattr(pose, name)) for name in DIRECTIONS}
    return replace(pose, **turned)


def _axle_on_ground(pose: AxlePose, under: Ground) -> AxlePose:
    """An axle's pose in ground axes, its motions per inch that the midpoint rises and per radian of roll there."""
    state = pose.state
    line = under.direction(state.left)
    place = BeamState(under.point(state.midpoint), under.direction(state.forward), line, state.turned)
    moving = np.concatenate([under.direction(pose.motions[:3]), under.direction(pose.motions[3:RIGID])])
    line_rate = cross(moving[3:], line[:, None])
    rise = moving[2]
    roll = (line[2] * line_rate[1] - line[1] * line_rate[2]) / (line[1] ** 2 + line[2] ** 2)
    whole = np.concatenate([moving, pose.motions[RIGID:]])
    determinant = rise[0] * roll[1] - rise[1] * roll[0]
    per_rise = (whole[:, 0] * roll[1] - whole[:, 1] * roll[0]) / determinant
    per_roll = (whole[:, 1] * rise[0] - whole[:, 0] * rise[1]) / determinant
    return replace(pose, state=place, motions=np.stack([per_rise, per_roll], axis=1))


class SurveyPatches(NamedTuple):
    """Contact patches of the survey, in the order of `WHEELS`.

    Attributes:
        height_in: over z = 0, (4, *batch).
        off: whether it is more than 0.02 in off the ground.
    """

    height_in: Array
    off: Array


def survey_patches(*, left: FrontLinkage, right: FrontLinkage, axle: AxleLinkage) -> SurveyPatches:
    """How far the patches of a survey lie off the ground.

    Args:
        left: left front corner; changes since its survey are left out.
        right: right front corner.
        axle: rear axle.

    Source: 0.02 in is common practice, no source.

    >>> from studbook_service.engine.examples import AXLE, CORNER, LEFT_CORNER
    >>> survey_patches(left=LEFT_CORNER, right=CORNER, axle=AXLE).off.tolist()
    [False, False, False, False]
    """
    fronts = [wheel(solve_travel(replace(corner, moves=Moves()), travel_in=0.0)).patch[2] for corner in (left, right)]
    line = axle.axes[1]
    level = np.sqrt(1 - line[2] ** 2)
    rears = axle.wheel_left[2] - axle.left_radius_in * level, axle.wheel_right[2] - axle.right_radius_in * level
    height = _joined(*fronts, *rears)
    return SurveyPatches(height, np.abs(height) > OFF_GROUND_IN)
