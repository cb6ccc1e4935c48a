"""Two independent ways to place a beam axle, and one to put a car on the ground.

SciPy on the rods' distances, with rotations of its own; Pinocchio on joints, with Jacobians of its own.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import pinocchio as pin
from scipy.optimize import least_squares
from scipy.spatial.transform import Rotation

from golden.independent_solvers import RODS, SPINDLE, Distances
from golden.rear_axles import survey

CAGES = ("birdcage_left", "birdcage_right")


def random_axle(rng: np.random.Generator, name: str) -> dict[str, Any]:
    """An invented axle as keyword arguments of `rear_axle_from_survey`: a demo axle, every point moved."""
    given = survey(name)
    rods = {
        rod: ends._replace(
            chassis=np.asarray(ends.chassis) + rng.uniform(-0.8, 0.8, 3),
            carrier=np.asarray(ends.carrier) + rng.uniform(-0.8, 0.8, 3),
        )
        for rod, ends in given["rods"].items()
    }
    wheels = {side: np.asarray(given[side]) + rng.uniform(-0.8, 0.8, 3) for side in ("wheel_left", "wheel_right")}
    return {**given, "rods": rods, **wheels}


class Refit(NamedTuple):
    """A rod moved: its chassis end, its rear end along the survey's axes, and how much longer it is made."""

    chassis_in: Any = (0.0, 0.0, 0.0)
    carrier_in: Any = (0.0, 0.0, 0.0)
    longer_in: float = 0.0


class BuiltAxle(NamedTuple):
    """An axle put together: its rods' ends and lengths, and its wheel centers."""

    chassis: np.ndarray
    carrier: np.ndarray
    length: np.ndarray
    left: np.ndarray
    right: np.ndarray


def built(given: dict[str, Any], refits: dict[str, Refit]) -> BuiltAxle:
    """A surveyed axle with rods moved: a moved end leaves a rod its length."""
    ends = [(np.asarray(rod.chassis, float), np.asarray(rod.carrier, float)) for rod in given["rods"].values()]
    moved = [refits.get(name, Refit()) for name in given["rods"]]
    return BuiltAxle(
        np.array([fixed + np.asarray(move.chassis_in) for (fixed, _), move in zip(ends, moved, strict=True)]),
        np.array([end + np.asarray(move.carrier_in) for (_, end), move in zip(ends, moved, strict=True)]),
        np.array(
            [np.linalg.norm(end - fixed) + move.longer_in for (fixed, end), move in zip(ends, moved, strict=True)]
        ),
        np.asarray(given["wheel_left"], float),
        np.asarray(given["wheel_right"], float),
    )


def roll_of(left: np.ndarray, right: np.ndarray) -> float:
    """Roll of an axle from its wheel centers, rad."""
    return float(np.arctan2(right[2] - left[2], left[1] - right[1]))


def random_refits(rng: np.random.Generator, name: str) -> list[dict[str, Refit]]:
    """Each rod longer, then in another hole at each end, one at a time; then every rod at once, five times."""
    small, rods = 0.3, list(survey(name)["rods"])
    alone = [
        {rod: move}
        for rod in rods
        for move in (
            Refit(longer_in=rng.uniform(-small, small)),
            Refit(chassis_in=rng.uniform(-small, small, 3)),
            Refit(carrier_in=rng.uniform(-small, small, 3)),
        )
    ]
    every = [
        {
            rod: Refit(rng.uniform(-small, small, 3), rng.uniform(-small, small, 3), 0.3 * rng.uniform(-1, 1))
            for rod in rods
        }
        for _ in range(5)
    ]
    return [*alone, *every]


