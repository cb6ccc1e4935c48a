"""A center link keeps its lengths; a parallelogram keeps its direction."""

import numpy as np
import pytest

from studbook_service.engine.steering import CenterLink, center_link, rack

LINK = CenterLink(
    pitman_pivot=(11.0, 8.5, 8.0),
    pitman_axis=(0.05, 0.1, 1.0),
    pitman_end=(5.5, 9.0, 8.2),
    idler_pivot=(11.2, -8.0, 8.1),
    idler_axis=(0.0, -0.1, 1.0),
    idler_end=(5.8, -8.6, 8.0),
    left_inner=(5.2, 11.5, 8.0),
    right_inner=(5.4, -11.0, 8.1),
)
SHIFTS = np.linspace(-3.0, 3.0, 25)


def test_starts_where_it_was_surveyed() -> None:
    shift = center_link(LINK, shift_in=0.0)
    np.testing.assert_allclose(shift.left, 0, atol=1e-12)
    np.testing.assert_allclose(shift.right, 0, atol=1e-12)
    assert shift.closed


def test_link_stays_rigid_and_on_its_arms() -> None:
    """The ends are inner ends too: taken as such, they must run on their arms' circles at the link's length."""
    ends = CenterLink(**{**vars(LINK), "left_inner": LINK.pitman_end, "right_inner": LINK.idler_end})
    shift, inner = center_link(ends, shift_in=SHIFTS), center_link(LINK, shift_in=SHIFTS)
    pitman = np.array(LINK.pitman_end)[:, None] + shift.left
    idler = np.array(LINK.idler_end)[:, None] + shift.right
    np.testing.assert_allclose(shift.left[1], SHIFTS, atol=1e-12)
    surveyed = np.linalg.norm(np.subtract(LINK.pitman_end, LINK.idler_end))
    np.testing.assert_allclose(np.linalg.norm(pitman - idler, axis=0), surveyed, atol=1e-12)
    for end, start, pivot, axis in (
        (pitman, LINK.pitman_end, LINK.pitman_pivot, LINK.pitman_axis),
        (idler, LINK.idler_end, LINK.idler_pivot, LINK.idler_axis),
    ):
        about = np.array(axis) / np.linalg.norm(axis)
        arm = end - np.array(pivot)[:, None]
        np.testing.assert_allclose(about @ arm, about @ np.subtract(start, pivot), atol=1e-12)
        np.testing.assert_allclose(np.linalg.norm(arm, axis=0), np.linalg.norm(np.subtract(start, pivot)), atol=1e-12)
    for place, start in ((inner.left, LINK.left_inner), (inner.right, LINK.right_inner)):
        point = np.array(start)[:, None] + place
        for end, base in ((pitman, LINK.pitman_end), (idler, LINK.idler_end)):
            np.testing.assert_allclose(
                np.linalg.norm(point - end, axis=0), np.linalg.norm(np.subtract(start, base)), atol=1e-12
            )


def test_inner_ends_swing_on_arcs() -> None:
    shift = center_link(LINK, shift_in=SHIFTS)
    assert float(np.ptp(shift.left[0])) > 0.5
    np.testing.assert_allclose(rack(shift_in=SHIFTS)[[0, 2]], 0)


def test_arm_that_cannot_go_so_far_is_not_closed() -> None:
    shift = center_link(LINK, shift_in=[0.0, 9.0])
    assert shift.closed.tolist() == [True, False]
    assert np.isnan(shift.left[:, 1]).all()


def test_long_arms_come_near_a_rack() -> None:
    """Arms of 1,000 in: an arc of 2 in departs from its chord by 2²/2000 = 0.002 in."""
    far = {"pitman_pivot": (1005.5, 9.0, 8.2), "idler_pivot": (1005.8, -8.6, 8.0)}
    spindle = {"pitman_axis": (0, 0, 1), "idler_axis": (0, 0, 1)}
    shift = center_link(CenterLink(**{**vars(LINK), **far, **spindle}), shift_in=2.0)
    np.testing.assert_allclose(shift.left, rack(shift_in=2.0), atol=2.1e-3)
    assert float(shift.left[0]) == pytest.approx(0.002, abs=1e-4)
