import json
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import t as t_distribution

from qc.charts.block_means import prediction_limits, spread_for
from qc.errors import QuestionError, TooLittleData
from qc.stats.lag import effective
from tests.simulations.block_means_false_alarms import RESULT, rate

MEANS = np.array([0.4, -1.1, 0.9, 2.0, -0.3, 1.2, -0.8, 0.1, 0.6, -1.5])
EIGHT = np.full(10, 8)


def limits(means=MEANS, bores=EIGHT, **options):
    options = {"spread_in_block": 2.0, "spread_between_blocks": 0.7, "level": 0.01} | options
    return prediction_limits(means, bores, **options)


def test_limits_of_the_next_block_are_the_normal_prediction_interval():
    # Hahn and Meeker (1991) 4.8: mean +- t(1 - a/2, m - 1) s sqrt(1 + 1/m), written out with scipy's t.
    chart = limits()
    half = t_distribution.ppf(0.995, 9) * MEANS.std(ddof=1) * np.sqrt(1.1)
    assert chart.center == pytest.approx(MEANS.mean())
    assert (chart.lower_limit, chart.upper_limit) == pytest.approx((MEANS.mean() - half, MEANS.mean() + half))


def test_a_later_block_with_fewer_bores_has_wider_limits():
    chart = limits(np.append(MEANS, [0.0, 0.0]), np.append(EIGHT, [4, 8]), learn=10)
    # spread in block 2 gives a mean of eight the variance 1/2; ten usual blocks with 2.5 of it join the nine
    # degrees of freedom of the means
    among = (9 * MEANS.var(ddof=1) + 10 * 2.5 * 0.5) / 19 - 0.5
    s4, s8 = np.sqrt(among + 4 / 4), np.sqrt(among + 4 / 8)
    assert (chart.upper[10] - chart.center) / (chart.upper[11] - chart.center) == pytest.approx(s4 / s8)
    # eight bores in every block learned from: their own limits are those of equal blocks
    assert chart.upper[11] == pytest.approx(limits(learn=10).upper_limit)


def test_only_the_spread_in_a_block_makes_a_smaller_block_less_sure():
    # no spread in block: a mean of four is as sure as one of eight
    means, bores = np.append(MEANS, 0.0), np.append(EIGHT, 4)
    chart = limits(means, bores, spread_in_block=0.0, learn=10)
    assert chart.upper[10] == pytest.approx(limits(learn=10).upper_limit)
    # block means that agree far better than bores in a block allow: sqrt(2) for half the bores, nearly
    close = limits(np.append(MEANS / 100, 0.0), bores, spread_in_block=100.0, learn=10)
    ratio = (close.upper[10] - close.center) / (close.lower_limit - close.center)
    assert 1.2 < -ratio < np.sqrt(2)


def test_a_block_among_those_learned_from_is_held_against_the_others():
    # The same block left out, and the limits of the other nine at the same level: scipy's t again.
    means = MEANS.copy()
    for value, signal in ((8.0, True), (1.0, False)):
        means[3] = value
        others = np.delete(means, 3)
        half = t_distribution.ppf(0.995, 8) * others.std(ddof=1) * np.sqrt(1 + 1 / 9)
        assert limits(means).signals[3] == (abs(value - others.mean()) > half) == signal


def test_limits_that_are_set_judge_only_what_comes_after():
    chart = limits(np.append(MEANS, 9.0), np.append(EIGHT, 8), learn=10)
    assert chart.m == 10
    assert list(np.flatnonzero(chart.signals)) == [10]
    assert limits(np.append(MEANS, 9.0), np.append(EIGHT, 8), learn=np.arange(11) < 10).center == chart.center


def test_correlated_blocks_widen_the_limits():
    assert limits(lag1=0.5).upper_limit > limits().upper_limit
    set_limits, learned = limits(lag1=0.5, learn=10), limits(lag1=0.5)
    assert set_limits.m_eff < learned.m_eff
    assert limits(lag1=-0.4).upper_limit == limits().upper_limit


def test_a_missing_block_mean_is_passed_over():
    chart = limits(np.append(MEANS, np.nan), np.append(EIGHT, 8))
    assert chart.upper_limit == limits().upper_limit
    assert not chart.signals[-1]


def test_shifting_values_shifts_limits():
    assert limits(MEANS + 100).upper_limit == pytest.approx(limits().upper_limit + 100)


def test_run_length_is_said_in_words():
    assert "1,370 blocks with limits from 10 blocks" in limits(level=0.00073).run_length


def test_too_few_blocks_are_refused():
    with pytest.raises(TooLittleData, match="wait for another build"):
        limits(MEANS[:2], EIGHT[:2])
    with pytest.raises(QuestionError, match="number of bores"):
        limits(MEANS, EIGHT[:3])


@pytest.mark.simulation
@pytest.mark.parametrize("rho", [0.0, 0.5])
def test_part_of_the_kept_simulation_of_false_alarms(rho):
    found, error = rate(20, rho, pooled=8, learn=None, rounds=1600, seed=99)
    assert 0.6 - 3 * error <= found <= 1.2 + 3 * error


def test_the_kept_simulation_met_its_bounds():
    kept = json.loads(Path(RESULT).read_text(encoding="utf-8"))
    cells = [
        c for c in kept["cells"] if c["limits"] == "next block" and c["lag1"] != "own" and c["rho"] <= 0.5
    ]
    assert len(cells) >= 9
    for cell in cells:
        assert 0.6 <= cell["times_stated"] <= 1.2, cell


def test_the_spread_of_a_block_of_few_bores_is_that_of_the_ratio_worked_out_by_hand():
    # learned from blocks of 8, 8, 4, 4: h = 16/3; spread in a block 4: W/h = 3; variance of means 5; drawn
    # to (3 x 5 + 10 x 2.5 x 3)/13 = 90/13: B = 51/13, (B + W/n)/(B + W/h) = 103/90 for 4 bores, 77/90 for 8
    x = np.sqrt(5) * np.array([1.5, -0.5, -0.5, -0.5])
    worth = effective(4, 0.0)
    found = spread_for(np.array([4.0, 8.0]), x, np.array([8.0, 8.0, 4.0, 4.0]), 4.0, 1.0, worth)
    assert worth.variance_factor == 1
    assert found == pytest.approx(np.sqrt([5 * 103 / 90, 5 * 77 / 90]), rel=1e-12)
