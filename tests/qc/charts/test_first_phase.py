"""Blocks that stand apart while limits are learned; how far single charts differ; what ranges really give."""

import numpy as np
import pytest
from scipy import stats

from qc.charts.block_means import one_chart, prediction_limits
from qc.charts.first_phase import level_of_all, standing_apart
from qc.charts.shewhart import means_and_ranges


def test_two_bad_blocks_do_not_hide_each_other():
    values = np.random.default_rng(4).normal(0, 1, 20)
    values[[7, 8]] = 5.5
    assert standing_apart(values, level=0.02, most=1).places == ()
    assert set(standing_apart(values, level=0.02, most=2).places) == {7, 8}


def test_the_worst_is_named_first_and_at_most_so_many():
    values = np.r_[np.random.default_rng(4).normal(0, 1, 40), 30.0, 20.0, -25.0]
    assert standing_apart(values, level=0.05, most=4).places == (40, 42, 41)
    assert len(standing_apart(values, level=0.05, most=1).statistic) == 1


def test_a_missing_value_and_equal_values_name_none():
    assert standing_apart([1.0, 1.0, np.nan, 1.0, 1.0], level=0.05, most=2).places == ()
    assert standing_apart([1.0, 2.0], level=0.05, most=2).places == ()


def test_of_quiet_blocks_no_more_are_named_than_said():
    draw, level, charts = np.random.default_rng(9), 0.05, 3000
    named = sum(bool(standing_apart(draw.normal(size=40), level=level, most=4).places) for _ in range(charts))
    # 3 standard errors of the simulation; Rosner's limits are near for 25 values and more
    assert 0.03 <= named / charts <= 0.068


def test_with_the_blocks_named_together_quiet_blocks_are_called_hardly_more_often():
    draw, level, m, charts = np.random.default_rng(3), 0.004, 30, 1500
    called = 0
    for _ in range(charts):
        values = draw.normal(size=m)
        chart = prediction_limits(
            values, np.ones(m), spread_in_block=None, spread_between_blocks=None, level=level
        )
        named = np.zeros(m, dtype=bool)
        named[list(standing_apart(values, level=level_of_all(level, m), most=3).places)] = True
        called += (named & ~chart.signals).sum()
    # of 180 that the chart states; 0.1 of them expected, 3 standard errors of the simulation are 0.07
    assert 0 < called / (charts * m * level) <= 0.2
    assert level_of_all(level, m) == pytest.approx(1 - 0.998**30)


def test_leaning_blocks_are_held_against_a_wider_spread():
    values = np.r_[np.random.default_rng(4).normal(0, 1, 30), 4.2]
    assert standing_apart(values, level=0.05, most=3).places == (30,)
    assert standing_apart(values, level=0.05, most=3, shrunk=0.6).places == ()


@pytest.mark.parametrize("m", [20, 60])
def test_nine_single_charts_in_ten_lie_between_the_two_run_lengths(m):
    level, charts = 0.01, 1500
    few, many = one_chart(level, m)
    draw, inside = np.random.default_rng(m), 0
    for _ in range(charts):
        chart = prediction_limits(
            draw.normal(size=m), np.ones(m), spread_in_block=None, spread_between_blocks=None, level=level
        )
        rate = stats.norm.sf(chart.upper_limit) + stats.norm.cdf(chart.lower_limit)
        inside += few <= 1 / rate <= many
    # the centre's own error is left out, so that a little less than nine in ten lie inside
    assert 0.84 <= inside / charts <= 0.92


def test_limits_from_ranges_alarm_as_often_as_said_where_blocks_differ():
    between, n, k, charts = 0.7, 4, 20, 1500
    unlike = 1 + n * between**2
    draw, rate = np.random.default_rng(2), []
    for _ in range(charts):
        values = draw.normal(0, between, (k, 1)) + draw.normal(0, 1, (k, n))
        low_high = means_and_ranges(values.mean(axis=1), np.ptp(values, axis=1), n, unlike=unlike)
        sd = np.sqrt(between**2 + 1 / n)
        ends = (low_high.location.lower, low_high.location.upper)
        rate.append(stats.norm.cdf(ends[0] / sd) + stats.norm.sf(ends[1] / sd))
    assert low_high.false_alarm_rate == pytest.approx(np.mean(rate), rel=0.06)
    plain = means_and_ranges(values.mean(axis=1), np.ptp(values, axis=1), n)
    assert low_high.false_alarm_rate > 10 * plain.false_alarm_rate
