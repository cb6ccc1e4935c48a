"""Corners made at random, and two independent ways to solve them: SciPy on distances, Pinocchio on joints."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
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


def random_axes(rng: np.random.Generator) -> dict[str, np.ndarray]:
    """Measured axes of studs, housings and the rod's outer bolt, each leaning its own way and of its own length."""
    upward = {"upper_stud": 1, "lower_stud": -1, "upper_housing": 1, "lower_housing": -1, "outer": 1}
    return {
        f"{name}_axis": rng.uniform(0.5, 2) * (np.array([0.0, 0.0, way]) + rng.uniform(-0.3, 0.3, 3) * (1, 1, 0))
        for name, way in upward.items()
    }


class BuiltCorner(NamedTuple):
    """A corner put together: its points on the chassis, the distances that arms and rod hold, and the rigid spindle."""

    chassis: Points
    lengths: tuple[float, ...]  # in the order of RODS
    spindle: Points


def built(survey: dict[str, Any], **moves: Any) -> BuiltCorner:
    """A surveyed corner with moves made, by the names of the engine's `Moves`, each from its own definition."""

    def along(axis: str, default: npt.ArrayLike) -> np.ndarray:
        direction = np.asarray(survey.get(axis, default), float)
        return np.asarray(direction / np.linalg.norm(direction))

    at = {name: np.asarray(survey[name], float) for name in TYPICAL}
    line = at["upper_ball"] - at["lower_ball"]
    studs = {"upper": along("upper_stud_axis", line), "lower": along("lower_stud_axis", -line)}
    spindle = {name: at[name] for name in SPINDLE}
    held = dict(at)
    for arm, stud in studs.items():
        ball = f"{arm}_ball"
        spindle[ball] = at[ball] + moves.get(f"{arm}_stud_in", 0) * stud
        held[ball] = at[ball] + moves.get(f"{arm}_housing_in", 0) * along(f"{arm}_housing_axis", stud)
    spindle["tie_outer"] = at["tie_outer"] + moves.get("outer_spacer_in", 0) * along("outer_axis", (0, 0, 1))
    spindle["wheel_center"] = at["wheel_center"] + moves.get("wheel_offset_in", 0) * spin_axis(survey)
    shaft = at["upper_rear"] - at["upper_front"]
    reach = held["upper_ball"] - at["upper_front"]
    reach = reach - (reach @ shaft) / (shaft @ shaft) * shaft
    held["upper_ball"] = held["upper_ball"] + moves.get("upper_arm_in", 0) * reach / np.linalg.norm(reach)
    lengths = [float(np.linalg.norm(held[outer] - held[inner])) for outer, inner in RODS]
    lengths[-1] += moves.get("tie_rod_in", 0)
    chassis = {inner: at[inner] + np.asarray(moves.get(f"{inner}_in", (0, 0, 0)), float) for _, inner in RODS}
    return BuiltCorner(chassis, tuple(lengths), spindle)


class Distances:
    """A corner as six distances of a free rigid spindle, solved by SciPy's Levenberg-Marquardt."""

    def __init__(self, survey: dict[str, Any], **moves: Any) -> None:
        self.chassis, self.lengths, self.body = built(survey, **moves)
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


def _arm(survey: dict[str, Any], chassis: Points, lengths: tuple[float, ...], which: str) -> np.ndarray:
    """The ball of an arm on its pivots, toward where the ball was surveyed."""
    near = np.asarray(survey[f"{which}_ball"], float)
    pivots = [chassis[f"{which}_{end}"] for end in ("front", "rear")]
    legs = [length for (outer, _), length in zip(RODS, lengths, strict=True) if outer == f"{which}_ball"]
    flat = np.cross(pivots[1] - pivots[0], near - pivots[0])

    def residuals(point: np.ndarray) -> np.ndarray:
        off = [np.linalg.norm(point - pivot) - leg for pivot, leg in zip(pivots, legs, strict=True)]
        return np.array([*off, flat @ (point - pivots[0]) / np.linalg.norm(flat)])

    found = least_squares(residuals, near, method="lm", xtol=1e-15, ftol=1e-15, gtol=1e-15)
    assert np.abs(found.fun).max() < 1e-9
    return np.asarray(found.x)


class Joints:
    """A corner as a tree of joints with its loops closed by Newton's method on the library's own Jacobians.

    Lower arm (revolute) carrying the spindle (spherical); upper arm (revolute). Closed by: upper ball of the arm on
    that of the spindle (3), the tie rod's length (1), the wheel's height (1): five equations, five velocities.
    """

    def __init__(self, survey: dict[str, Any], **moves: Any) -> None:
        chassis, lengths, spindle = built(survey, **moves)
        self.rod, self.tie_inner = lengths[-1], chassis["tie_inner"]
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

        lower = revolute("lower", chassis["lower_front"], chassis["lower_rear"])
        upper = revolute("upper", chassis["upper_front"], chassis["upper_rear"])
        low, high = (_arm(survey, chassis, lengths, which) for which in ("lower", "upper"))
        ball = pin.SE3(np.eye(3), low - chassis["lower_front"])
        body = model.addJoint(lower, pin.JointModelSpherical(), ball, "spindle")
        model.appendBodyToJoint(body, still, pin.SE3.Identity())
        self.arm_ball = mark("arm_ball", upper, high - chassis["upper_front"])
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
