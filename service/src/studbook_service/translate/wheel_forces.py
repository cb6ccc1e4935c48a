"""The forces stated for a wheel, put where they act."""

from typing import Literal, NamedTuple

import numpy as np
from msgspec import UNSET

from studbook.wire.joints import WheelForces, WheelLoad
from studbook_service.engine.linkage import Pose
from studbook_service.engine.spindle import JointLoads, joint_loads
from studbook_service.engine.vectors import Array, cross, dot, unit
from studbook_service.translate.document import SIDE, DocumentReader, mount_paths
from studbook_service.translate.states import columns, figures, rounded
from studbook_service.translate.words import CORNER


class WheelUnderLoad(NamedTuple):
    """A wheel under its forces."""

    load: WheelLoad
    joints: JointLoads


def wheel_under_load(reader: DocumentReader, name: str, pose: Pose, forces: WheelForces) -> WheelUnderLoad | None:
    """Compute what the stated forces do to a corner's joints.

    Returns:
        The loads, or None where the load on the tire is neither stated nor on the scales, or the corner has no spring.
    """
    if forces.on not in {"both", name}:
        forces = WheelForces()  # as on the scales
    vertical = reader.need(f"measured.scales.{name}_lb") if forces.vertical_lb is UNSET else forces.vertical_lb
    if vertical is None:
        return None
    unsprung = reader.get(f"setup.front.{name}.unsprung_lb")
    if unsprung is None:
        reader.assume(f"{CORNER[name]}: unsprung weight is not recorded; none is subtracted from what the links carry")
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
        reader.lacking += mount_paths(f"survey.front.{name}.spring")
        return None
    load = WheelLoad(
        vertical_lb=rounded(vertical),
        unsprung_lb=rounded(unsprung or 0.0),
        **figures(forces, ("side_lb", "braking_lb")),
        brake=brake,
        brake_torque_in_lb=rounded(loads.brake_torque_in_lb),
        text=_sentence(forces, vertical, brake),
    )
    if contact is not None and at is not None:
        load.contact_lb, load.contact_at_in = columns(contact), columns(at)
    return WheelUnderLoad(load, loads)


def _brake(reader: DocumentReader, forces: WheelForces) -> Literal["free", "locked"]:
    if forces.brake is not UNSET:
        return forces.brake
    if forces.braking_lb:
        reader.assume("Braking: the caliper is on the spindle and holds the wheel as one body with it")
        return "locked"
    if forces.contact_inboard_lb or forces.contact_rearward_lb:
        reader.assume("Contact: the wheel turns freely on its bearing; set brake=locked for a braked wheel")
    return "free"


def _contact(
    reader: DocumentReader, name: str, pose: Pose, forces: WheelForces
) -> tuple[Array, Array] | tuple[None, None]:
    """Put a contact force at the rim's outer edge, ahead of and above the wheel center in the wheel's plane."""
    if not forces.contact_inboard_lb and not forces.contact_rearward_lb:
        return None, None
    width = reader.get(f"setup.front.{name}.wheel.width_in")
    if width is None:
        reader.assume(f"{CORNER[name]}: contact is taken at the wheel's middle plane; its width is not recorded")
    up = np.array([0.0, 0.0, 1.0])
    up = unit(up - dot(up, pose.spin) * pose.spin)
    ahead = SIDE[name] * cross(pose.spin, up)
    at = pose.wheel_center + forces.contact_ahead_in * ahead + forces.contact_up_in * up
    force = np.array([-forces.contact_rearward_lb, -SIDE[name] * forces.contact_inboard_lb, 0.0])
    return force, at + (width or 0.0) / 2 * pose.spin


def _sentence(forces: WheelForces, vertical: float, brake: str) -> str:
    named = (
        (forces.side_lb, "of side force to the left", "of side force to the right"),
        (forces.braking_lb, "of braking", "of drive"),
        (forces.contact_inboard_lb, "inboard on the rim", "outboard on the rim"),
        (forces.contact_rearward_lb, "rearward on the rim", "forward on the rim"),
    )
    parts = [f"{vertical:,.0f} lb on the tire{' (scales)' if forces.vertical_lb is UNSET else ''}"]
    parts += [f"{abs(force):,.0f} lb {plus if force > 0 else minus}" for force, plus, minus in named if force]
    return f"{', '.join(parts)}; brake {brake}"
