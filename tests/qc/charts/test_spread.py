import numpy as np
import pytest
from scipy.stats import chi2, f

from qc.charts.spread import spread_chart
from qc.errors import TooLittleData

S = np.array([1.9, 2.2, 1.4, 2.6, 2.0, 1.7])
N = np.array([8, 8, 6, 8, 8, 4])


def test_a_block_is_held_against_the_pooled_spread_of_the_others_by_f():
    chart = spread_chart(S, N, level=0.01)
    v = N - 1
    for i in range(6):
        others = np.delete(np.arange(6), i)
        pooled = (v[others] * S[others] ** 2).sum() / v[others].sum()
        expected = np.sqrt(pooled * f.ppf([0.005, 0.995], v[i], v[others].sum()))
        assert (chart.lower[i], chart.upper[i]) == pytest.approx(tuple(expected))
    assert chart.center == pytest.approx(np.sqrt((v * S**2).sum() / v.sum()))


def test_with_very_many_blocks_the_limits_are_those_of_a_known_spread():
    s = 2.0 * np.ones(20_000)
    s[::2] = 2.000001
    chart = spread_chart(s, np.full(20_000, 8), level=0.0027)
    assert chart.upper_limit == pytest.approx(2 * np.sqrt(chi2.ppf(1 - 0.00135, 7) / 7), rel=1e-3)


def test_quiet_blocks_signal_as_often_as_said():
    rng = np.random.default_rng(5)
    later = []
    for _ in range(800):
        x = rng.normal(size=(30, 6))
        later.append(
            spread_chart(x.std(axis=1, ddof=1), np.full(30, 6), level=0.05, learn=10).signals[10:].mean()
        )
    assert np.mean(later) == pytest.approx(0.05, abs=4 * np.std(later) / np.sqrt(800))


def test_a_grown_spread_signals_upward_and_a_block_of_one_bore_never():
    chart = spread_chart(np.append(S, [9.0, np.nan]), np.append(N, [8, 1]), learn=6, level=0.01)
    assert list(np.flatnonzero(chart.signals)) == [6]
    assert np.isnan(chart.upper[7])


def test_inch_and_millimetre_files_give_the_same_limits():
    assert spread_chart(S / 25.4, N).upper_limit * 25.4 == pytest.approx(spread_chart(S, N).upper_limit)


def test_no_spread_and_too_few_blocks_are_refused_with_a_sentence():
    with pytest.raises(TooLittleData, match="all equal"):
        spread_chart(np.zeros(6), N)
    with pytest.raises(TooLittleData, match="3 blocks"):
        spread_chart(S, np.ones(6))
