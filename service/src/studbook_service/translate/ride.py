"""Wheel travel and attitude of the chassis since the survey, from the ride heights read since."""

import numpy as np

from studbook_service.engine.vectors import Array
from studbook_service.translate.document import FRONT, DocumentReader
from studbook_service.translate.errors import CannotClose

ALL = ("lf", "rf", "lr", "rr")
STEEPEST = 0.25


def travel_in(reader: DocumentReader, corner: str, *, wheel_xy: tuple[float, float]) -> float:
    """Give how far a wheel has moved up relative to the chassis since the survey.

    The chassis is rigid, so its rise at the wheel is read off the plane through the rises at the named places (least
    squares when four are known); with fewer than three places only this corner's own height counts. A larger tire
    lifts wheel and chassis alike.

    Returns:
        Travel in inches, + wheel up. 0 where no height was read since the survey.
    """
    plane = _plane(reader)
    if plane is not None:
        return _tire_growth(reader, corner) - float(plane @ (1.0, *wheel_xy))
    rise = _rise(reader, corner)
    if rise is not None:
        reader.assume(
            f"{corner.upper()}: its height is taken as read at the wheel: no three heights with their places are known"
        )
        return _tire_growth(reader, corner) - rise
    if reader.get(f"survey.ride_height.{corner}.height_in") is not None:
        reader.assume(f"{corner.upper()} is taken at its surveyed ride height: no height was read since")
    return 0.0


def attitude(reader: DocumentReader) -> tuple[float, float, float] | None:
    """Give heave, in, roll and pitch, deg, of the chassis since the survey, from the heights read at named places.

    Returns:
        Rise of the chassis origin, + right side down, + nose down; None with fewer than three heights.

    Raises:
        CannotClose: heights that would lean the chassis more than one in four.

    Source: a point of a chassis turned by Ry(pitch)·Rx(roll) rises by heave − x sin(pitch) + y cos(pitch) sin(roll),
        but for its own height's part in the cosines.
    """
    plane = _plane(reader)
    if plane is None:
        return None
    steepest = float(np.abs(plane[1:]).max())
    if steepest > STEEPEST:
        raise CannotClose(
            f"measured.ride_height: the heights lean the chassis {np.degrees(np.arctan(steepest)):.0f} deg from its"
            " survey; check them, and the places (at_in) where they were read"
        )
    pitch = np.arcsin(-plane[1])
    roll = np.arcsin(plane[2] / np.cos(pitch))
    return float(plane[0]), float(np.degrees(roll)), float(np.degrees(pitch))


def _plane(reader: DocumentReader) -> Array | None:
    """Fit the chassis' rise as a + b x + c y; None where fewer than three places say it."""
    rises = {name: rise for name in ALL if (rise := _rise(reader, name)) is not None}
    places = {name: place for name in rises if (place := _place(reader, name)) is not None}
    if len(places) < 3:
        return None
    across = np.array([[1.0, *places[name]] for name in places])
    fit, _, rank, _ = np.linalg.lstsq(across, np.array([rises[name] for name in places]), rcond=None)
    return fit if rank == 3 else None


def _rise(reader: DocumentReader, corner: str) -> float | None:
    now = reader.get(f"measured.ride_height.{corner}.height_in")
    then = reader.get(f"survey.ride_height.{corner}.height_in")
    return None if now is None or then is None else now - then


def _place(reader: DocumentReader, corner: str) -> tuple[float, float] | None:
    place = reader.get(f"survey.ride_height.{corner}.at_in")
    return None if place is None else (place[0], place[1])


def _tire_growth(reader: DocumentReader, corner: str) -> float:
    end = "front" if corner in FRONT else "rear"
    now = reader.get(f"setup.{end}.{corner}.tire.loaded_radius_in")
    then = reader.get(f"survey.{end}.{corner}.loaded_radius_in")
    return 0.0 if now is None or then is None else float(now - then)
