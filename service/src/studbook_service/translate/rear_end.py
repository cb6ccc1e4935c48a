"""A document's rear axle as the engine's: the survey, and what has been fitted since."""

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from studbook_service.engine.axle_pose import AxlePose, solve_axle
from studbook_service.engine.rear_axle import CARRIERS, AxleLinkage, Carrier, LinkRod, rear_axle_from_survey
from studbook_service.engine.rods import Hold, RodsUnsound
from studbook_service.engine.vectors import Array
from studbook_service.translate.corner import since
from studbook_service.translate.document import Document
from studbook_service.translate.errors import CannotCloseError
from studbook_service.translate.ride import travel_in
from studbook_service.translate.words import CORNER, signed

SIDE = {"lr": 1.0, "rr": -1.0}
NOT_MODELED = {"leaf": "a leaf spring", "truck_arm": "a truck arm"}
SPRUNG = {
    "pull": "a pull bar gives under drive; it is taken at its length without load",
    "lift_arm": "a lift arm turns with the axle; its link is taken at its length without load",
}


@dataclass(frozen=True, kw_only=True)
class RearEnd:
    """A rear axle with everything fitted, and where it stands.

    Attributes:
        page: the document, with what was assumed.
        axle: the axle on its rods.
        hold: how the rods hold it, as surveyed.
        radius_change_in: of the left and the right tire since the survey, (2,).
        bump_in: rise of the wheels' midpoint against the chassis since the survey.
        roll_deg: axle roll since the survey, + right wheel up.
        camber_deg, toe_deg: built into the axle, left and right.
    """

    page: Document
    axle: AxleLinkage
    hold: Hold
    radius_change_in: Array
    bump_in: float
    roll_deg: float
    camber_deg: tuple[float, float]
    toe_deg: tuple[float, float]

    @property
    def radii_in(self) -> dict[str, float]:
        """Loaded radii as fitted, as keyword arguments of `rear_wheels`."""
        left, right = self.radius_change_in
        return {
            "left_radius_in": float(self.axle.left_radius_in + left),
            "right_radius_in": float(self.axle.right_radius_in + right),
        }

    def pose(self) -> AxlePose:
        """Solve the axle where it stands.

        Raises:
            CannotCloseError: the rods do not reach.
        """
        pose = solve_axle(self.axle, bump_in=self.bump_in, roll_deg=self.roll_deg)
        if not bool(pose.closed):
            rod = self.axle.names[int(pose.failed) - 1] if int(pose.failed) else "a rod"
            raise CannotCloseError(
                f"the rear axle cannot be assembled at ride height, {signed(self.bump_in, 2)} in of bump and"
                f" {signed(self.roll_deg, 2)} deg of axle roll since the survey: {rod} does not reach"
            )
        return pose


def rear_end(page: Document) -> RearEnd | None:
    """Read the rear axle of a document: what was surveyed, and every change that the setup records.

    Args:
        page: the document; lacking fields and assumptions are noted in it.

    Returns:
        The axle, or None when fields are lacking.

    Raises:
        CannotCloseError: the rods do not locate the axle, naming what they leave free and what they hold twice; or the
            points cannot be those of an axle.
    """
    wheels = {name: page.need(f"survey.rear.{name}.wheel_center_in") for name in SIDE}
    radii = {name: page.need(f"survey.rear.{name}.loaded_radius_in") for name in SIDE}
    surveyed, fitted = page.get("survey.rear.rods") or {}, page.get("setup.rear.rods") or {}
    names = list(dict.fromkeys([*surveyed, *fitted]))
    if not names:
        page.need("survey.rear.rods")
    left_out = [said for name in names if (said := _left_out(page, name))]
    rods = {name: _rod(page, name) for name in names if not _left_out(page, name)}
    if page.lacking:
        return None
    centers = _wheel_centers(page, wheels)
    try:
        axle = rear_axle_from_survey(
            rods={name: each for name, each in rods.items() if each is not None},
            wheel_left=centers["lr"],
            wheel_right=centers["rr"],
            left_radius_in=radii["lr"],
            right_radius_in=radii["rr"],
        )
    except RodsUnsound as error:
        raise CannotCloseError("; ".join([f"the rear axle's {error}", *left_out])) from error
    except ValueError as error:
        raise CannotCloseError(f"survey.rear: {error}") from error
    for said in left_out:
        page.assume(said)
    bump, roll = _stands(page, centers)
    return RearEnd(
        page=page,
        axle=_fitted(page, axle),
        hold=axle.hold,
        radius_change_in=np.array([_radius_change(page, name) for name in SIDE]),
        bump_in=bump,
        roll_deg=roll,
        camber_deg=_built_in(page, "camber"),
        toe_deg=_built_in(page, "toe"),
    )


