"""What suspension links carry past the springs: side force along n-lines, thrust along the side-view lines."""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from studbook_service.engine.batches import diagonal
from studbook_service.engine.bounds import bounded
from studbook_service.engine.vectors import Array


class Links(NamedTuple):
    """The links of a car.

    Attributes:
        front, rear: of each axle, from `n_lines` or `roll_center_links`, (2, 2, *batch).
        drive_slopes: dz/dx = −v_x/v_z of each rear wheel's side-view line, (2, *batch): pounds lifted per pound of
            thrust, from `side_slope`.
    """

    front: Array
    rear: Array
    drive_slopes: npt.ArrayLike = (0.0, 0.0)


def n_lines(*, left_slope: npt.ArrayLike, right_slope: npt.ArrayLike) -> Array:
    """d(y of patch)/d(travel) of two independent corners, rows the patches, columns the wheels, (2, 2, *batch).

    Args:
        left_slope: dz/dy of the left n-line, (*batch).
        right_slope: the same at the right.

    Raises:
        ValueError: a slope that is not finite.

    Source: an n-line is square to its patch's velocity.

    >>> n_lines(left_slope=-0.1, right_slope=0.15).tolist()
    [[0.1, 0.0], [0.0, -0.15]]
    """
    left = bounded("left_slope", left_slope, unit="in per in")
    right = bounded("right_slope", right_slope, unit="in per in")
    return diagonal(-left, -right)


def roll_center_links(
    *, height_in: npt.ArrayLike, track_in: npt.ArrayLike, shift_per_bump: npt.ArrayLike = 0.0
) -> Array:
    """As `n_lines`, for a beam axle: both patches move together, by its roll about its roll center.

    Two independent n-lines in its place would jack the car up falsely.

    Args:
        height_in: of the roll center over the patches, (*batch).
        track_in: between the patches.
        shift_per_bump: how far the axle shifts, + left, per inch of bump: what an inclined lateral bar makes, whose
            pull then lifts or lowers the chassis. 0 for a level bar.

    Raises:
        ValueError: a track not above 0, or a number that is not finite.

    Source: rigid-body kinematics.

    >>> roll_center_links(height_in=11.0, track_in=64.0).tolist()
    [[0.171875, -0.171875], [0.171875, -0.171875]]
    """
    height = bounded("height_in", height_in, unit="in")
    track = bounded("track_in", track_in, unit="in", above=0)
    shift = bounded("shift_per_bump", shift_per_bump, unit="in per in")
    both = np.stack(np.broadcast_arrays(height / track + shift / 2, -height / track + shift / 2))
    return np.stack([both, both])
