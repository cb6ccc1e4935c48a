"""What of a change between two documents moves a weight or a height.

Springs are held and no perch is turned for the change. A perch or an installed length is a cause only by the thread
that shows.
"""

from typing import Any

import numpy as np

from studbook.history.canonical import Tree
from studbook_service.engine.axle_pose import AxlePose, solve_axle
from studbook_service.engine.changes import MOVES
from studbook_service.engine.linkage import mount_length, solve_spring_length, solve_travel
from studbook_service.engine.loads import Ballast, ChassisChange
from studbook_service.engine.one_sided import WHEELS, difference_row
from studbook_service.engine.rear_centers import rear_wheels
from studbook_service.engine.vectors import Array
from studbook_service.engine.wheel import wheel
from studbook_service.translate.bars_and_stops import FittedBar
from studbook_service.translate.document import END, REAR, SIDE, DocumentReader
from studbook_service.translate.rear_end import mount_motion
from studbook_service.translate.shocks import gas_push
from studbook_service.translate.springs import fitted_spring
from studbook_service.translate.whole_car import WholeCar
from studbook_service.translate.words import CORNER, inches, outboard, signed, turns

LEAST_CHANGE = 1e-6
"""Below it (in, or lb of a bar) nothing changed on the scales: rounding."""
MOVED_PATCH_IN = 0.02
SPRING = ("rate_lb_per_in", "free_length_in", "rubber_count", "rubber_rate_lb_per_in", "second")