def carried_on(sits_on: str | None, name: str) -> Carrier | None:
    """Name the body that carries a mount of a rear corner, or None where it is none of the axle's."""
    cages: dict[str, Carrier] = {"lr": "birdcage_left", "rr": "birdcage_right"}
    return {"axle": "axle", "birdcage": cages[name]}.get(sits_on or "")


def _left_out(page: Document, name: str) -> str:
    kind = page.get(f"setup.rear.rods.{name}.kind")
    return f"{name} is {NOT_MODELED[kind]}, which is not modeled: it is left out" if kind in NOT_MODELED else ""


def _rod(page: Document, name: str) -> LinkRod | None:
    """Read a rod at the survey; one that was added or bolted to another body since, by the ends it was given then."""
    survey, setup = f"survey.rear.rods.{name}", f"setup.rear.rods.{name}"
    on = page.get(f"{setup}.on") or page.need(f"{survey}.on")
    chassis = page.get(f"{survey}.chassis_in") or page.get(f"{setup}.chassis_in") or page.need(f"{survey}.chassis_in")
    if _bolted_elsewhere(page, name):
        carrier = page.need(f"{setup}.carrier_in")
    else:
        carrier = page.get(f"{survey}.carrier_in") or page.get(f"{setup}.carrier_in")
        carrier = carrier or page.need(f"{survey}.carrier_in")
    kind = page.get(f"{setup}.kind")
    if kind in SPRUNG:
        page.assume(f"{name}: {SPRUNG[kind]}")
    return None if chassis is None or carrier is None or on not in CARRIERS else LinkRod(chassis, carrier, on)


def _bolted_elsewhere(page: Document, name: str) -> bool:
    then, now = (page.get(f"{part}.rear.rods.{name}.on") for part in ("survey", "setup"))
    return then is not None and now is not None and then != now


def _fitted(page: Document, axle: AxleLinkage) -> AxleLinkage:
    """Put each rod into the holes, and give it the length, that the setup says."""
    chassis, carrier, longer = [], [], []
    for index, name in enumerate(axle.names):
        setup, ends = f"setup.rear.rods.{name}", (axle.chassis[:, index], axle.carrier[:, index])
        chassis.append(_moved(page.get(f"{setup}.chassis_in"), ends[0]))
        carrier.append(_moved(page.get(f"{setup}.carrier_in"), ends[1]))
        now, then = page.get(f"{setup}.length_in"), page.get(f"survey.rear.rods.{name}.length_in")
        if then is None:
            then = math.dist(*ends)
        longer.append(0.0 if now is None else now - then)
    return replace(
        axle,
        chassis_moved_in=np.stack(chassis, axis=1),
        carrier_moved_in=np.stack(carrier, axis=1),
        longer_in=np.array(longer),
    )


def _moved(now: Any, then: Array) -> Array:
    return np.zeros(3) if now is None else np.asarray(now, float) - then


def _wheel_centers(page: Document, wheels: dict[str, Any]) -> dict[str, Array]:
    """Give the wheel centers with the wheels as fitted now: offset and spacer move them along the axle's line."""
    left, right = (np.asarray(wheels[name], float) for name in SIDE)
    line = (left - right) / np.linalg.norm(left - right)
    return {name: center + SIDE[name] * _outboard(page, name) * line for name, center in (("lr", left), ("rr", right))}


def _outboard(page: Document, name: str) -> float:
    return sum(
        since(page, f"setup.rear.{name}.wheel.{part}_in", f"survey.rear.{name}.wheel_{part}_in")
        for part in ("offset", "spacer")
    )


def _radius_change(page: Document, name: str) -> float:
    return since(page, f"setup.rear.{name}.tire.loaded_radius_in", f"survey.rear.{name}.loaded_radius_in")


def _stands(page: Document, centers: dict[str, Array]) -> tuple[float, float]:
    """Give bump and axle roll from the heights read since the survey."""
    rises = {
        name: travel_in(page, name, wheel_xy=(float(center[0]), float(center[1]))) for name, center in centers.items()
    }
    _, across, up = centers["lr"] - centers["rr"]
    roll = np.arctan2(rises["rr"] - rises["lr"] - up, across) - np.arctan2(-up, across)
    return (rises["lr"] + rises["rr"]) / 2, float(np.degrees(roll))


def _built_in(page: Document, angle: str) -> tuple[float, float]:
    found = {}
    for name, side in (("lr", "left"), ("rr", "right")):
        found[name] = float(page.get(f"setup.rear.axle.{angle}_{side}_deg") or 0.0)
        if found[name]:
            page.assume(
                f"{CORNER[name]}: {found[name]:g} deg of {angle} is built into the axle and added to what it leans"
                f" {'and steers' if angle == 'toe' else 'to the ground'}"
            )
    return found["lr"], found["rr"]
