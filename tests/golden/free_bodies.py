"""Other ways to the wheel loads: the least of an energy written out in full, and free bodies cut apart by hand."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.interpolate import make_interp_spline
from scipy.optimize import minimize, root

from studbook_service.engine.axle_springs import beam_axle, independent_wheels, upright_springs
from studbook_service.engine.car import FourWheelCar, car
from studbook_service.engine.cornering import Masses, Thrust
from studbook_service.engine.links import Links, n_lines, roll_center_links
from studbook_service.engine.one_sided import bar, bump_stop, droop_limit, wheel_row

if TYPE_CHECKING:
    from collections.abc import Callable

    from studbook_service.engine.track import InPlane


@dataclass(frozen=True)
class RandomCar:
    """An invented car in the plain numbers that both sides are made from."""

    x: Any
    y: Any
    loads: Any
    front: Any
    rear: Any
    rear_y: Any
    tires: Any
    bar_rate: float
    bar_preload: float
    stop_gap: float
    stop_travel: Any
    stop_force: Any
    chain_in: float
    slopes: Any
    roll_center: float
    shift: float
    drive_slopes: Any
    cg_height: float
    unsprung: Any
    unsprung_height: Any

    def engine(self) -> FourWheelCar:
        """The same car as the engine takes it."""
        return car(
            x_in=self.x,
            y_in=self.y,
            loads_lb=self.loads,
            front=independent_wheels(left_lb_per_in=self.front[0], right_lb_per_in=self.front[1]),
            rear=beam_axle(
                per_wheel=upright_springs(spring_y_in=self.rear_y, wheel_y_in=self.y[2:]), spring_lb_per_in=self.rear
            ),
            tires_lb_per_in=self.tires,
            bars=[bar(axle="front", rate_lb_per_in=self.bar_rate, preload_in=self.bar_preload)],
            stops=[
                bump_stop(
                    name="rf bump",
                    per_wheel=wheel_row("rf", 0.64),
                    gap_in=self.stop_gap,
                    travel_in=self.stop_travel,
                    force_lb=self.stop_force,
                ),
                droop_limit(name="lr chain", wheel="lr", travel_in=self.chain_in, rate_lb_per_in=CHAIN),
            ],
        )

    def links(self) -> Links:
        """Its links."""
        return Links(
            front=n_lines(left_slope=self.slopes[0], right_slope=self.slopes[1]),
            rear=roll_center_links(
                height_in=self.roll_center, track_in=self.y[2] - self.y[3], shift_per_bump=self.shift
            ),
            drive_slopes=self.drive_slopes,
        )

    def masses(self) -> Masses:
        """Its masses."""
        return Masses(cg_height_in=self.cg_height, unsprung_lb=self.unsprung, unsprung_height_in=self.unsprung_height)


CHAIN = 5000.0


def random_car(rng: np.random.Generator) -> RandomCar:
    """An invented car, every number somewhere in its usual range."""
    u = rng.uniform
    return RandomCar(
        x=np.array([u(-1, 1), u(-1, 1), *[u(-107, -100)] * 2]),
        y=np.array([u(30, 34), u(-35, -31), u(29, 33), u(-35, -31)]),
        loads=u(480, 760, 4),
        front=u(90, 260, 2),
        rear=u(150, 300, 2),
        rear_y=np.array([u(17, 23), u(-24, -18)]),
        tires=u(700, 1400, 4),
        bar_rate=u(0, 400),
        bar_preload=u(-0.3, 0.3),
        stop_gap=u(0.1, 0.6),
        stop_travel=np.array([0, 0.3, 0.8, 1.2]),
        stop_force=np.cumsum([0, u(20, 80), u(80, 300), u(50, 500)]),
        chain_in=u(0.3, 1.5),
        slopes=np.array([u(-0.2, 0.05), u(0.02, 0.25)]),
        roll_center=u(7, 13),
        shift=u(-0.15, 0.15),
        drive_slopes=u(0.0, 0.8, 2),
        cg_height=u(14, 20),
        unsprung=u(60, 130, 4),
        unsprung_height=u(12, 14.5, 4),
    )


class Energy:
    """The energy of a car's springs, bar, stop, chain, tires and weight, every one written out on its own."""

    def __init__(self, given: RandomCar, *, perch: Any, stud: Any, radius: Any) -> None:
        self.given, self.perch, self.stud, self.radius = given, perch, stud, radius
        self.stop = make_interp_spline(given.stop_travel, given.stop_force, k=1).antiderivative()
        self.plane = np.stack([given.x, given.y, np.zeros(4)])
        across = np.interp(given.rear_y, given.y[[3, 2]], given.x[[3, 2]])
        self.rear_places = np.stack([across, given.rear_y, np.zeros(2)])
        self.share = (given.rear_y - given.y[3]) / (given.y[2] - given.y[3])
        weighted = np.array([self.share, 1 - self.share])
        self.rear_static = np.linalg.solve(weighted, given.loads[2:])

    def pressed(self, wheels: Any) -> Any:
        """What the tires carry, the wheels risen so far."""
        return np.maximum(self.given.loads + self.given.tires * (self.radius - wheels), 0)

    def __call__(self, chassis: Any, over_springs: Any, wheels: Any) -> float:
        """Its sum: the chassis risen so far over the wheels and over the rear springs, and the wheels."""
        given, share, perch, stud = self.given, self.share, self.perch, self.stud
        arm = wheels - chassis + stud
        total = float(given.loads @ chassis)  # the weight, at the wheels that carry it
        total += float(
            sum(
                load * z + k * (z + p) ** 2 / 2
                for load, k, z, p in zip(given.loads[:2], given.front, arm[:2], perch[:2], strict=True)
            )
        )
        axle = share * (wheels[2] + stud[2]) + (1 - share) * (wheels[3] + stud[3]) - over_springs
        collar = share * perch[2] + (1 - share) * perch[3]
        total += float(np.sum(self.rear_static * axle + given.rear * (axle + collar) ** 2 / 2))
        total += given.bar_rate * (arm[1] - arm[0]) ** 2 / 2
        total += float(self.stop(max(0.64 * arm[1] - given.stop_gap, 0)))
        total += CHAIN * max(-arm[2] - given.chain_in, 0) ** 2 / 2
        return float(total + np.sum(self.pressed(wheels) ** 2 / given.tires) / 2)


