"""Corners made at random, and two independent ways to solve them: SciPy on distances, Pinocchio on joints."""

from __future__ import annotations

from typing import Any

import numpy as np
import pinocchio as pin
from scipy.optimize import least_squares

Points = dict[str, np.ndarray]

SPINDLE = ("upper_ball", "lower_ball", "tie_outer", "wheel_center")
RODS = (
    ("lower_ball", "lower_front"),
    ("lower_ball", "lower_rear"),
    ("upper_ball", "upper_front"),
    ("upper_ball", "upper_rear"),
    ("tie_outer", "tie_inner"),
)
TYPICAL = {
    "upper_front": (4.5, 15.5, 15.8), "upper_rear": (-5.0, 15.7, 15.3), "upper_ball": (-0.7, 25.0, 17.8),
    "lower_front": (2.4, 10.0, 6.9), "lower_rear": (-11.6, 10.2, 6.6), "lower_ball": (0.1, 27.0, 7.0),
    "tie_inner": (5.3, 11.2, 8.1), "tie_outer": (5.8, 26.6, 8.7), "wheel_center": (0.0, 32.3, 13.3),
}  # fmt: skip


def random_points(rng: np.random.Generator, side: int) -> dict[str, Any]:
    """An invented corner as keyword arguments of `corner_from_survey`: the typical one, every coordinate moved."""
    points: dict[str, Any] = {
        name: (np.array(place) + rng.uniform(-0.8, 0.8, 3)) * (1, side, 1) for name, place in TYPICAL.items()
    }
    return {
        "side": side,
        **points,
        "camber_deg": rng.uniform(-5, 5),
        "toe_deg": rng.uniform(-0.5, 0.5),
        "loaded_radius_in": rng.uniform(12.5, 14.0),
    }


def spin_axis(survey: dict[str, Any]) -> np.ndarray:
    """The wheel's outboard axis: camber leans it about x, then toe turns it about z."""
    camber, toe, side = np.radians(survey["camber_deg"]), np.radians(survey["toe_deg"]), survey["side"]
    level = np.array([0.0, side * np.cos(camber), -np.sin(camber)])
    turn = -side * toe
    turned = [[np.cos(turn), -np.sin(turn), 0.0], [np.sin(turn), np.cos(turn), 0.0], [0.0, 0.0, 1.0]]
    return np.asarray(np.array(turned) @ level)


def longer_studs(survey: dict[str, Any], upper_in: float, lower_in: float) -> dict[str, Any]:
    """The survey with the balls moved in the spindle along their line; arms and rod keep the surveyed lengths."""
    line = survey["upper_ball"] - survey["lower_ball"]
    line = line / np.linalg.norm(line)
    return {
        **survey,
        "upper_ball": survey["upper_ball"] + upper_in * line,
        "lower_ball": survey["lower_ball"] - lower_in * line,
    }


class Distances:
    """A corner as six distances of a free rigid spindle, solved by SciPy's Levenberg-Marquardt."""

    def __init__(self, survey: dict[str, Any], spindle: dict[str, Any] | None = None) -> None:
        spindle = spindle or survey
        self.body = {name: np.asarray(spindle[name], float) for name in SPINDLE}
        self.chassis = {inner: np.asarray(survey[inner], float) for _, inner in RODS}
        self.lengths = [float(np.linalg.norm(survey[outer] - survey[inner])) for outer, inner in RODS]
        self.height = float(survey["wheel_center"][2])
        self.spin = spin_axis(survey)
        self.start = np.zeros(6)

    def solve(self, travel: float, rack: float) -> tuple[Points, np.ndarray]:
        """Points of the spindle and spin axis at a travel and rack; continues from the last position solved."""
        shift = np.array([0.0, rack, 0.0])

        def residuals(x: np.ndarray) -> np.ndarray:
            at = self._place(x)
            off = [
                np.linalg.norm(at[outer] - self.chassis[inner] - shift * (inner == "tie_inner")) - length
                for (outer, inner), length in zip(RODS, self.lengths, strict=True)
            ]
            return np.array([*off, at["wheel_center"][2] - self.height - travel])

        found = least_squares(residuals, self.start, method="lm", xtol=1e-15, ftol=1e-15, gtol=1e-15)
        assert np.abs(found.fun).max() < 1e-9
        self.start = found.x
        return self._place(found.x), pin.exp3(found.x[:3]) @ self.spin

    def _place(self, x: np.ndarray) -> Points:
        turn, center = pin.exp3(x[:3]), self.body["wheel_center"]
        return {name: turn @ (point - center) + center + x[3:] for name, point in self.body.items()}