class AxleDistances:
    """A free rigid axle, its birdcages as rotations about the line of its wheels, every rod a distance."""

    def __init__(self, given: dict[str, Any], refits: dict[str, Refit] | None = None) -> None:
        self.chassis, self.carrier, self.length, self.left, self.right = built(given, refits or {})
        self.radii = given["left_radius_in"], given["right_radius_in"]
        self.on = [rod.on for rod in given["rods"].values()]
        self.cages = [cage for cage in CAGES if cage in self.on]
        self.start = np.zeros(6 + len(self.cages))

    def place(self, x: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Rods' rear ends, left and right wheel center, at a turn about the left wheel, a shift, and cage angles."""
        ends = [self.carried(point, on, x) for point, on in zip(self.carrier, self.on, strict=True)]
        return np.array(ends), self.carried(self.left, "axle", x), self.carried(self.right, "axle", x)

    def carried(self, point: Any, on: str, x: np.ndarray) -> np.ndarray:
        """A point of the axle or a birdcage, as surveyed, where a place puts it."""
        axis = (self.left - self.right) / np.linalg.norm(self.left - self.right)
        arm = np.asarray(point, float) - self.left
        if on != "axle":
            arm = Rotation.from_rotvec(axis * x[6 + self.cages.index(on)]).apply(arm)
        return np.asarray(Rotation.from_rotvec(x[:3]).apply(arm) + self.left + x[3:6])

    def _rods(self, ends: np.ndarray) -> np.ndarray:
        return np.asarray(np.linalg.norm(ends - self.chassis, axis=1) - self.length)

    def solve(self, bump: float, roll: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """At a bump, in, and axle roll, rad; continues from the last place solved."""

        def residuals(x: np.ndarray) -> np.ndarray:
            ends, left, right = self.place(x)
            rise = (left[2] + right[2] - self.left[2] - self.right[2]) / 2 - bump
            lean = roll_of(left, right) - roll_of(self.left, self.right) - roll
            return np.array([*self._rods(ends), rise, 30 * lean])

        return self._found(residuals)

    def on_ground(self, under: GroundUnder) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """With both patches on the ground; chassis axes."""

        def residuals(x: np.ndarray) -> np.ndarray:
            ends, left, right = self.place(x)
            patches = [
                under.patch(center, left - right, radius)[2]
                for center, radius in zip((left, right), self.radii, strict=True)
            ]
            return np.array([*self._rods(ends), *patches])

        return self._found(residuals)

    def _found(self, residuals: Any) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        found = least_squares(residuals, self.start, method="lm", xtol=1e-15, ftol=1e-15, gtol=1e-15)
        assert np.abs(found.fun).max() < 1e-9
        self.start = found.x
        return self.place(found.x)


class AxleJoints:
    """A floating axle with a revolute joint for each birdcage, its rods closed by Newton's method."""

    def __init__(self, given: dict[str, Any], refits: dict[str, Refit] | None = None) -> None:
        self.chassis, self.carrier, self.length, self.left, self.right = built(given, refits or {})
        self.model = model = pin.Model()
        still = pin.Inertia.Zero()
        here = pin.SE3(np.eye(3), self.left)
        axle = model.addJoint(0, pin.JointModelFreeFlyer(), here, "axle")
        model.appendBodyToJoint(axle, still, pin.SE3.Identity())
        axis = (self.left - self.right) / np.linalg.norm(self.left - self.right)
        joints = {"axle": axle}
        for cage in CAGES:
            if any(rod.on == cage for rod in given["rods"].values()):
                joints[cage] = model.addJoint(axle, pin.JointModelRevoluteUnaligned(axis), pin.SE3.Identity(), cage)
                model.appendBodyToJoint(joints[cage], still, pin.SE3.Identity())

        def mark(name: str, joint: int, place: np.ndarray) -> int:
            offset = pin.SE3(np.eye(3), place - self.left)
            return int(model.addFrame(pin.Frame(name, joint, 0, offset, pin.FrameType.OP_FRAME)))

        self.ends = [
            mark(name, joints[rod.on], point)
            for (name, rod), point in zip(given["rods"].items(), self.carrier, strict=True)
        ]
        self.wheels = [mark("left", axle, self.left), mark("right", axle, self.right)]
        self.data = model.createData()
        self.q = pin.neutral(model)

    def solve(self, bump: float, roll: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """At a bump, in, and axle roll, rad; continues from the last place solved."""
        model, data = self.model, self.data
        for _ in range(60):
            pin.computeJointJacobians(model, data, self.q)
            pin.updateFramePlacements(model, data)
            ends = np.array([data.oMf[frame].translation for frame in self.ends])
            left, right = (data.oMf[frame].translation.copy() for frame in self.wheels)
            rods = ends - self.chassis
            line = left - right
            square = line[1] ** 2 + line[2] ** 2
            off = np.array(
                [
                    *(np.sum(rods**2, axis=1) - self.length**2),
                    (left[2] + right[2] - self.left[2] - self.right[2]) / 2 - bump,
                    roll_of(left, right) - roll_of(self.left, self.right) - roll,
                ]
            )
            if np.abs(off).max() < 1e-11:
                return ends, left, right
            jacobians = [self._jacobian(frame) for frame in self.wheels]
            across = jacobians[0] - jacobians[1]
            rows = [
                *(2 * rod @ self._jacobian(frame) for rod, frame in zip(rods, self.ends, strict=True)),
                (jacobians[0][2] + jacobians[1][2]) / 2,
                (line[2] * across[1] - line[1] * across[2]) / square,
            ]
            self.q = pin.integrate(model, self.q, np.linalg.lstsq(np.array(rows), -off, rcond=None)[0])
        raise AssertionError("the joints did not close")

    def _jacobian(self, frame: int) -> np.ndarray:
        return np.asarray(pin.getFrameJacobian(self.model, self.data, frame, pin.LOCAL_WORLD_ALIGNED)[:3])


class GroundUnder:
    """The chassis over the ground by SciPy's rotations: rolled about x, then pitched about y, then lifted."""

    def __init__(self, heave: float, roll_deg: float, pitch_deg: float) -> None:
        self.turn = Rotation.from_euler("xy", [roll_deg, pitch_deg], degrees=True)
        self.lift = np.array([0.0, 0.0, heave])

    def point(self, place: np.ndarray) -> np.ndarray:
        """A point of the chassis in ground axes."""
        return np.asarray(self.turn.apply(place) + self.lift)

    def patch(self, center: np.ndarray, axis: np.ndarray, radius: float) -> np.ndarray:
        """Lowest point of a wheel in ground axes: center and axis in chassis axes, the axis of any length."""
        normal = self.turn.apply(axis / np.linalg.norm(axis))
        down = np.array([0.0, 0.0, -1.0])
        down = down - (down @ normal) * normal
        patch: np.ndarray = self.point(center) + radius * down / np.linalg.norm(down)
        return patch


class CornerOnGround(Distances):
    """A front corner as distances, its patch on the ground instead of its wheel at a travel."""

    def on_ground(
        self, under: GroundUnder, shift: np.ndarray, radius: float
    ) -> tuple[dict[str, np.ndarray], np.ndarray]:
        """Points of the spindle and spin axis, chassis axes; continues from the last position solved."""

        def residuals(x: np.ndarray) -> np.ndarray:
            at = self._place(x)
            off = [
                np.linalg.norm(at[outer] - self.chassis[inner] - shift * (inner == "tie_inner")) - length
                for (outer, inner), length in zip(RODS, self.lengths, strict=True)
            ]
            axis = Rotation.from_rotvec(x[:3]).apply(self.spin)
            return np.array([*off, under.patch(at[SPINDLE[-1]], axis, radius)[2]])

        found = least_squares(residuals, self.start, method="lm", xtol=1e-15, ftol=1e-15, gtol=1e-15)
        assert np.abs(found.fun).max() < 1e-9
        self.start = found.x
        return self._place(found.x), np.asarray(Rotation.from_rotvec(found.x[:3]).apply(self.spin))
