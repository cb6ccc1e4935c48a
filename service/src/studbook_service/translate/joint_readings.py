"""Torques read at the joints, as the engine takes them."""

from collections.abc import Mapping
from typing import Final, Literal

from studbook_service.engine.torques import doubtful_torque, pull_scale_torque, spin_torque
from studbook_service.translate.document import DocumentReader
from studbook_service.translate.words import CORNER

Kind = Literal["breakaway", "running"]

READINGS: Final[Mapping[str, str]] = {
    "upper_ball": "upper_joint",
    "lower_ball": "lower_joint",
    "upper_pivot": "upper_pivot",
    "lower_pivot": "lower_pivot",
    "tie_inner": "tie_inner",
    "tie_outer": "tie_outer",
}
"""The reading of each joint, by the engine's name of the joint."""

JOINT_NAMES: Final[Mapping[str, str]] = {
    "upper_ball": "upper ball joint",
    "lower_ball": "lower ball joint",
    "upper_pivot": "upper inner pivots",
    "lower_pivot": "lower inner pivots",
    "tie_inner": "inner tie-rod end",
    "tie_outer": "outer tie-rod end",
}


def as_read(reader: DocumentReader, name: str, kind: Kind) -> dict[str, float]:
    """Give each joint's torque of one kind as it was read, in-lb, by the engine's name of the joint.

    A breakaway torque that was read with a pull scale alone is the pull times its lever.
    """
    found = {}
    for joint, reading in READINGS.items():
        path = f"measured.front.{name}.{reading}"
        torque = reader.get(f"{path}.{kind}_in_lb")
        if torque is None and kind == "breakaway":
            torque = _from_pull_scale(reader, path, f"{CORNER[name]} {JOINT_NAMES[joint]}")
        if torque is None:
            continue
        if doubtful_torque(torque):
            what = f"{CORNER[name]} {JOINT_NAMES[joint]}"
            reader.assume(f"{what}: {torque:g} in-lb is above 60; read it again, it may be in another unit")
        found[joint] = float(torque)
    return found


def about_the_stud(
    reader: DocumentReader, name: str, torques: Mapping[str, float], tilt_over_spin: float
) -> dict[str, float]:
    """Give the torques about the stud: one read by swinging it is less by the factor of tilt over spin."""
    turned = {joint: reader.get(f"measured.front.{name}.{READINGS[joint]}.turned_about") for joint in torques}
    return {
        joint: float(
            spin_torque(
                torque_in_lb=torque,
                turned_about="swung" if turned[joint] == "swung" else "stud_axis",
                tilt_over_spin=tilt_over_spin,
            )
        )
        for joint, torque in torques.items()
    }


def note_readings(reader: DocumentReader, names: tuple[str, ...]) -> None:
    """Note what was not read and so counts nothing, and what was read on the bench."""
    unread: dict[str, list[str]] = {}
    bench = []
    for name in names:
        for joint, reading in READINGS.items():
            path = f"measured.front.{name}.{reading}"
            if reader.get(f"{path}.breakaway_in_lb") is None and reader.get(f"{path}.running_in_lb") is None:
                unread.setdefault(JOINT_NAMES[joint], []).append(CORNER[name])
            elif reader.get(f"{path}.measured_on") == "bench":
                bench.append(f"{CORNER[name]} {JOINT_NAMES[joint]}")
    if unread:
        listed = "; ".join(f"{joint} ({', '.join(corners)})" for joint, corners in unread.items())
        reader.assume(f"Not read, so not counted: {listed}. Rubber or dry pivots often resist more than the balls")
    if bench:
        reader.assume(f"Read on the bench, loose of the taper, where a torque is another number: {', '.join(bench)}")


def _from_pull_scale(reader: DocumentReader, path: str, what: str) -> float | None:
    pull, lever = reader.get(f"{path}.pull_lb"), reader.get(f"{path}.lever_in")
    if pull is None or lever is None:
        return None
    reader.assume(f"{what}: breakaway taken from the pull scale, {pull:g} lb at {lever:g} in")
    return float(pull_scale_torque(pull_lb=pull, lever_in=lever))