def _least(energy: Callable[[Any], float], count: int) -> Any:
    options = {"gtol": 1e-4, "maxiter": 2000}
    return minimize(energy, np.zeros(count), method="BFGS", jac="3-point", options=options).x


def scale_loads(given: RandomCar, *, perch: Any, stud: Any, radius: Any) -> tuple[Any, Any]:
    """Loads and wheel-side chassis rises of least energy, rotations whole."""
    energy = Energy(given, perch=perch, stud=stud, radius=radius)

    def places(v: Any) -> tuple[Any, Any, Any]:
        heave, roll, pitch = v[0], v[1] / 40, v[2] / 60
        turn = np.array(
            [
                [np.cos(pitch), 0, np.sin(pitch)],
                [0, 1, 0],
                [-np.sin(pitch), 0, np.cos(pitch)],
            ]
        ) @ np.array([[1, 0, 0], [0, np.cos(roll), -np.sin(roll)], [0, np.sin(roll), np.cos(roll)]])
        return (turn @ energy.plane)[2] + heave, (turn @ energy.rear_places)[2] + heave, v[3:]

    chassis, _, wheels = places(_least(lambda v: energy(*places(v)), 7))
    return energy.pressed(wheels), chassis


def held_loads(given: RandomCar, *, attitude: Any, perch: Any, stud: Any) -> tuple[Any, Any]:
    """Loads and rises of the wheels of least energy, the chassis held at a heave, roll and pitch (in, rad, rad)."""
    energy = Energy(given, perch=perch, stud=stud, radius=np.zeros(4))
    heave, roll, pitch = attitude
    chassis, over_springs = (heave + roll * at[1] - pitch * at[0] for at in (energy.plane, energy.rear_places))
    wheels = _least(lambda v: energy(chassis, over_springs, v), 4)
    return energy.pressed(wheels), wheels


