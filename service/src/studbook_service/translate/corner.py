"""A front corner of the document as the engine's corner: the survey, and what has been fitted since."""

from typing import Any

import numpy as np
import numpy.typing as npt

from studbook_service.engine.changes import Moves, apply, shims
from studbook_service.engine.corner import FrontLinkage, Mount, corner_from_survey, mount
from studbook_service.translate.document import Document

POINTS = (
    "upper_front",
    "upper_rear",
    "upper_ball",
    "lower_front",
    "lower_rear",
    "lower_ball",
    "tie_inner",
    "tie_outer",
    "wheel_center",
)
SIDE = {"lf": 1.0, "rf": -1.0}
FRONT_BODIES = ("lower_arm", "upper_arm", "spindle")


def corner_fitted(page: Document, name: str) -> FrontLinkage | None:
    """Read a front corner: its hard points, and every change from the survey that the setup records.

    Args:
        page: the document; lacking fields and assumptions are noted in it.
        name: `lf` or `rf`.

    Returns:
        The corner with its moves, or None when fields are lacking.

    Raises:
        ValueError: the hard points cannot be those of a linkage; the message names them.
    """
    surveyed = _surveyed(page, name)
    return None if surveyed is None else apply(surveyed, _moves(page, name))


def moves(**amounts: npt.ArrayLike) -> Moves:
    """Make engine moves of plain numbers and points, by the names of `Moves`.

    Example:
        >>> moves(tie_rod_in=0.1).tie_rod_in.item()
        0.1
    """
    return Moves(**{name: np.asarray(amount, dtype=np.float64) for name, amount in amounts.items()})


def shim_sign(page: Document, name: str) -> float:
    """Say which way one more shim moves the pivot: +1 outboard, -1 inboard; inboard is assumed when not recorded."""
    way = page.get(f"setup.front.{name}.upper_shims.adding_moves_pivot")
    if way is None:
        page.assume(f"{name.upper()}: adding an upper shim is taken to move the pivot inboard; it is not recorded")
    return 1.0 if way == "outboard" else -1.0


def axis_measured(page: Document, name: str, arm: str) -> bool:
    """Tell whether the direction of a stud was measured."""
    stud = f"survey.front.{name}.{arm}_stud"
    return page.get(f"{stud}.axis") is not None or page.get(f"{stud}.axis_points_in") is not None


def since(page: Document, fitted: str, surveyed: str) -> float:
    """Give how much a number of the setup has grown since the survey: 0 where either was not recorded.

    Args:
        page: the document; a number without its surveyed one is noted as taken for unchanged.
        fitted: its path in the setup.
        surveyed: its path in the survey.
    """
    now, then = page.get(fitted), page.get(surveyed)
    if now is not None and then is None:
        page.assume(f"{fitted} is taken as unchanged since the survey: {surveyed} is not recorded")
    return 0.0 if now is None or then is None else float(now - then)


def shock_mount(page: Document, name: str) -> Mount | None:
    """Read a shock's mounts, or None when they were not surveyed."""
    return _mount(page, f"survey.front.{name}.shock")


def _surveyed(page: Document, name: str) -> FrontLinkage | None:
    root = f"survey.front.{name}"
    points = {point: page.need(f"{root}.points.{point}_in") for point in POINTS}
    camber, toe = page.need(f"{root}.camber_deg"), page.need(f"{root}.toe_deg")
    radius = page.need(f"{root}.loaded_radius_in")
    if any(value is None for value in (*points.values(), camber, toe, radius)):
        return None
    _check_side(name, points)
    try:
        return corner_from_survey(
            side=SIDE[name],
            **points,
            camber_deg=camber,
            toe_deg=toe,
            loaded_radius_in=radius,
            upper_stud_axis=_stud_axis(page, name, "upper"),
            lower_stud_axis=_stud_axis(page, name, "lower"),
            upper_ball_is=page.get(f"{root}.upper_stud.ball_is") or "outside",
            lower_ball_is=page.get(f"{root}.lower_stud.ball_is") or "outside",
            upper_housing_axis=page.get(f"{root}.upper_housing.axis"),
            lower_housing_axis=page.get(f"{root}.lower_housing.axis"),
            outer_axis=page.get(f"{root}.tie_rod.outer_axis") or (0.0, 0.0, 1.0),
            spring=_mount(page, f"{root}.spring"),
        )
    except ValueError as error:
        raise ValueError(f"survey.front.{name}: {error}") from error


