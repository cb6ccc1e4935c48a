"""How a rear axle's springs and shocks move."""

from studbook_service.engine.axle_pose import AxlePose
from studbook_service.engine.rear_springs import RearMotion, rear_motion
from studbook_service.translate.document import DocumentReader
from studbook_service.translate.errors import CannotClose
from studbook_service.translate.rear_end import carried_on


def mount_motion(reader: DocumentReader, pose: AxlePose, name: str, part: str) -> RearMotion | None:
    """Give the length of a spring or shock of the axle, and how both wheels change it.

    Args:
        reader: the document.
        pose: of the axle, where it stands.
        name: `lr` or `rr`.
        part: `spring` or `shock`.

    Returns:
        Its motion, or None where its mounts were not surveyed.

    Raises:
        CannotClose: the mounts cannot be those of a spring.
    """
    root = f"survey.rear.{name}.{part}"
    chassis, moving = reader.get(f"{root}.chassis_in"), reader.get(f"{root}.moving_in")
    on = carried_on(reader.get(f"{root}.sits_on"), name)
    if chassis is None or moving is None or on is None:
        return None
    try:
        return rear_motion(pose, chassis=chassis, moving=moving, on=on)
    except ValueError as error:
        raise CannotClose(f"{root}: {error}") from error


def bump_ratio(reader: DocumentReader, pose: AxlePose, name: str, part: str) -> float | None:
    """Give -d(length)/d(bump) of a spring or shock, both wheels moving alike; else as `mount_motion`."""
    found = mount_motion(reader, pose, name, part)
    return None if found is None else -float(found.per_bump)
