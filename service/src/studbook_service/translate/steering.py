"""A car's steering: what a shift of its rack or center link does to the inner ends of the tie rods."""

import numpy as np

from studbook.wire.answers import Missing
from studbook_service.engine.steering import CenterLink, center_link, rack
from studbook_service.engine.vectors import Array
from studbook_service.translate.document import DocumentReader
from studbook_service.translate.errors import CannotClose, FieldsMissing
from studbook_service.translate.front_end import FrontEnd

HALF_TRAVEL_IN = 2.5
"""Rack or link travel each way when the document does not say (common practice, no source)."""

LINK_POINTS = ("pitman_pivot_in", "pitman_axis", "pitman_end_in", "idler_pivot_in", "idler_axis", "idler_end_in")


def link_shift(front: FrontEnd, shift: Array) -> Array | None:
    """Give what a center link's shifts do to both inner tie-rod ends, (3, 2, shifts), or None without its points."""
    reader = front.reader
    points = {point.removesuffix("_in"): reader.get(f"survey.front.steering.{point}") for point in LINK_POINTS}
    if None in points.values():
        return None
    inner = {
        f"{side}_inner": reader.get(f"survey.front.{name}.points.tie_inner_in")
        for side, name in (("left", "lf"), ("right", "rf"))
    }
    moved = center_link(CenterLink(**points, **inner), shift_in=shift)
    return np.stack([moved.left, moved.right], axis=1)


def link_lacking(reader: DocumentReader) -> list[str]:
    """List the points of a center link that were not surveyed."""
    return [path for point in LINK_POINTS if reader.get(path := f"survey.front.steering.{point}") is None]


def steered(front: FrontEnd, steer_in: float) -> Array:
    """Give what one shift of the steering does to the left and the right inner tie-rod end, (2, 3).

    Raises:
        FieldsMissing: it is not recorded how the car is steered.
        CannotClose: a drag link, which is not modeled; a center link that does not go so far.
    """
    if steer_in == 0:
        return np.zeros((2, 3))
    kind = front.reader.get("survey.front.steering.kind")
    if kind == "rack":
        return np.stack([rack(shift_in=steer_in)] * 2)
    if kind == "drag_link":
        raise CannotClose("steer_in: a drag link is not modeled, so the car is computed straight ahead only")
    moved = link_shift(front, np.array([steer_in])) if kind == "center_link" else None
    if moved is None:
        fields = link_lacking(front.reader) if kind == "center_link" else ["survey.front.steering.kind"]
        raise FieldsMissing([Missing(subject="steering", fields=fields)])
    if not np.all(np.isfinite(moved)):
        raise CannotClose(f"steer_in: the center link cannot go {steer_in:+g} in: an arm does not reach")
    return moved[:, :, 0].T
