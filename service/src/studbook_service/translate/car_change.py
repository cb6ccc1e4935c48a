"""What of a change between two documents moves a weight or a height: springs held, no perch turned for it."""

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
from studbook_service.translate.bars_and_stops import END, FittedBar
from studbook_service.translate.document import Document
from studbook_service.translate.rear_ratios import mount_motion
from studbook_service.translate.shocks import gas_push
from studbook_service.translate.springs import fitted_spring
from studbook_service.translate.whole_car import REAR, WholeCar
from studbook_service.translate.words import CORNER, inches, signed, turns

NOTICED_IN = 1e-6
MOVED_PATCH_IN = 0.02
SPRING = ("rate_lb_per_in", "free_length_in", "rubber_count", "rubber_rate_lb_per_in", "second")


class CarChange:
    """The change between two cars, gathered part by part; arrays (4,) over the wheels.

    Attributes:
        causes: what of it moves a weight or a height, in words.
        left_out: what might, and could not be judged for want of fields.
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
        """Give it as the engine takes it, bars linked as raced."""
        return ChassisChange(
            perch_in=self.perch,
            stud_in=self.stud,
            spring_lb=self.force,
            radius_in=self.radius,
            ballast=self.ballast,
            hooked=self.new.hooked(),
        )

    def _both(self, path: str) -> tuple[Any, Any]:
        return self.old.page.get(path), self.new.page.get(path)

    def _front(self) -> None:
        """Studs, housings, shims, arms, offsets: how far the patch moves while the spring keeps its length."""
        old, new = self.old.front, self.new.front
        if old is None or new is None:
            return
        moved = [
            any(
                np.any(np.abs(getattr(new.each[name].moves, move) - getattr(old.each[name].moves, move)) > NOTICED_IN)
                for move in MOVES
            )
            for name in old.names
        ]
        then, now = self._both("survey.front")
        if then != now:
            self.left_out.append("the front was surveyed anew: what that changes is no change of the car")
            return
        if not any(moved):
            return
        stood = old.pose()
        hold = solve_spring_length(new.corner, length_in=mount_length(stood))
        back = wheel(solve_travel(new.corner, travel_in=old.travel)).patch
        before, held = wheel(stood).patch, wheel(hold).patch
        grown = new.corner.radius_in - old.corner.radius_in
        for place, name in enumerate(old.names):
            if not moved[place]:
                continue
            if not hold.closed[place]:
                self.left_out.append(f"{CORNER[name]}: what its change of geometry does at a held spring is not known")
                continue
            self.radius[place] += grown[place]
            self.stud[place] -= held[2, place] - before[2, place] + grown[place]
            if abs(self.stud[place]) >= 0.005:
                way = "up" if self.stud[place] < 0 else "down"
                self.causes.append(f"{CORNER[name]} wheel {inches(abs(self.stud[place]))} {way} at a held spring")
            self._patch(place, before[:2, place], back[:2, place])

    def _rear(self) -> None:
        """Rods and wheels of the axle: how its springs' lengths and its patches change where it stands."""
        old, new = self.old, self.new
        springs = new.rear_springs
        if old.rear is None or new.rear is None or old.placed is None or old.rears is None or springs is None:
            return
        then, now = self._both("survey.rear")
        if then != now:
            self.left_out.append("the rear was surveyed anew: what that changes is no change of the car")
            return
        self.radius[2:] += new.rear.radius_change_in - old.rear.radius_change_in
        parts = ("setup.rear.rods", *(f"setup.rear.{name}.wheel" for name in REAR))
        if all(then == now for then, now in map(self._both, parts)):
            return
        placed = solve_axle(new.rear.axle, bump_in=old.rear.bump_in, roll_deg=old.rear.roll_deg)
        if not placed.closed:
            self.left_out.append("rear axle: its rods do not reach where it stood before the change")
            return
        longer = np.array([_length(new, placed, name) - _length(old, old.placed, name) for name in REAR])
        if np.all(np.isfinite(longer)):
            self.stud[2:] -= springs.per_perch @ longer
        for index, name in enumerate(REAR, start=2):
            if abs(self.stud[index]) >= 0.005:
                way = "up" if self.stud[index] < 0 else "down"
                self.causes.append(
                    f"{CORNER[name]} wheel {inches(abs(self.stud[index]))} {way} at held springs, by the rods"
                )
        for index, (was, now) in enumerate(zip(old.rears, rear_wheels(placed, **new.rear.radii_in), strict=True), 2):
            self._patch(index, was.patch[:2], now.patch[:2])

    def _patch(self, index: int, before: Array, after: Array) -> None:
        """A patch that moved along the ground bears its load at another place: the couple of two weights."""
        if np.hypot(*(after - before)) > MOVED_PATCH_IN:
            self.ballast += [Ballast(self.loads[index], *before), Ballast(-self.loads[index], *after)]
            outward = (after[1] - before[1]) * (1 if index % 2 == 0 else -1)
            self.causes.append(
                f"{CORNER[WHEELS[index]]} patch {inches(float(np.hypot(*(after - before))))}"
                f" {'outboard' if outward > 0 else 'inboard'}"
            )

    def _tire(self, index: int, name: str) -> None:
        root = f"setup.{END[name]}.{name}.tire"
        if abs(self.radius[index]) <= NOTICED_IN:
            then, now = self._both(f"{root}.rollout_in")
            if then is None or now is None or then == now:
                return
            self.radius[index] = (now - then) / (2 * np.pi)
            self.new.page.assume(
                f"{CORNER[name]}: its loaded radius was not read anew; it is taken to grow by 1/2π of that"
            )
        self.causes.append(f"{CORNER[name]} loaded radius {signed(self.radius[index], 3)} in")

    def _spring(self, index: int, name: str) -> None:
        root, label = f"setup.{END[name]}.{name}.spring", CORNER[name]
        then, now = (each or {} for each in self._both(root))
        row = self.new.spring_in_per_in[index]
        if any(then.get(leaf) != now.get(leaf) for leaf in SPRING):
            at_old_seat = {"spring": {**now, "installed_length_in": then.get("installed_length_in")}}
            was, becomes = self.old.springs[WHEELS[index]], fitted_spring(_held(at_old_seat), "spring")
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
        pushes, row = [gas_push(page, root) for page in (self.old.page, self.new.page)], self.new.shock_in_per_in[index]
        if pushes[0] is None or pushes[1] is None or not np.all(np.isfinite(row)):
            self.left_out.append(f"{CORNER[name]} shock: gas, rod diameter before and after, and mounts are needed")
            return
        self.force -= row * (pushes[1] - pushes[0])
        self.causes.append(f"{CORNER[name]} gas: {signed(pushes[1] - pushes[0], 0)} lb at the shaft")

    def _bars(self) -> None:
        """Preloads and links of the bars, as forces at the wheels."""
        old, new = ({each.axle: each for each in car.bars()} for car in (self.old, self.new))
        for axle in {**old, **new}:
            then = _preload_lb(old.get(axle), scaled=self.scaled)
            now = _preload_lb(new.get(axle), scaled=False)
            if abs(now - then) > NOTICED_IN:
                self.force += difference_row(axle) * (now - then)
                self.causes.append(f"{axle} bar: {signed(now - then, 1)} lb of preload on its right wheel")

    def _weights(self) -> None:
        then, now = (each or {} for each in self._both("setup.ballast"))
        for name in {**then, **now}:
            was, becomes = then.get(name) or {}, now.get(name) or {}
            if was.get("weight_lb") == becomes.get("weight_lb") and was.get("position_in") == becomes.get(
                "position_in"
            ):
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
    found = mount_motion(car.page, placed, name, "spring")
    return np.nan if found is None else float(found.length_in)


def _held(spring: Tree) -> Document:
    """Give a document of one spring alone, without the leaves that are not there."""
    return Document(tree={"spring": {leaf: value for leaf, value in spring["spring"].items() if value is not None}})


def _preload_lb(bar: FittedBar | None, *, scaled: bool) -> float:
    """Give the force of a bar's preload on its right wheel: as it was scaled, or as raced."""
    if bar is None or not (bar.hooked_when_scaled if scaled else bar.hooked):
        return 0.0
    return bar.rate_lb_per_in * bar.preload_in
