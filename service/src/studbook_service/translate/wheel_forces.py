"""The forces stated for a wheel, put where they act."""

from typing import Literal, NamedTuple

import numpy as np
from msgspec import UNSET

from studbook.wire.joints import WheelForces, WheelLoad
from studbook_service.engine.linkage import Pose
from studbook_service.engine.spindle import JointLoads, joint_loads
from studbook_service.engine.vectors import Array, cross, dot, unit
from studbook_service.translate.document import SIDE, DocumentReader
from studbook_service.translate.states import columns, rounded
from studbook_service.translate.words import CORNER


class WheelUnderLoad(NamedTuple):
    """A wheel under its forces."""

    told: WheelLoad
    loads: JointLoads


def wheel_under_load(reader: DocumentReader, name: str, pose: Pose, asked: WheelForces) -> WheelUnderLoad | None:
    """Compute what the stated forces do to a corner's joints.

    Args:
        reader: the document; lacking fields and assumptions are noted in it.
        name: `lf` or `rf`.
        pose: that corner alone.
        asked: the forces; a wheel they are not on stands as on the scales.

    Returns:
        The loads, or None where the load on the tire is neither stated nor on the scales, or the corner has no spring.
    """
    forces = asked if asked.on in {"both", name} else WheelForces()
    vertical = reader.need(f"measured.scales.{name}_lb") if forces.vertical_lb is UNSET else forces.vertical_lb
    if vertical is None:
        return None
    unsprung = reader.get(f"setup.front.{name}.unsprung_lb")
    if unsprung is None:
        reader.assume(f"{CORNER[name]}: unsprung weight is not recorded; none is taken off what the links carry")
    carried = vertical - (unsprung or 0.0)
    brake = _brake(reader, forces)
    contact, at = _contact(reader, name, pose, forces)
    loads = joint_loads(
        pose,
        patch_lb=(-forces.braking_lb, forces.side_lb, carried),
        contact_lb=contact,
        contact_at_in=at,
        brake=brake,
    )
    if not np.isfinite(loads.spring_lb):
        mounts = f"survey.front.{name}.spring"
        reader.lacking += [f"{mounts}.{leaf}" for leaf in ("chassis_in", "moving_in", "sits_on")]
        return None
    told = WheelLoad(
        vertical_lb=rounded(vertical),
        unsprung_lb=rounded(unsprung or 0.0),
        side_lb=rounded(forces.side_lb),
        braking_lb=rounded(forces.braking_lb),
        brake=brake,
        brake_torque_in_lb=rounded(loads.brake_torque_in_lb),
        text=_said(forces, vertical, brake),
    )
    if contact is not None and at is not None:
        told.contact_lb, told.contact_at_in = columns(contact), columns(at)
    return WheelUnderLoad(told, loads)


def _brake(reader: DocumentReader, forces: WheelForces) -> Literal["free", "locked"]:
    if forces.brake is not UNSET:
        return forces.brake
    if forces.braking_lb:
        reader.assume("Braking: the caliper is on the spindle and holds the wheel as one body with it")
        return "locked"
    if forces.contact_inboard_lb or forces.contact_rearward_lb:
        reader.assume("Contact: the wheel turns freely on its bearing; say brake=locked for a braked wheel")
    return "free"


def _contact(
    reader: DocumentReader, name: str, pose: Pose, forces: WheelForces
) -> tuple[Array, Array] | tuple[None, None]:
    """Put a contact force at the rim's outer edge, ahead of and above the wheel center in the wheel's plane."""
    if not forces.contact_inboard_lb and not forces.contact_rearward_lb:
        return None, None
    width = reader.get(f"setup.front.{name}.wheel.width_in")
    if width is None:
        reader.assume(f"{CORNER[name]}: contact is put in the wheel's middle plane; its width is not recorded")
    up = np.array([0.0, 0.0, 1.0])
    up = unit(up - dot(up, pose.spin) * pose.spin)
    ahead = SIDE[name] * cross(pose.spin, up)
    at = pose.wheel_center + forces.contact_ahead_in * ahead + forces.contact_up_in * up
    force = np.array([-forces.contact_rearward_lb, -SIDE[name] * forces.contact_inboard_lb, 0.0])
    return force, at + (width or 0.0) / 2 * pose.spin


def _said(forces: WheelForces, vertical: float, brake: str) -> str:
    parts = [f"{vertical:,.0f} lb on the tire{' (scales)' if forces.vertical_lb is UNSET else ''}"]
    if forces.side_lb:
        parts.append(f"{abs(forces.side_lb):,.0f} lb of side force to the {'left' if forces.side_lb > 0 else 'right'}")
    if forces.braking_lb:
        parts.append(f"{abs(forces.braking_lb):,.0f} lb of {'braking' if forces.braking_lb > 0 else 'drive'}")
    if forces.contact_inboard_lb:
        way = "inboard" if forces.contact_inboard_lb > 0 else "outboard"
        parts.append(f"{abs(forces.contact_inboard_lb):,.0f} lb {way} on the rim")
    if forces.contact_rearward_lb:
        way = "rearward" if forces.contact_rearward_lb > 0 else "forward"
        parts.append(f"{abs(forces.contact_rearward_lb):,.0f} lb {way} on the rim")
    return f"{', '.join(parts)}; brake {brake}"