class ChangeOnScales:
    """The change between two cars, gathered part by part; arrays (4,) over the wheels.

    Attributes:
        causes: what moves a weight or a height, in words.
        left_out: what might, and could not be judged: fields are missing.
    """

    def __init__(self, old: WholeCar, new: WholeCar, loads_lb: Array, *, scaled: bool) -> None:
        self.old, self.new, self.loads, self.scaled = old, new, loads_lb, scaled
        self.causes: list[str] = []
        self.left_out: list[str] = []
        self.stud, self.perch, self.force, self.radius = (np.zeros(4) for _ in range(4))
        self.ballast: list[Ballast] = []
        self._front()
        self._rear()
        for index, name in enumerate(WHEELS):
            self._tire(index, name)
            self._spring(index, name)
            self._gas(index, name)
        self._bars()
        self._weights()

    def change(self) -> ChassisChange:
        """Give the engine's change, with the bars linked as raced."""
        return ChassisChange(
            perch_in=self.perch,
            stud_in=self.stud,
            spring_lb=self.force,
            radius_in=self.radius,
            ballast=self.ballast,
            hooked=self.new.hooked(),
        )

    def _both(self, path: str) -> tuple[Any, Any]:
        return self.old.reader.get(path), self.new.reader.get(path)

    def _front(self) -> None:
        """Add studs, housings, shims, arms, offsets: how far the patch moves while the spring keeps its length."""
        old, new = self.old.front, self.new.front
        if old is None or new is None:
            return
        if self._resurveyed("front"):
            return
        moved = [
            any(np.any(np.abs(getattr(each, move)) > LEAST_CHANGE) for move in MOVES)
            for each in (new.each[name].moves + -1.0 * old.each[name].moves for name in old.names)
        ]
        if not any(moved):
            return
        rest = old.pose()
        hold = solve_spring_length(new.corner, length_in=mount_length(rest))
        back = wheel(solve_travel(new.corner, travel_in=old.travel)).patch
        before, held = wheel(rest).patch, wheel(hold).patch
        grown = new.corner.radius_in - old.corner.radius_in
        for place, name in enumerate(old.names):
            if not moved[place]:
                continue
            if not hold.closed[place]:
                self.left_out.append(f"{CORNER[name]}: what its change of geometry does at a held spring is not known")
                continue
            self.radius[place] += grown[place]
            self.stud[place] -= held[2, place] - before[2, place] + grown[place]
            self._name_lift(place, "at a held spring")
            self._patch(place, before[:2, place], back[:2, place])

    def _rear(self) -> None:
        """Add rods and wheels of the axle: how its springs' lengths and its patches change at its ride height."""
        old, new = self.old, self.new
        springs = new.rear_springs
        if old.rear is None or new.rear is None or old.placed is None or old.rears is None or springs is None:
            return
        if self._resurveyed("rear"):
            return
        self.radius[2:] += new.rear.radius_change_in - old.rear.radius_change_in
        parts = ("setup.rear.rods", *(f"setup.rear.{name}.wheel" for name in REAR))
        if all(then == now for then, now in map(self._both, parts)):
            return
        placed = solve_axle(new.rear.axle, bump_in=old.rear.bump_in, roll_deg=old.rear.roll_deg)
        if not placed.closed:
            self.left_out.append("rear axle: its rods do not reach its height before the change")
            return
        longer = np.array([_length(new, placed, name) - _length(old, old.placed, name) for name in REAR])
        if np.all(np.isfinite(longer)):
            self.stud[2:] -= springs.per_perch @ longer
        for index in (2, 3):
            self._name_lift(index, "at held springs, by the rods")
        for index, (was, now) in enumerate(zip(old.rears, rear_wheels(placed, **new.rear.radii_in), strict=True), 2):
            self._patch(index, was.patch[:2], now.patch[:2])

    def _resurveyed(self, end: str) -> bool:
        then, now = self._both(f"survey.{end}")
        if then != now:
            self.left_out.append(f"the {end} was surveyed again: that is no change of the car")
        return bool(then != now)

    def _name_lift(self, index: int, where: str) -> None:
        lift = float(self.stud[index])
        if abs(lift) >= 0.005:
            way = "up" if lift < 0 else "down"
            self.causes.append(f"{CORNER[WHEELS[index]]} wheel {inches(abs(lift))} {way} {where}")

    def _patch(self, index: int, before: Array, after: Array) -> None:
        """Add a patch that moved along the ground and bears its load at another place: the couple of two weights."""
        distance = float(np.hypot(*(after - before)))
        if distance > MOVED_PATCH_IN:
            self.ballast += [Ballast(self.loads[index], *before), Ballast(-self.loads[index], *after)]
            name = WHEELS[index]
            self.causes.append(
                f"{CORNER[name]} patch {inches(distance)} {outboard((after[1] - before[1]) * SIDE[name])}"
            )

    def _tire(self, index: int, name: str) -> None:
        root = f"setup.{END[name]}.{name}.tire"
        if abs(self.radius[index]) <= LEAST_CHANGE:
            then, now = self._both(f"{root}.rollout_in")
            if then is None or now is None or then == now:
                return
            self.radius[index] = (now - then) / (2 * np.pi)
            self.new.reader.assume(
                f"{CORNER[name]}: its loaded radius was not read again; it is taken to grow by 1/(2π) of the rollout"
            )
        self.causes.append(f"{CORNER[name]} loaded radius {signed(self.radius[index], 3)} in")

    def _spring(self, index: int, name: str) -> None:
        root, label = f"setup.{END[name]}.{name}.spring", CORNER[name]
        then, now = (each or {} for each in self._both(root))
        row = self.new.spring_in_per_in[index]
        if any(then.get(leaf) != now.get(leaf) for leaf in SPRING):
            held = {**now, "installed_length_in": then.get("installed_length_in")}
            tree = {"spring": {leaf: value for leaf, value in held.items() if value is not None}}
            was, becomes = self.old.springs[WHEELS[index]], fitted_spring(DocumentReader(tree=tree), "spring")
            if was is None or becomes is None or not np.isfinite(was.force_lb + becomes.force_lb):
                self.left_out.append(f"{label} spring: free and installed lengths before and after are needed")
            else:
                self.force -= row * (becomes.force_lb - was.force_lb)
                self.causes.append(
                    f"{label} spring {was.rate_lb_per_in:g} -> {becomes.rate_lb_per_in:g} lb/in:"
                    f" {signed(becomes.force_lb - was.force_lb, 0)} lb at its seat"
                )
        self._perch(index, then, now)

    def _perch(self, index: int, then: Tree, now: Tree) -> None:
        label = CORNER[WHEELS[index]]
        was, becomes = ((each.get("perch") or {}).get("thread_showing_in") for each in (then, now))
        if was is None or becomes is None or was == becomes:
            return
        pressed = becomes - was
        springs = self.new.front_springs if index < 2 else self.new.rear_springs
        if springs is not None:
            first = 0 if index < 2 else 2
            self.perch[first : first + 2] += springs.per_perch[:, index - first] * pressed
        pitch = (now.get("perch") or {}).get("in_per_turn")
        amount = f"{turns(pressed / pitch)}" if pitch else inches(abs(pressed))
        self.causes.append(f"{label} perch {amount} {'in (raises)' if pressed > 0 else 'out (lowers)'}")

    def _gas(self, index: int, name: str) -> None:
        root = f"setup.{END[name]}.{name}.shock"
        leaves = [self._both(f"{root}.{leaf}") for leaf in ("gas_psi", "rod_diameter_in")]
        if all(then == now for then, now in leaves):
            return
        was, becomes = (gas_push(car.reader, root) for car in (self.old, self.new))
        row = self.new.shock_in_per_in[index]
        if was is None or becomes is None or not np.all(np.isfinite(row)):
            self.left_out.append(f"{CORNER[name]} shock: gas, rod diameter before and after, and mounts are needed")
            return
        self.force -= row * (becomes - was)
        self.causes.append(f"{CORNER[name]} gas: {signed(becomes - was, 0)} lb at the shaft")

    def _bars(self) -> None:
        """Add preloads and links of the bars, as forces at the wheels."""
        old, new = ({each.axle: each for each in car.bars()} for car in (self.old, self.new))
        for axle in {**old, **new}:
            then = _preload_lb(old.get(axle), scaled=self.scaled)
            now = _preload_lb(new.get(axle), scaled=False)
            if abs(now - then) > LEAST_CHANGE:
                self.force += difference_row(axle) * (now - then)
                self.causes.append(f"{axle} bar: {signed(now - then, 1)} lb of preload on its right wheel")

    def _weights(self) -> None:
        then, now = (each or {} for each in self._both("setup.ballast"))
        for name in {**then, **now}:
            was, becomes = then.get(name) or {}, now.get(name) or {}
            if all(was.get(leaf) == becomes.get(leaf) for leaf in ("weight_lb", "position_in")):
                continue
            for item, sign in ((was, -1.0), (becomes, 1.0)):
                weight, place = item.get("weight_lb"), item.get("position_in")
                if weight is None:
                    continue
                if place is None:
                    self.left_out.append(f"ballast {name}: its position_in is needed")
                    continue
                self.ballast.append(Ballast(sign * weight, place[0], place[1]))
                self.causes.append(f"ballast {name}: {weight:g} lb {'in' if sign > 0 else 'out'}")


def _length(car: WholeCar, placed: AxlePose, name: str) -> float:
    """Give a rear spring's length between its mounts; NaN where they are not surveyed."""
    found = mount_motion(car.reader, placed, name, "spring")
    return np.nan if found is None else float(found.length_in)


def _preload_lb(bar: FittedBar | None, *, scaled: bool) -> float:
    """Give the force of a bar's preload on its right wheel: as it was scaled, or as raced."""
    if bar is None or not (bar.hooked_when_scaled if scaled else bar.hooked):
        return 0.0
    return bar.rate_lb_per_in * bar.preload_in