class Joints:
    """A corner as a tree of joints with its loops closed by Newton's method on the library's own Jacobians.

    Lower arm (revolute) carrying the spindle (spherical); upper arm (revolute). Closed by: upper ball of the arm on
    that of the spindle (3), the tie rod's length (1), the wheel's height (1): five equations, five velocities.
    """

    def __init__(self, survey: dict[str, Any], spindle: dict[str, Any] | None = None) -> None:
        spindle = spindle or survey
        self.rod = float(np.linalg.norm(survey["tie_outer"] - survey["tie_inner"]))
        self.tie_inner = np.asarray(survey["tie_inner"], float)
        self.height = float(survey["wheel_center"][2])
        self.model = model = pin.Model()
        still = pin.Inertia.Zero()

        def revolute(name: str, front: np.ndarray, rear: np.ndarray) -> int:
            axis = (rear - front) / np.linalg.norm(rear - front)
            joint = int(model.addJoint(0, pin.JointModelRevoluteUnaligned(axis), pin.SE3(np.eye(3), front), name))
            model.appendBodyToJoint(joint, still, pin.SE3.Identity())
            return joint

        def mark(name: str, joint: int, place: np.ndarray) -> int:
            return int(model.addFrame(pin.Frame(name, joint, 0, pin.SE3(np.eye(3), place), pin.FrameType.OP_FRAME)))

        lower = revolute("lower", survey["lower_front"], survey["lower_rear"])
        upper = revolute("upper", survey["upper_front"], survey["upper_rear"])
        ball = pin.SE3(np.eye(3), survey["lower_ball"] - survey["lower_front"])
        body = model.addJoint(lower, pin.JointModelSpherical(), ball, "spindle")
        model.appendBodyToJoint(body, still, pin.SE3.Identity())
        self.arm_ball = mark("arm_ball", upper, survey["upper_ball"] - survey["upper_front"])
        self.marks = {name: mark(name, body, spindle[name] - spindle["lower_ball"]) for name in SPINDLE}
        self.spin = spin_axis(survey)
        self.body = body
        self.data = model.createData()
        self.q = pin.neutral(model)

    def solve(self, travel: float, rack: float) -> tuple[Points, np.ndarray]:
        """Points of the spindle and spin axis at a travel and rack; continues from the last position solved."""
        inner = self.tie_inner + np.array([0.0, rack, 0.0])
        model, data = self.model, self.data
        for _ in range(60):
            pin.computeJointJacobians(model, data, self.q)
            pin.updateFramePlacements(model, data)
            place = {name: data.oMf[frame].translation for name, frame in self.marks.items()}
            jacobian = {name: self._jacobian(frame) for name, frame in self.marks.items()}
            rod = place["tie_outer"] - inner
            off = np.array(
                [
                    *(place["upper_ball"] - data.oMf[self.arm_ball].translation),
                    rod @ rod - self.rod**2,
                    place["wheel_center"][2] - self.height - travel,
                ]
            )
            if np.abs(off).max() < 1e-11:
                return {name: np.array(at) for name, at in place.items()}, data.oMi[self.body].rotation @ self.spin
            rows = np.vstack(
                [
                    jacobian["upper_ball"] - self._jacobian(self.arm_ball),
                    2 * rod @ jacobian["tie_outer"],
                    jacobian["wheel_center"][2],
                ]
            )
            step = np.linalg.solve(rows, -off)
            step *= min(1.0, 0.2 / np.abs(step).max())
            self.q = pin.integrate(model, self.q, step)
        raise AssertionError(f"the loop did not close at travel {travel}, rack {rack}")

    def _jacobian(self, frame: int) -> np.ndarray:
        whole = pin.getFrameJacobian(self.model, self.data, frame, pin.ReferenceFrame.LOCAL_WORLD_ALIGNED)
        return np.array(whole[:3])
