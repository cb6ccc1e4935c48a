"""Settled readings: average and spread by the standard library."""

import statistics

import pytest

from studbook.wire.shop import Tolerances
from studbook_service.translate.scale_session import session_weights

READINGS: list[list[float]] = [[590, 503, 718, 629], [592, 501.5, 717, 631], [589, 503, 719.5, 628]]
WHEELS = ("lf", "rf", "lr", "rr")


def test_average_and_spread() -> None:
    told = session_weights(READINGS, Tolerances())
    columns = list(zip(*READINGS, strict=True))
    for name, column in zip(WHEELS, columns, strict=True):
        assert getattr(told.average, f"{name}_lb") == pytest.approx(statistics.fmean(column), abs=1e-6)
        assert getattr(told.spread, f"{name}_lb") == pytest.approx(max(column) - min(column))
    crosses = [100 * (reading[1] + reading[2]) / sum(reading) for reading in READINGS]
    assert told.cross_spread_percent == pytest.approx(max(crosses) - min(crosses), abs=1e-6)
    assert (told.count, told.unsettled, told.tolerance_lb) == (3, [], 5)


def test_what_had_not_settled_is_named_by_corner() -> None:
    told = session_weights([[590, 503, 718, 629], [596, 498, 718, 629]], Tolerances())
    assert [each.partition(" readings")[0] for each in told.unsettled] == ["LF"]
    looser = session_weights([[590, 503, 718, 629], [596, 498, 718, 629]], Tolerances(spread_lb=6))
    assert looser.unsettled == []
