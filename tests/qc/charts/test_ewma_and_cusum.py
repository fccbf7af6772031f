from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from qc.charts import cusum, ewma
from qc.errors import QuestionError, TooLittleData
from qc.stats.runlength import cusum_run_length, ewma_run_length, simulated

RNG = np.random.default_rng(4)
QUIET = np.round(RNG.normal(0.0, 1.5, 30), 2)
BOTH = pytest.mark.parametrize("module", [ewma, cusum])


def charted(module, means, bores=None, **options):
    bores = np.full(len(means), 8) if bores is None else bores
    given = {"spread_in_block": 2.0, "spread_between_blocks": 1.2, "learn": min(20, len(means))} | options
    return module.chart(means, bores, **given)


def test_moving_averages_are_those_of_pandas():
    found = ewma.averages(QUIET[1:], 0.2, QUIET[0])
    assert found == pytest.approx(pd.Series(QUIET).ewm(alpha=0.2, adjust=False).mean().to_numpy()[1:])


def test_sums_are_those_of_a_plain_loop():
    high, low, up, down = [], [], 1.0, 1.0
    for d in QUIET:
        up, down = max(0.0, up + d - 0.5), max(0.0, down - d - 0.5)
        high.append(up)
        low.append(down)
    found = cusum.sums(QUIET, 0.5, start=1.0)
    assert list(found[0]) == high
    assert list(found[1]) == low


@pytest.mark.parametrize("work", [lambda x: ewma.averages(x, 0.2, 0.0), lambda x: cusum.sums(x, 0.5)[0]])
def test_one_series_alone_is_the_same_as_in_a_batch(work):
    batch = RNG.normal(size=(5, 40))
    assert np.array_equal(work(batch)[3], work(batch[3]))


def test_a_design_gives_the_run_length_it_was_asked_for():
    plan = ewma.design(1.0, 500.0, growing=False)
    assert ewma_run_length(plan.weight, plan.width) == pytest.approx(500.0)
    # Lucas and Saccucci (1990), Table 3: at a step of 1 the best of their schemes sees it after 10.3 points
    assert plan.at_shift == pytest.approx(10.3, abs=0.1)
    sums = cusum.design(1.0, 465.44, head_start=0.0)
    assert (sums.k, sums.h) == (0.5, pytest.approx(5.0, abs=1e-4))  # Lucas and Crosier (1982)
    assert sums.at_shift == pytest.approx(10.4, abs=0.05)
    started = cusum.design(1.0, 430.0)
    assert cusum_run_length(0.5, started.h, head_start=started.h / 2) == pytest.approx(430.0)
    assert started.at_shift == pytest.approx(6.35, abs=0.05)  # head start h/2, h = 5; from memory


@BOTH
def test_a_small_shift_that_lasts_is_seen_and_a_quiet_series_is_not(module):
    shifted = np.concatenate((QUIET, QUIET + 3.0))
    found = charted(module, shifted, learn=30)
    assert not found.signals[:30].any()
    assert found.signals[30:45].any()


def test_the_sum_tells_when_the_shift_began():
    found = charted(cusum, np.concatenate((QUIET, QUIET + 3.0)), learn=30)
    first = np.flatnonzero(found.signals)[0]
    assert abs(int(found.began[first]) - 30) <= 3
    assert (found.began[~found.signals] == -1).all()


@BOTH
def test_inch_and_millimetre_files_give_the_same_chart(module):
    plain, scaled = (
        charted(module, QUIET),
        charted(module, QUIET / 25.4, spread_in_block=2.0 / 25.4, spread_between_blocks=1.2 / 25.4),
    )
    assert scaled.statistic * 25.4 == pytest.approx(plain.statistic)
    assert scaled.upper_limit * 25.4 == pytest.approx(plain.upper_limit)
    assert np.array_equal(scaled.signals, plain.signals)


@BOTH
def test_shifting_values_shifts_the_centre(module):
    plain, moved = charted(module, QUIET), charted(module, QUIET + 100)
    assert moved.center == pytest.approx(plain.center + 100)
    assert moved.upper_limit - moved.lower_limit == pytest.approx(plain.upper_limit - plain.lower_limit)
    assert np.array_equal(moved.signals, plain.signals)


