"""How a rear axle's springs and shocks are mounted, and how they move."""

from typing import Any, NamedTuple

from studbook_service.engine.axle_pose import AxlePose
from studbook_service.engine.rear_axle import Carrier
from studbook_service.engine.rear_springs import RearMotion, rear_motion
from studbook_service.translate.document import DocumentReader
from studbook_service.translate.errors import CannotClose
from studbook_service.translate.rear_end import carried_on


class RearMount(NamedTuple):
    """The surveyed mounts of a spring or shock: its path, both ends, and the body that carries the moving one."""

    path: str
    chassis_in: Any
    moving_in: Any
    on: Carrier

    def motion(self, pose: AxlePose) -> RearMotion:
        """Give the length of the spring or shock, and how both wheels change it.

        Raises:
            CannotClose: the mounts cannot be those of a spring.
        """
        try:
            return rear_motion(pose, chassis=self.chassis_in, moving=self.moving_in, on=self.on)
        except ValueError as error:
            raise CannotClose(f"{self.path}: {error}") from error


def rear_mount(reader: DocumentReader, name: str, part: str) -> RearMount | None:
    """Read the mounts of a `spring` or `shock` at `lr` or `rr`, or None where they were not surveyed."""
    path = f"survey.rear.{name}.{part}"
    chassis, moving = reader.get(f"{path}.chassis_in"), reader.get(f"{path}.moving_in")
    on = carried_on(reader.get(f"{path}.sits_on"), name)
    return None if chassis is None or moving is None or on is None else RearMount(path, chassis, moving, on)


def mount_motion(reader: DocumentReader, pose: AxlePose, name: str, part: str) -> RearMotion | None:
    """Give the motion of a spring or shock, or None where its mounts were not surveyed; see `RearMount.motion`."""
    mount = rear_mount(reader, name, part)
    return None if mount is None else mount.motion(pose)
