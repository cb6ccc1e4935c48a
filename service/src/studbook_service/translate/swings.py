"""How far each ball joint is from binding, over travel and steering."""

import numpy as np

from studbook.wire.answers import Missing, Travels
from studbook.wire.joints import Swing
from studbook_service.engine.linkage import Pose
from studbook_service.engine.steering import rack
from studbook_service.engine.swing import stud_angle, swing_margin
from studbook_service.engine.vectors import Array
from studbook_service.translate.document import DocumentReader, note_missing
from studbook_service.translate.front import heave_steps
from studbook_service.translate.front_end import FrontEnd
from studbook_service.translate.states import rounded
from studbook_service.translate.steering import HALF_TRAVEL_IN, link_shift
from studbook_service.translate.stud_loads import Arm
from studbook_service.translate.words import CORNER, signed

COARSE_IN = 0.5
RACK_POINTS = 5


def steering(front: FrontEnd) -> tuple[Array, Array]:
    """Give places of the rack or center link, in, (S,), and what each does to the inner tie-rod ends, (3, 2, S).

    The right end is the second. A steering that is not modeled leaves straight ahead alone.
    """
    reader = front.reader
    half = reader.get("setup.front.steering.half_travel_in") or HALF_TRAVEL_IN
    shift = np.linspace(-half, half, RACK_POINTS)
    kind = reader.get("survey.front.steering.kind")
    if kind == "center_link" and (moved := link_shift(front, shift)) is not None:
        return shift, moved
    if kind in {"center_link", "drag_link"}:
        reader.assume("Swing is computed straight ahead only: this steering is not surveyed or not modeled")
        return np.zeros(1), np.zeros((3, 2, 1))
    if kind is None:
        reader.assume(f"Swing: the steering is taken as a rack of {half:g} in each way; its kind is not recorded")
    return shift, np.repeat(rack(shift_in=shift)[:, None, :], 2, axis=1)


def swing(
    front: FrontEnd,
    name: str,
    arm: Arm,
    pose: Pose,
    *,
    travels: Travels,
    steered: tuple[Array, Array],
    missing: list[Missing],
) -> Swing | None:
    """Swing a joint through every travel with every steering.

    `pose` is that corner alone, where it stands; `travels` are from there; `steered` is as `steering` gives it.
    """
    reader, limit_path = front.reader, f"setup.front.{name}.{arm}_stud.swing_limit_deg"
    limit, what = reader.get(limit_path), f"{CORNER[name]} {arm} joint"
    if limit is None:
        note_missing(missing, "swing margin", [limit_path])
        return None
    if reader.get(f"survey.front.{name}.{arm}_housing.axis") is None:
        reader.assume(f"{what}: its housing's axis was not surveyed and is taken as the stud's own at the survey")
    steps = heave_steps(
        Travels(low_in=travels.low_in, high_in=travels.high_in, step_in=max(travels.step_in, COARSE_IN))
    )
    shift, moved = steered
    found = swing_margin(
        front.each[name],
        joint=arm,
        limit_deg=limit,
        travel_in=float(front.travel[front.names.index(name)]) + steps,
        steer_in=moved[:, 1 if name == "rf" else 0],
    )
    if not np.isfinite(found.worst_deg):
        return None
    margin, travel, place = float(found.worst_deg), steps[int(found.worst_travel)], shift[int(found.worst_steer)]
    binds = "BINDS: " if margin < 0 else ""
    where = f"at {signed(travel, 2)} in of travel{_past_limit(reader, name, travel)}, {_steered(place)}"
    return Swing(
        limit_deg=limit,
        angle_deg=rounded(stud_angle(pose, joint=arm)),
        margin_deg=rounded(margin),
        at_travel_in=rounded(travel),
        at_rack_in=rounded(place),
        binds=margin < 0,
        text=f"{what} {binds}{limit - margin:.1f} deg of {limit:g} {where}; {_margin(margin)}",
    )


def _past_limit(reader: DocumentReader, name: str, travel: float) -> str:
    """Say that a droop is reached only with the limit off, as on stands."""
    droop = reader.get(f"setup.front.{name}.droop_limit.travel_in")
    if droop is None or travel >= -droop:
        return ""
    kind = reader.get(f"setup.front.{name}.droop_limit.kind") or "droop limit"
    return f", past its {kind} at {droop:g} in of droop"


def _steered(place: float) -> str:
    return f"rack {abs(place):g} in to the {'left' if place > 0 else 'right'}" if place else "straight ahead"


def _margin(margin: float) -> str:
    return f"{-margin:.1f} deg too far" if margin < 0 else f"{margin:.1f} deg remaining"