def free_bodies(v: Any, given: RandomCar, track: InPlane, thrust: Thrust) -> tuple[Any, Any]:
    """What is left over on the chassis, the front wheels and the rear axle, each cut free; and the loads."""
    (heave, roll, pitch), wheels = v[:3] / (1, 40, 60), v[3:]
    n, total = float(np.asarray(track.normal_g)), given.loads.sum()
    yaw, drive_all = np.radians(float(np.asarray(thrust.yaw_deg))), float(np.asarray(thrust.drive_lb))
    side = (total * float(np.asarray(track.lateral_g)) - drive_all * np.sin(yaw)) / np.cos(yaw)
    a = side / total
    share = float(np.asarray(thrust.left_share))
    drive = drive_all * np.array([0, 0, share, 1 - share])
    x, y = given.x, given.y
    loads = np.maximum(given.loads - given.tires * wheels, 0)
    z = wheels - (heave + roll * y - pitch * x)

    # side forces: two unknown axle forces from force and yaw moment about the center of gravity
    parts = np.concatenate([loads[:2] / loads[:2].sum(), loads[2:] / loads[2:].sum()])
    cg_x, cg_y = given.loads @ x / total, given.loads @ y / total
    matrix = [[1, 1], [parts[:2] @ (x[:2] - cg_x), parts[2:] @ (x[2:] - cg_x)]]
    front, rear = np.linalg.solve(matrix, [side, drive @ (y - cg_y)])
    sides = parts * np.array([front, front, rear, rear])
    held = sides - given.unsprung * a

    # springs, up on the chassis
    further = given.front * z[:2]
    twist = given.bar_rate * (z[1] - z[0])
    press = 0.64 * z[1] - given.stop_gap
    last = (given.stop_force[-1] - given.stop_force[-2]) / (given.stop_travel[-1] - given.stop_travel[-2])
    stop = np.interp(press, given.stop_travel, given.stop_force) + max(press - given.stop_travel[-1], 0) * last
    springs_front = given.loads[:2] - given.unsprung[:2] + further + np.array([-twist, twist + 0.64 * stop])
    lever = (given.rear_y - y[3]) / (y[2] - y[3])
    squeeze = lever * z[2] + (1 - lever) * z[3]
    sprung = given.loads - given.unsprung
    rear_static = np.linalg.solve(np.array([lever, 1 - lever]), sprung[2:])
    springs_rear = rear_static + given.rear * squeeze
    chain = CHAIN * max(-z[2] - given.chain_in, 0)  # pulls the chassis down at the left rear wheel

    # the sprung weight and where it hangs
    weight = sprung.sum()
    height = (total * given.cg_height - given.unsprung @ given.unsprung_height) / weight
    fore = sprung[:2].sum() / weight
    patch_front = parts[:2] @ (-given.slopes * z[:2])
    patch_rear = given.roll_center * (z[2] - z[3]) / (y[2] - y[3]) + given.shift * (z[2] + z[3]) / 2
    slide = -(fore * patch_front + (1 - fore) * patch_rear)
    at_x, at_y = sprung @ x / weight, sprung @ y / weight + slide - height * roll

    rear_held, middle = held[2:].sum(), (y[2] + y[3]) / 2
    thrust_up = drive[2:] * given.drive_slopes
    spring_x = x[3] + lever * (x[2] - x[3])
    up = [
        *zip(x[:2], y[:2], springs_front + given.slopes * held[:2], strict=True),
        *zip(spring_x, given.rear_y, springs_rear, strict=True),
        *zip(x[2:], y[2:], thrust_up, strict=True),
        ((x[2] + x[3]) / 2, middle, -rear_held * given.shift),
        (x[2], y[2], -chain),
        (at_x, at_y, -weight * n),
    ]
    chassis = [
        sum(f for _, _, f in up),
        sum(py * f for _, py, f in up) - given.roll_center * rear_held + height * weight * a,
        -sum(px * f for px, _, f in up) - drive_all * given.cg_height,
    ]
    couple = a * given.unsprung * given.unsprung_height
    pair = (couple[0] + couple[1]) / (y[0] - y[1])
    chassis[2] += pair * (x[0] - x[1])  # the links hold the pair of wheels that are not side by side
    fronts = loads[:2] - given.unsprung[:2] * n - springs_front - given.slopes * held[:2] + np.array([pair, -pair])
    down = [
        *zip(y[2:], loads[2:] - given.unsprung[2:] * n - thrust_up, strict=True),
        *zip(given.rear_y, -springs_rear, strict=True),
        (middle, rear_held * given.shift),
        (y[2], chain),
    ]
    axle = [
        sum(f for _, f in down),
        sum(py * f for py, f in down) + given.roll_center * rear_held + couple[2] + couple[3],
    ]
    left = np.array([chassis[0], chassis[1] / 40, chassis[2] / 60, *fronts, axle[0], axle[1] / 30])
    return left, loads


def corner_loads(given: RandomCar, track: InPlane, thrust: Thrust) -> tuple[Any, float]:
    """Loads and roll of the free bodies in balance, by SciPy's general root finder."""
    found = root(lambda v: free_bodies(v, given, track, thrust)[0], np.zeros(7), method="hybr", tol=1e-13)
    left, loads = free_bodies(found.x, given, track, thrust)
    if np.abs(left).max() > 1e-6:
        raise ArithmeticError(f"the free bodies are not in balance: {left}")
    return loads, float(np.degrees(found.x[1] / 40))
