"""Wheel travel from ride heights: the car stands higher or lower than it did at the survey."""

import numpy as np

from studbook_service.translate.document import Document

ALL = ("lf", "rf", "lr", "rr")


def travel_in(page: Document, corner: str, *, wheel_xy: tuple[float, float]) -> float:
    """Give how far a front wheel has moved up relative to the chassis since the survey.

    The chassis is rigid, so its rise at the wheel is read off the plane through the rises at the named places (least
    squares when four are known); with fewer than three places only this corner's own height counts. A larger tyre
    lifts wheel and chassis alike.

    Args:
        page: the document; assumptions are noted in it.
        corner: `lf` or `rf`.
        wheel_xy: the wheel centre's x and y, in.

    Returns:
        Travel in inches, + wheel up. 0 where no height was read since the survey.
    """
    rises = {name: rise for name in ALL if (rise := _rise(page, name)) is not None}
    places = {name: place for name in rises if (place := _place(page, name)) is not None}
    if len(places) >= 3:
        plane = np.array([[1.0, *places[name]] for name in places])
        fit, _, rank, _ = np.linalg.lstsq(plane, np.array([rises[name] for name in places]), rcond=None)
        if rank == 3:
            return _tyre_growth(page, corner) - float(fit @ (1.0, *wheel_xy))
    if corner in rises:
        page.assume(f"{corner.upper()}: its height was read at the wheel, for want of three heights with their places")
        return _tyre_growth(page, corner) - rises[corner]
    if page.get(f"survey.ride_height.{corner}.height_in") is not None:
        page.assume(f"{corner.upper()} stands at its surveyed ride height: no height has been read since")
    return 0.0


def _rise(page: Document, corner: str) -> float | None:
    now = page.get(f"measured.ride_height.{corner}.height_in")
    then = page.get(f"survey.ride_height.{corner}.height_in")
    return None if now is None or then is None else now - then


def _place(page: Document, corner: str) -> tuple[float, float] | None:
    place = page.get(f"survey.ride_height.{corner}.at_in")
    return None if place is None else (place[0], place[1])


def _tyre_growth(page: Document, corner: str) -> float:
    now = page.get(f"setup.front.{corner}.tyre.loaded_radius_in")
    then = page.get(f"survey.front.{corner}.loaded_radius_in")
    return 0.0 if now is None or then is None else float(now - then)
