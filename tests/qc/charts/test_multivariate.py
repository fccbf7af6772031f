import numpy as np
import pytest
from scipy.stats import f

from qc.charts.multivariate import limit, multivariate
from qc.errors import QuestionError, TooLittleData

RNG = np.random.default_rng(9)
MIX = np.array([[1.5, 0.0, 0.0], [1.2, 0.6, 0.0], [0.1, 0.2, 0.05]])
QUIET = RNG.normal(size=(40, 3)) @ MIX.T
NAMES = ("bore size", "bore taper", "Ra")


def test_the_limit_is_that_of_the_formula_with_scipys_f():
    m, p = 40, 3
    expected = p * (m + 1) * (m - 1) / (m * (m - p)) * f.ppf(0.99, p, m - p)
    assert limit(m, p, 0.01) == pytest.approx(expected)
    assert multivariate(QUIET, NAMES, level=0.01).upper_limit == pytest.approx(expected)


def test_a_block_that_breaks_the_pattern_signals_though_each_value_is_usual():
    odd = np.vstack((QUIET, [[2.0, -2.0, 0.0]]))
    chart = multivariate(odd, NAMES, learn=40, level=0.01)
    assert list(np.flatnonzero(chart.signals[40:])) == [0]
    assert np.abs(odd[40, :2]).max() < 3 * QUIET.std(axis=0)[:2].min() * 1.5
    assert chart.contributions[40, :2].min() > chart.contributions[40, 2]


def test_one_variable_far_off_contributes_most():
    odd = np.vstack((QUIET, QUIET.mean(axis=0) + [0, 0, 3.0]))
    chart = multivariate(odd, NAMES, learn=40)
    assert int(np.argmax(chart.contributions[40])) == 2


def test_quiet_blocks_signal_as_often_as_said():
    rng = np.random.default_rng(2)
    among, later = [], []
    for _ in range(600):
        chart = multivariate(rng.normal(size=(30, 2)), NAMES[:2], learn=20, level=0.05)
        among.append(chart.signals[:20].mean())
        later.append(chart.signals[20:].mean())
    assert np.mean(among) == pytest.approx(0.05, abs=4 * np.std(among) / np.sqrt(600))
    assert np.mean(later) == pytest.approx(0.05, abs=4 * np.std(later) / np.sqrt(600))


def test_units_and_shifts_do_not_matter():
    other = QUIET * [1 / 25.4, 1000.0, 3.0] + [5.0, -2.0, 100.0]
    assert multivariate(other, NAMES).statistic == pytest.approx(multivariate(QUIET, NAMES).statistic)


def test_a_block_that_lacks_a_variable_is_passed_over():
    gap = np.vstack((QUIET, [[1.0, np.nan, 0.0]]))
    chart = multivariate(gap, NAMES)
    assert np.isnan(chart.statistic[40])
    assert not chart.signals[40]
    assert chart.statistic[:40] == pytest.approx(multivariate(QUIET, NAMES).statistic)


def test_too_many_variables_and_variables_that_say_the_same_are_refused():
    with pytest.raises(TooLittleData, match="24 blocks"):
        multivariate(QUIET[:23], NAMES)
    with pytest.raises(QuestionError, match="leave one"):
        multivariate(np.column_stack((QUIET[:, 0], 2 * QUIET[:, 0])), NAMES[:2])
    with pytest.raises(TooLittleData, match="never varies"):
        multivariate(np.column_stack((QUIET[:, 0], np.ones(40))), NAMES[:2])
    with pytest.raises(QuestionError, match="2 of them"):
        multivariate(QUIET[:, :1], NAMES[:1])
