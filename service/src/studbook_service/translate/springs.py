"""Springs as fitted: rubbers and a second spring taken in, and what they come to at the wheel."""

from typing import NamedTuple

import numpy as np

from studbook_service.engine.linkage import Pose
from studbook_service.engine.spindle import joint_loads
from studbook_service.engine.springs import rubbered_rate, stacked_springs
from studbook_service.engine.wheel import Motion, motion, wheel_rate
from studbook_service.translate.document import DocumentReader
from studbook_service.translate.words import CORNER


class FittedSpring(NamedTuple):
    """A spring where the car stands.

    Attributes:
        rate_lb_per_in: of the whole, rubbers and second spring included.
        force_lb: from its free and installed lengths; NaN where they are not recorded.
        stopped: whether a second spring stands on its stop; None without one.
    """

    rate_lb_per_in: float
    force_lb: float
    stopped: bool | None


def fitted_spring(reader: DocumentReader, root: str) -> FittedSpring | None:
    """Read a spring.

    Returns:
        The spring, or None without a rate.
    """
    rate = reader.get(f"{root}.rate_lb_per_in")
    if rate is None:
        return None
    main = float(
        rubbered_rate(
            rate_lb_per_in=rate,
            rubber_count=_or_nothing(reader, f"{root}.rubber_count"),
            rubber_rate_lb_per_in=_or_nothing(reader, f"{root}.rubber_rate_lb_per_in"),
        )
    )
    if reader.get(f"{root}.rubber_count") and reader.get(f"{root}.rubber_rate_lb_per_in") is None:
        reader.assume(f"{root}: its rubbers are left out, {root}.rubber_rate_lb_per_in is not recorded")
    free, installed = reader.get(f"{root}.free_length_in"), reader.get(f"{root}.installed_length_in")
    pressed = np.nan if free is None or installed is None else free - installed
    second = reader.get(f"{root}.second.rate_lb_per_in")
    if second is None:
        return FittedSpring(main, main * pressed, None)
    gap = reader.get(f"{root}.second.stop_gap_in")
    if gap is None or np.isnan(pressed):
        reader.assume(f"{root}: its second spring is taken to stand on its stop; lengths or stop gap are not recorded")
        return FittedSpring(main, np.nan, stopped=True)
    pair = stacked_springs(main_lb_per_in=main, second_lb_per_in=second, stop_gap_in=gap, compression_in=pressed)
    return FittedSpring(float(pair.rate_lb_per_in), float(pair.force_lb), bool(pair.stopped))


def front_wheel_rate(reader: DocumentReader, name: str, pose: Pose) -> float:
    """Give a front corner's spring rate at the wheel, lb per in, without the tire.

    Returns:
        The rate; NaN where the spring's rate or mounts, or its force by lengths or by scales, are not known.
    """
    fitted = fitted_spring(reader, f"setup.front.{name}.spring")
    if fitted is None:
        return np.nan
    force = fitted.force_lb
    if np.isnan(force):
        force = static_force(reader, name, pose)
        if np.isfinite(force):
            reader.assume(f"{CORNER[name]} spring: its force is taken from the scales, its lengths are not recorded")
    return rate_at_wheel(motion(pose), fitted.rate_lb_per_in, force)


def rate_at_wheel(moving: Motion, rate_lb_per_in: float, force_lb: float) -> float:
    """Give a spring's rate at the wheel, NaN where something is not known."""
    return float(wheel_rate(moving, rate_lb_per_in=rate_lb_per_in, force_lb=force_lb))


def static_force(reader: DocumentReader, name: str, pose: Pose) -> float:
    """Give the spring's force by the statics of the spindle under what the scales read; NaN without scales."""
    load = reader.get(f"measured.scales.{name}_lb")
    if load is None:
        return np.nan
    carried = load - _or_nothing(reader, f"setup.front.{name}.unsprung_lb")
    return float(joint_loads(pose, patch_lb=(0.0, 0.0, carried)).spring_lb)


def _or_nothing(reader: DocumentReader, path: str) -> float:
    return float(reader.get(path) or 0.0)
