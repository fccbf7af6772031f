import numpy as np
import pytest
from scipy.stats import binomtest, fisher_exact

from qc.charts.attributes import faults, shares
from qc.errors import QuestionError, TooLittleData

RIGHT = np.array([9, 10, 7, 12, 8, 2])
BUILT = np.array([10, 11, 9, 12, 9, 10])


@pytest.mark.parametrize("level", [0.02, 0.1, 0.3, 0.5, 0.8])
def test_a_month_signals_exactly_where_fishers_test_says_so(level):
    chart = shares(RIGHT, BUILT, level=level)
    for i in range(RIGHT.size):
        x, n = RIGHT[i], BUILT[i]
        others = [RIGHT.sum() - x, (BUILT - RIGHT).sum() - (n - x)]
        tails = [fisher_exact([[x, n - x], others], alternative=a).pvalue for a in ("less", "greater")]
        assert chart.signals[i] == (min(tails) <= level / 2)
    assert chart.signals[5]


def test_faults_signal_exactly_where_the_binomial_test_says_so():
    counts, area = np.array([4, 6, 5, 19, 3]), np.array([1.0, 1.0, 2.0, 1.0, 0.5])
    chart = faults(counts, area, level=0.01)
    for i in range(5):
        tails = [
            binomtest(int(counts[i]), int(counts.sum()), area[i] / area.sum(), alternative=a).pvalue
            for a in ("less", "greater")
        ]
        assert chart.signals[i] == (min(tails) <= 0.005)
    assert chart.signals[3]


def test_on_the_limit_is_inside_and_one_further_is_not():
    chart = shares(RIGHT, BUILT, level=0.02)
    at_limit = RIGHT.copy()
    at_limit[5] = int(chart.lower[5])
    assert not shares(at_limit, BUILT, level=0.02).signals[5]
    at_limit[5] -= 1
    assert shares(at_limit, BUILT, level=0.02).signals[5]


def test_all_right_is_quiet_and_nothing_warns():
    chart = shares([5, 6, 7], [5, 6, 7])
    assert not chart.signals.any()
    assert not faults([0, 0, 0], [1, 1, 1]).signals.any()


def test_false_alarms_stay_below_the_level():
    rng = np.random.default_rng(3)
    found = [shares(rng.binomial(12, 0.85, 15), np.full(15, 12), level=0.1).signals.mean() for _ in range(30)]
    assert 0.005 < np.mean(found) <= 0.1


def test_impossible_counts_are_refused():
    with pytest.raises(QuestionError, match="no more can be counted"):
        shares([5, 6], [4, 6])
    with pytest.raises(QuestionError, match="whole numbers"):
        faults([1.5, 2], [1, 1])
    with pytest.raises(TooLittleData, match="2 periods"):
        shares([5], [6])
