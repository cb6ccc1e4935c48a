"""Statistics against SciPy and statsmodels."""

import random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import special, stats
from statsmodels.regression.linear_model import OLS
from statsmodels.stats.multitest import multipletests

from studbook_service.season.statistics import BlockSums, beyond, block, holm, mean, slopes
from studbook_service.season.student import critical, incomplete_beta, two_sided_p

DICE = random.Random(6)  # noqa: S311 - made-up numbers


@given(st.floats(0, 1), st.floats(0.5, 300), st.floats(0.5, 300))
def test_the_incomplete_beta_function_is_scipys(x: float, a: float, b: float) -> None:
    assert incomplete_beta(x, a=a, b=b) == pytest.approx(special.betainc(a, b, x), abs=1e-11)


@pytest.mark.parametrize("df", [1, 2, 3, 5, 10, 30, 137, 2500])
@pytest.mark.parametrize("t", [0.0, 0.1, 1.0, 1.96, 3.5, 12.0, 300.0])
def test_students_t_is_scipys(t: float, df: int) -> None:
    assert two_sided_p(t, df=df) == pytest.approx(2 * stats.t.sf(t, df), rel=1e-9, abs=1e-300)


@pytest.mark.parametrize("df", [1, 2, 4, 9, 40, 999])
@pytest.mark.parametrize("confidence", [0.5, 0.9, 0.95, 0.999])
def test_the_critical_t_is_scipys(confidence: float, df: int) -> None:
    assert critical(confidence, df=df) == pytest.approx(stats.t.ppf((1 + confidence) / 2, df), rel=1e-10)


@pytest.mark.parametrize("count", [2, 3, 8, 40])
def test_a_mean_is_scipys_t_test(count: int) -> None:
    values = [DICE.gauss(0.1, 1) for _ in range(count)]
    found, theirs = mean(values), stats.ttest_1samp(values, 0)
    assert found is not None
    assert found.p == pytest.approx(theirs.pvalue, rel=1e-9)
    assert (found.low, found.high) == pytest.approx(tuple(theirs.confidence_interval(0.95)), rel=1e-9)


@pytest.mark.parametrize("count", [2, 5, 30])
def test_one_more_value_is_held_against_others_as_a_prediction_of_statsmodels(count: int) -> None:
    """The interval for one more observation of a regression on a constant, moved to the difference."""
    others, one = [DICE.gauss(0, 1) for _ in range(count)], 1.5
    found = beyond(one, others)
    low, high = OLS(others, np.ones(count)).fit().get_prediction([1.0]).conf_int(obs=True, alpha=0.05)[0]
    assert found is not None
    assert (found.low, found.high) == pytest.approx((one - high, one - low), rel=1e-9)


def test_a_slope_within_blocks_is_a_regression_of_statsmodels_with_a_level_for_each_block() -> None:
    groups = [
        [(DICE.choice((1.2, 1.3, 1.7)), float(place), DICE.gauss(17, 1)) for place in range(DICE.randint(2, 6))]
        for _ in range(20)
    ]
    found = slopes(sum(map(block, groups), BlockSums()))
    rows = [(*row, number) for number, group in enumerate(groups) for row in group]
    levels = np.array([[float(number == each) for each in range(len(groups))] for *_, number in rows])
    table = np.column_stack([np.array([row[:2] for row in rows]), levels])
    theirs = OLS([row[2] for row in rows], table).fit()
    assert found is not None
    assert found.effect.value == pytest.approx(theirs.params[0], rel=1e-8)
    assert found.drift == pytest.approx(theirs.params[1], rel=1e-8)
    assert found.effect.p == pytest.approx(theirs.pvalues[0], rel=1e-8)
    assert (found.effect.low, found.effect.high) == pytest.approx(tuple(theirs.conf_int(0.05)[0]), rel=1e-8)
    assert found.effect.df == theirs.df_resid


def test_a_setting_that_only_rose_through_the_night_cannot_be_told_from_the_drift() -> None:
    assert slopes(sum((block([(0, 0, 17 + n), (1, 1, 17.3 + n)]) for n in range(9)), BlockSums())) is None


def test_blocks_with_nothing_changed_tell_the_drift() -> None:
    rose = sum((block([(0, 0, 17 + n), (1, 1, 17.3 + n + n / 50)]) for n in range(9)), BlockSums())
    held = sum((block([(0, 0, 17 + n), (0, 1, 17.1 + n)]) for n in range(9)), BlockSums())
    found = slopes(rose + held)
    assert found is not None
    assert found.drift == pytest.approx(0.1)
    assert found.effect.value == pytest.approx(0.2 + sum(n / 50 for n in range(9)) / 9)


@pytest.mark.parametrize("count", [1, 2, 3, 7, 40])
def test_holms_adjustment_is_that_of_statsmodels(count: int) -> None:
    chances = [DICE.choice((0.0, 0.01, DICE.random() ** 4)) for _ in range(count)]
    assert holm(chances) == pytest.approx(list(multipletests(chances, method="holm")[1]), abs=1e-12)


def test_nothing_is_told_of_too_few() -> None:
    assert mean([1.0]) is None
    assert beyond(1.0, [1.0]) is None
    assert slopes(block([(0, 0, 1), (1, 1, 2)])) is None
    assert holm([]) == []


def test_without_any_spread_nothing_is_told_as_a_difference() -> None:
    """Times read to the tenth can be equal; then there is nothing to hold a difference against."""
    found = beyond(1.0, [0.0, 0.0, 0.0])
    assert found is not None
    assert found.p == 1
