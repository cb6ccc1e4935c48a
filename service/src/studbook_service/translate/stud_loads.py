"""Ball studs under their loads: parts of the force, stress, and strength where the material is stated."""

from typing import Literal

import numpy as np

from studbook.wire.answers import Missing
from studbook.wire.joints import BallLoad, LongerStud, Strength, StudStress
from studbook_service.engine.linkage import Pose
from studbook_service.engine.studs import stud_limits, stud_load, stud_stress
from studbook_service.engine.swing import stud_axis
from studbook_service.engine.vectors import Array, root
from studbook_service.translate.corner import axis_measured
from studbook_service.translate.document import DocumentReader, note_missing
from studbook_service.translate.states import columns, figures, rounded
from studbook_service.translate.words import CORNER

Arm = Literal["upper", "lower"]

LONGER_IN = (0.0, 0.25, 0.5, 1.0)


def ball_load(reader: DocumentReader, name: str, arm: Arm, pose: Pose, force: Array) -> BallLoad:
    """Split the force of an arm on its ball by the stud's direction."""
    if not axis_measured(reader, name, arm):
        reader.assume(f"{CORNER[name]} {arm} stud: its axis was not measured and is taken along the line of the balls")
    parts = stud_load(force_lb=force, axis=stud_axis(pose, joint=arm))
    return BallLoad(
        force_lb=columns(force),
        size_lb=rounded(root(np.sum(force**2))),
        across_lb=rounded(parts.across_lb),
        axial_lb=rounded(parts.axial_lb),
        axial_is="compression" if parts.axial_lb >= 0 else "tension",
    )


def stress(reader: DocumentReader, name: str, arm: Arm, load: BallLoad, missing: list[Missing]) -> StudStress | None:
    """Give the stress in a stud as fitted, and its strength where its material's yield and a source are recorded."""
    fitted = f"setup.front.{name}.{arm}_stud"
    lever = reader.get(f"{fitted}.length_in") or reader.get(f"survey.front.{name}.{arm}_stud.length_in")
    seat = reader.get(f"{fitted}.seat_diameter_in")
    lacking = [
        path for path, value in ((f"{fitted}.length_in", lever), (f"{fitted}.seat_diameter_in", seat)) if value is None
    ]
    if lacking:
        note_missing(missing, "stud stress", lacking)
        return None
    sections = reader.get(f"{fitted}.sections_in") or None
    neck = reader.get(f"{fitted}.neck_diameter_in")
    if neck is not None and sections is None:
        reader.assume(f"{CORNER[name]} {arm} stud: its {neck:g} in neck is left out; record in sections_in where it is")
    stud = {"lever_in": lever, "seat_diameter_in": seat, "sections_in": sections}
    found = stud_stress(across_lb=load.across_lb, axial_lb=load.axial_lb, extra_in=LONGER_IN, **stud)
    shear = np.broadcast_to(found.shear_psi, len(LONGER_IN))
    answer = StudStress(
        title=found.title,
        worst_section=_section(int(found.section[0]), seat, sections),
        lever_in=rounded(lever),
        **figures(found, ("moment_in_lb", "bending_psi", "axial_psi"), 0),
        shear_psi=rounded(shear[0]),
        slenderness=rounded(lever / seat),
        longer=LongerStud(longer_in=list(LONGER_IN), bending_psi=columns(found.bending_psi)),
    )
    material = f"{fitted}.material"
    strength, source = reader.get(f"{material}.yield_psi"), reader.get(f"{material}.source")
    if strength is None or not source:
        fields = [f"{material}.yield_psi"] * (strength is None) + [f"{material}.source"] * (not source)
        note_missing(missing, "stud strength", fields)
        return answer
    limits = stud_limits(yield_psi=strength, extra_in=LONGER_IN, **stud)
    answer.longer.first_yield_lb, answer.longer.hinge_lb = columns(limits.first_yield_lb), columns(limits.hinge_lb)
    answer.strength = Strength(
        yield_psi=strength,
        source=source,
        **figures(limits, ("first_yield_lb", "hinge_lb"), 0),
        shear_lb=rounded(np.broadcast_to(limits.shear_lb, len(LONGER_IN))[0]),
        share_of_first_yield=rounded(load.across_lb / limits.first_yield_lb[0]),
        bends_first=bool(limits.bends_first[0]),
    )
    return answer


def _section(index: int, seat: float, sections: list[list[float]] | None) -> str:
    if index == 0 or sections is None:
        return f"seat, {seat:g} in"
    diameter, place = sections[index - 1]
    return f"{diameter:g} in, {place:g} in from the ball"