@BOTH
def test_a_block_without_a_mean_is_passed_over(module):
    found = charted(module, np.append(QUIET, [np.nan, 0.5]))
    assert np.isnan(found.statistic[30])
    assert not found.signals[30]
    assert found.statistic[31] == charted(module, np.append(QUIET, 0.5)).statistic[30]


@BOTH
def test_a_block_with_fewer_bores_counts_less(module):
    bores = np.full(31, 8)
    many = charted(module, np.append(QUIET, 6.0), bores)
    bores[-1] = 2
    few = charted(module, np.append(QUIET, 6.0), bores)
    assert many.statistic[30] > few.statistic[30]


@BOTH
def test_correlated_blocks_widen_the_limits(module):
    assert charted(module, QUIET, lag1=0.4).upper_limit > charted(module, QUIET).upper_limit


def advance_of(module, plan):
    """A chart of its own, written out: late limits of the average, sums with their head start."""

    def average(state, u):
        z = plan.weight * u + (1 - plan.weight) * (0 if state is None else state)
        return z, np.abs(z) > plan.width * np.sqrt(plan.weight / (2 - plan.weight))

    def both_sums(state, u):
        now = np.full((2, u.size), plan.head_start * plan.h) if state is None else state
        now = np.maximum(0.0, now + np.stack((u, -u)) - plan.k)
        return now, now.max(axis=0) > plan.h

    return average if module is ewma else both_sums


@BOTH
def test_run_length_is_said_for_these_blocks_and_for_known_parameters(module):
    found = charted(module, QUIET)
    assert "limits from 20 blocks" in found.run_length
    assert "(1,400 if its centre and spread were known)" in found.run_length
    assert found.blocks_to_a_false_alarm < 1370


@BOTH
def test_blocks_to_a_false_alarm_of_learned_limits_are_met_by_simulation(module):
    # Each chart's own rate from the exact run length at its own centre and spread: 400 draws of 30 points.
    plan = module.design(1.0, 200.0)
    x = np.random.default_rng(12).normal(size=(400, 30))
    rates = []
    for center, spread in zip(x.mean(axis=1), x.std(axis=1, ddof=1), strict=True):
        if module is ewma:
            length = ewma_run_length(plan.weight, plan.width * spread, center)
        else:
            h = plan.h * spread
            length = cusum_run_length(plan.k * spread, h, center, head_start=plan.head_start * h)
        rates.append(1 / length)
    error = np.std(rates) / np.sqrt(len(rates))
    assert 1 / module.run_length_here(plan, 30, 0.0) == pytest.approx(np.mean(rates), abs=4 * error)
    assert 1 / module.run_length_here(plan, 100_000, 0.0) == pytest.approx(
        1 / (200 if module is cusum else ewma_run_length(plan.weight, plan.width)), rel=0.02
    )


@BOTH
def test_a_quiet_series_runs_as_long_as_its_design_says(module):
    plan = module.design(1.0, 100.0)
    counted = simulated(advance_of(module, plan), charts=3000, cut=2000, seed=6)
    exact = 100.0 if module is cusum else ewma_run_length(plan.weight, plan.width)
    assert counted.average == pytest.approx(exact, abs=4 * counted.standard_error)


@BOTH
@pytest.mark.parametrize("rho", [0.25, 0.5])
def test_correlated_blocks_do_not_shorten_the_run(module, rho):
    plan = module.design(1.0, 100.0)
    if module is ewma:
        chart = charted(ewma, QUIET, lag1=rho, wanted=plan)
        late = plan.width * np.sqrt(plan.weight / (2 - plan.weight))
        wide = replace(plan, width=plan.width * (chart.upper_limit - chart.center) / chart.s / late)
    else:
        chart = charted(cusum, QUIET, lag1=rho, wanted=plan)
        wide = replace(plan, h=chart.upper_limit / chart.s)
    counted = simulated(advance_of(module, wide), lag1=rho, charts=1500, cut=2000, seed=6)
    assert 90 - 3 * counted.standard_error < counted.average < 400  # errs to fewer false alarms


@BOTH
def test_blocks_that_are_all_equal_or_too_few_are_refused_with_a_sentence(module):
    with pytest.raises(TooLittleData, match="all equal"):
        charted(module, np.full(10, 3.0))
    with pytest.raises(TooLittleData, match="wait for another build"):
        charted(module, [1.0])
    with pytest.raises(QuestionError, match="above 0"):
        module.design(0.0)
