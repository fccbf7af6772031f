import numpy as np
import pytest
import statsmodels.api as sm
from scipy.stats import norm
from scipy.stats import t as student

from qc.charts.acceptance import acceptance
from qc.charts.regression import regression
from qc.charts.short_run import pooling, short_run
from qc.errors import QuestionError, TooLittleData

RNG = np.random.default_rng(7)
STRETCH = np.repeat([0, 1, 2], [8, 7, 6])
WEAR = np.concatenate([8.0 * np.arange(k) + 4 for k in (8, 7, 6)])
MEANS = np.round(0.05 * WEAR + np.array([0.0, 1.0, -0.5])[STRETCH] + RNG.normal(0, 0.4, 21), 2)


def test_signals_about_the_wear_line_are_those_of_studentised_residuals():
    design = np.column_stack((WEAR, *(k == STRETCH for k in range(3)))).astype(float)
    fit = sm.OLS(MEANS, design).fit()
    chart = regression(MEANS, WEAR, STRETCH, level=0.1)
    assert chart.slope == pytest.approx(fit.params[0])
    assert chart.slope_error == pytest.approx(fit.bse[0])
    assert chart.line == pytest.approx(fit.fittedvalues)
    outside = np.abs(fit.get_influence().resid_studentized_external) > student.ppf(0.95, chart.df - 1)
    assert np.array_equal(chart.signals, outside)
    assert outside.any()


def test_wear_is_no_signal_but_a_block_off_its_line_is():
    off = MEANS.copy()
    off[12] += 4.0
    assert not regression(MEANS, WEAR, STRETCH).signals.any()
    assert list(np.flatnonzero(regression(off, WEAR, STRETCH).signals)) == [12]


def test_the_only_block_of_a_stretch_has_no_limits():
    chart = regression(np.append(MEANS, 9.0), np.append(WEAR, 4.0), np.append(STRETCH, 3))
    assert np.isnan(chart.upper[-1])
    assert not chart.signals[-1]
    assert chart.upper[:-1] == pytest.approx(regression(MEANS, WEAR, STRETCH).upper)


def test_lines_that_cannot_be_drawn_are_refused_with_a_sentence():
    with pytest.raises(TooLittleData, match="5 blocks"):
        regression(MEANS[:3], WEAR[:3], STRETCH[:3])
    with pytest.raises(TooLittleData, match="one wear count"):
        regression(MEANS, np.ones(21), STRETCH)
    with pytest.raises(TooLittleData, match="on the line"):
        regression(0.5 * WEAR, WEAR, STRETCH)


def accepted(means, bores, **options):
    return acceptance(means, bores, **({"lower": -10.0, "upper": 10.0, "spread_in_block": 2.0} | options))


def test_a_block_at_the_acceptable_level_is_refused_at_the_stated_risk():
    chart = accepted([0.0], [5], good=0.001, risk=0.05)
    level = chart.acceptable[1]
    assert norm.sf(10.0, level, 2.0) == pytest.approx(0.001)
    assert norm.sf(chart.upper_limit, level, 2.0 / np.sqrt(5)) == pytest.approx(0.05)


def test_enough_bores_bring_the_other_risk_down_too():
    chart = accepted([0.0], [5], good=0.001, bad=0.03, risk=0.05)
    n = chart.bores_needed
    level = chart.rejectable[1]
    assert norm.sf(10.0, level, 2.0) == pytest.approx(0.03)
    for bores, enough in ((n, True), (n - 1, False)):
        found = accepted([0.0], [bores], good=0.001, bad=0.03, risk=0.05)
        missed = norm.cdf(found.upper_limit, level, 2.0 / np.sqrt(bores))
        assert found.missed[0] == pytest.approx(missed)
        assert (missed <= 0.05) == enough


def test_the_level_may_wander_inside_the_tolerance_but_not_near_its_edge():
    chart = accepted([-3.0, 0.0, 3.0, 6.5, -6.5, np.nan], np.full(6, 8))
    assert list(chart.signals) == [False, False, False, True, True, False]
    one_sided = accepted([-50.0, 6.5], [8, 8], lower=None)
    assert list(one_sided.signals) == [False, True]
    assert one_sided.lower_limit is None


def test_acceptance_without_limits_spread_or_room_is_refused():
    with pytest.raises(QuestionError, match="qc spec add"):
        accepted([0.0], [8], lower=None, upper=None)
    with pytest.raises(TooLittleData, match="show none"):
        accepted([0.0], [8], spread_in_block=0.0)
    with pytest.raises(QuestionError, match="too narrow"):
        accepted([0.0], [8], spread_in_block=5.0)


FAMILY = ["v8"] * 9 + ["i6"] * 7 + ["v12"] * 2
DEVIATIONS = np.concatenate((RNG.normal(0, 1, 9), RNG.normal(0, 5, 7), RNG.normal(0, 1, 2)))


def test_a_score_is_that_of_students_t_against_the_other_blocks_of_the_family():
    chart = short_run(DEVIATIONS, FAMILY, level=0.05)
    others, x = np.delete(DEVIATIONS[:9], 2), DEVIATIONS[2]
    t = (x - others.mean()) / (others.std(ddof=1) * np.sqrt(1 + 1 / 8))
    assert chart.statistic[2] == pytest.approx(norm.ppf(student.cdf(t, 7)))
    assert chart.upper_limit == pytest.approx(norm.ppf(0.975))
    assert chart.left_out == ("v12",)
    assert np.isnan(chart.statistic[-2:]).all()


def test_families_of_unlike_spread_are_not_pooled():
    told = pooling(np.concatenate((RNG.normal(0, 1, 30), RNG.normal(0, 5, 30))), ["a"] * 30 + ["b"] * 30)
    assert not told.alike
    assert "spread" in told.words
    apart = pooling(np.concatenate((RNG.normal(0, 1, 30), RNG.normal(3, 1, 30))), ["a"] * 30 + ["b"] * 30)
    assert "levels" in apart.words
    assert pooling(DEVIATIONS[:9], FAMILY[:9]).alike


def test_quiet_families_signal_as_often_as_said():
    rng = np.random.default_rng(3)
    found = [
        short_run(rng.normal(0, [1] * 4 + [9] * 5), ["a"] * 4 + ["b"] * 5, level=0.05).signals.mean()
        for _ in range(800)
    ]
    assert np.mean(found) == pytest.approx(0.05, abs=4 * np.std(found) / np.sqrt(800))


def test_scores_do_not_depend_on_units_or_on_a_familys_level():
    moved = DEVIATIONS / 25.4 + np.where(np.array(FAMILY) == "i6", 3.0, 0.0)
    plain, other = short_run(DEVIATIONS, FAMILY).statistic[:16], short_run(moved, FAMILY).statistic[:16]
    assert other == pytest.approx(plain)


def test_equal_blocks_are_refused_or_left_out_without_a_warning():
    with pytest.raises(TooLittleData, match="not all equal"):
        short_run(np.zeros(5), ["a"] * 5)
    assert not pooling(np.zeros(8), ["a"] * 4 + ["b"] * 4).alike
    assert abs(short_run([1.0, 1.0, 1.0, 4.0], ["a"] * 4).statistic[3]) > 8
    with pytest.raises(QuestionError, match="family of each block"):
        short_run([1.0, 2.0], ["a"])
