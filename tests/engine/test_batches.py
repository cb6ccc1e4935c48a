"""Solving many small systems at once, some of them singular."""

import numpy as np

from studbook_service.engine.batches import solutions


def test_a_singular_lane_is_left_out_and_the_others_are_solved() -> None:
    lanes = np.stack([2 * np.eye(2), np.array([[1.0, 2.0], [2.0, 4.0]]), np.array([[0.0, 1.0], [1.0, 0.0]])], axis=-1)
    found = solutions(lanes, np.array([[1.0], [3.0]])[..., None] * np.ones(3))
    np.testing.assert_allclose(found[:, 0, 0], [0.5, 1.5])
    assert np.isnan(found[:, 0, 1]).all()
    np.testing.assert_allclose(found[:, 0, 2], [3.0, 1.0])


def test_beside_a_singular_lane_those_near_it_are_left_out_too() -> None:
    lanes = np.stack([np.zeros((1, 1)), np.full((1, 1), 1e-6), np.full((1, 1), 4.0)], axis=-1)
    found = solutions(lanes, np.ones((1, 1, 3)), least_determinant=1e-5)
    assert np.isnan(found[0, 0]).tolist() == [True, True, False]
    assert found[0, 0, 2] == 0.25