def _check_side(name: str, points: dict[str, Any]) -> None:
    for point in ("upper_ball", "lower_ball", "wheel_center"):
        y = points[point][1]
        if SIDE[name] * y <= 0:
            side, sign = ("left", "above") if name == "lf" else ("right", "below")
            raise ValueError(
                f"survey.front.{name}.points.{point}_in: y is {y:g} in, but the {side} side has y {sign} 0 in;"
                " left and right may be swapped"
            )


def _stud_axis(page: Document, name: str, arm: str) -> Any:
    stud = f"survey.front.{name}.{arm}_stud"
    rod = page.get(f"{stud}.axis_points_in")
    return page.get(f"{stud}.axis") or (None if rod is None else np.subtract(rod[1], rod[0]))


def _mount(page: Document, root: str) -> Mount | None:
    chassis, moving, body = (page.get(f"{root}.{leaf}") for leaf in ("chassis_in", "moving_in", "sits_on"))
    if chassis is None or moving is None or body not in FRONT_BODIES:
        return None
    return mount(chassis=chassis, moving=moving, body=body)


def _moves(page: Document, name: str) -> Moves:
    fitted, survey = f"setup.front.{name}", f"survey.front.{name}"

    def grown(leaf: str, then: str | None = None) -> float:
        return since(page, f"{fitted}.{leaf}", f"{survey}.{then or leaf}")

    front, rear = grown("upper_shims.front_in"), grown("upper_shims.rear_in")
    way = shim_sign(page, name) if front or rear else 0.0
    moved = {
        f"{pivot}_in": page.get(f"{fitted}.moved.{pivot}_in") or (0.0, 0.0, 0.0)
        for pivot in ("upper_front", "upper_rear", "lower_front", "lower_rear", "tie_inner")
    }
    spacer = grown("tie_rod.outer_spacer_in")
    if spacer and page.get(f"{survey}.tie_rod.outer_axis") is None:
        page.assume(f"{name.upper()}: a spacer at the outer tie-rod end is taken to move it straight up")
    return shims(side=SIDE[name], front_in=way * front, rear_in=way * rear) + moves(
        upper_stud_in=grown("upper_stud.length_in"),
        lower_stud_in=grown("lower_stud.length_in"),
        upper_housing_in=grown("upper_housing.ball_offset_in"),
        lower_housing_in=grown("lower_housing.ball_offset_in"),
        upper_arm_in=grown("upper_arm.length_in"),
        tie_rod_in=_rod_longer(page, name),
        outer_spacer_in=spacer,
        wheel_offset_in=grown("wheel.offset_in", "wheel_offset_in") + grown("wheel.spacer_in", "wheel_spacer_in"),
        loaded_radius_in=grown("tire.loaded_radius_in", "loaded_radius_in"),
        **moved,
    )


def _rod_longer(page: Document, name: str) -> float:
    rod = f"setup.front.{name}.tie_rod"
    if page.get(f"{rod}.length_in") is not None:
        return since(page, f"{rod}.length_in", f"survey.front.{name}.tie_rod.length_in")
    turns = page.get(f"{rod}.turns")
    if not turns:
        return 0.0
    per_turn = page.get(f"{rod}.moves_per_turn_in")
    if per_turn is None:
        page.assume(f"{rod}.turns is left out: {rod}.moves_per_turn_in is not recorded")
        return 0.0
    return float(turns * per_turn)
