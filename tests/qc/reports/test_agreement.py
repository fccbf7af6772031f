"""Whether the next blocks agree, against tabled t points and exact arithmetic."""

from fractions import Fraction

import numpy as np
import pytest

from qc.errors import TooLittleData
from qc.reports import agreement

# upper 97.5 % points of Student's t: NIST/SEMATECH e-Handbook 1.3.6.7.2, three decimals
T_2, T_4 = 4.303, 2.776


def test_one_more_stretch_is_expected_by_the_prediction_interval_of_the_earlier_ones():
    # mean 2, sd 1, three stretches: half = t(2) sqrt(1 + 1/3)
    level, half = agreement.expected_of_stretches(np.array([1.0, 2.0, 3.0]))
    assert level == 2
    assert half == pytest.approx(T_2 * (4 / 3) ** 0.5, abs=0.0005 * 1.16)


def test_five_more_blocks_are_expected_by_the_prediction_interval_of_their_mean():
    # values 1 to 5: variance 5/2; half = t(4) sqrt(5/2 (1/5 + 1/5)) = t(4)
    level, half = agreement.expected_of_blocks(np.arange(1.0, 6.0), 5, 0.0)
    assert level == 3
    assert half == pytest.approx(T_4, abs=0.0005)


@pytest.mark.parametrize("rho", [Fraction(0), Fraction(1, 4), Fraction(1, 2)])
def test_variance_of_a_mean_of_neighbours_by_hand(rho):
    # var((x1 + x2)/2) = (1 + rho)/2; var((x1 + x2 + x3)/3) = (3 + 4 rho + 2 rho^2)/9
    assert agreement.variance_of_mean(2, float(rho)) == pytest.approx(float((1 + rho) / 2), rel=1e-12)
    expected = (3 + 4 * rho + 2 * rho**2) / 9
    assert agreement.variance_of_mean(3, float(rho)) == pytest.approx(float(expected), rel=1e-12)
    assert agreement.variance_of_mean(1, float(rho)) == 1


def test_blocks_that_lean_on_each_other_may_stand_further_off():
    before = np.arange(1.0, 9.0)
    alone = agreement.expected_of_blocks(before, 5, 0.0)[1]
    assert agreement.expected_of_blocks(before, 5, 0.5)[1] > 1.3 * alone


@pytest.mark.parametrize("two", [False, True])
def test_on_a_wearing_line_the_next_blocks_are_expected_as_a_regression_predicts(two):
    import statsmodels.api as sm

    draw = np.random.default_rng(5)
    wear = np.tile(np.arange(2.0, 50.0, 4.0), 2 if two else 1)
    stretch = np.repeat([0, 1], 12)[: wear.size]
    before = 3 + 0.05 * wear + draw.normal(0, 0.4, wear.size)
    level, half = agreement.expected_on_line(before, wear, stretch, 70.0, 5, 0.0)
    columns = [wear, *((stretch == s).astype(float) for s in np.unique(stretch))]
    fit = sm.OLS(before, np.column_stack(columns)).fit()
    # a mean over the stretches seen: each of them equally
    ahead = np.array([[70.0, *([1 / (2 if two else 1)] * (2 if two else 1))]])
    told = fit.get_prediction(ahead)
    assert level == pytest.approx(told.predicted_mean[0], rel=1e-9)
    se = np.hypot(told.se_mean[0], np.sqrt(fit.scale / 5))
    # t(0.975) for 10 and 21 degrees of freedom: NIST/SEMATECH e-Handbook 1.3.6.7.2
    assert half == pytest.approx((2.080 if two else 2.228) * se, rel=3e-4)


def test_too_little_before_says_nothing():
    with pytest.raises(TooLittleData):
        agreement.expected_of_stretches(np.array([1.0, 2.0]))
    with pytest.raises(TooLittleData):
        agreement.expected_of_blocks(np.array([1.0, 2.0, 3.0, 4.0]), 5, 0.0)


@pytest.mark.parametrize(
    ("made", "agree", "words"),
    [
        (1, True, "1 of the next 5 blocks is in and agrees"),
        (1, False, "1 of the next 5 blocks is in and does not agree"),
        (3, False, "3 of the next 5 blocks are in and do not agree"),
        (5, True, "the 5 blocks after it agree"),
        (5, False, "the 5 blocks after it do not agree"),
    ],
)
def test_what_is_told_of_the_next_blocks_is_a_sentence(made, agree, words):
    assert agreement.that_agree(made, agree) == words
