import json
from pathlib import Path

import numpy as np
import pytest

from qc.charts.shewhart import individuals, moving_ranges, xbar_r, xbar_s
from qc.errors import TooLittleData

REFERENCE = Path(__file__).parents[2] / "reference"


def case(name: str) -> dict:
    return json.loads((REFERENCE / f"{name}.json").read_text(encoding="utf-8"))


RINGS = case("montgomery_piston_rings")


def test_piston_rings_have_the_published_limits_by_ranges():
    # Montgomery, Introduction to Statistical Quality Control; limits from memory.
    chart = xbar_r(RINGS["data"]["phase1_25x5"])
    assert chart.location.center == pytest.approx(RINGS["expected"]["grand_mean_6dp"], abs=5e-7)
    assert chart.spread.center == pytest.approx(RINGS["expected"]["Rbar"], abs=5e-6)
    assert chart.location.upper == pytest.approx(RINGS["expected"]["xbar_UCL_R"], abs=1e-5)
    assert chart.location.lower == pytest.approx(RINGS["expected"]["xbar_LCL_R"], abs=1e-5)
    assert chart.spread.upper == pytest.approx(RINGS["computed_here"]["R_UCL"], abs=1e-6)
    assert chart.spread.lower == 0.0
    assert not chart.signals.any()


def test_piston_rings_have_the_published_limits_by_standard_deviations():
    # The book truncates its limits to three decimals.
    chart = xbar_s(RINGS["data"]["phase1_25x5"])
    assert chart.spread.center == pytest.approx(RINGS["expected"]["sbar"], abs=5e-5)
    assert chart.location.upper == pytest.approx(RINGS["expected"]["xbar_UCL_s"], abs=1e-3)
    assert chart.location.lower == pytest.approx(RINGS["expected"]["xbar_LCL_s"], abs=1e-3)
    assert chart.spread.upper == pytest.approx(RINGS["expected"]["s_UCL"], abs=5e-5)


def test_samples_37_to_39_of_the_piston_rings_lie_beyond_the_learned_limits():
    learned = xbar_r(RINGS["data"]["phase1_25x5"]).location
    means = np.mean(RINGS["data"]["phase2_15x5"], axis=1)
    beyond = 26 + np.flatnonzero((means > learned.upper) | (means < learned.lower))
    assert list(beyond) == RINGS["computed_here"]["phase2_signals_xbar_R_1based"]


def test_gears_have_the_limits_computed_elsewhere():
    gear = case("nist_gear_shewhart_computed")
    groups, expected = np.array(gear["data"]["diameter"]).reshape(10, 10), gear["expected"]
    by_r, by_s = xbar_r(groups), xbar_s(groups)
    assert by_r.sigma == pytest.approx(expected["sigma_R"], rel=1e-8)
    assert by_s.sigma == pytest.approx(expected["sigma_S"], rel=1e-9)
    assert (by_r.location.lower, by_r.location.upper) == pytest.approx(
        (expected["xbar_LCL_R"], expected["xbar_UCL_R"]), abs=1e-9
    )
    assert (by_s.location.lower, by_s.location.upper) == pytest.approx(
        (expected["xbar_LCL_S"], expected["xbar_UCL_S"]), abs=1e-9
    )


def test_flow_rates_have_the_published_limits():
    # NIST/SEMATECH e-Handbook 6.3.2.2 rounds d2 to 1.128: its limits lie 2e-3 wider than exact ones.
    flow = case("nist_individuals_flowrate")
    chart = individuals(flow["data"]["x"])
    assert chart.location.center == pytest.approx(flow["expected"]["mean"], abs=5e-3)
    assert chart.spread.center == pytest.approx(flow["expected"]["MRbar"], abs=5e-5)
    assert chart.location.upper == pytest.approx(flow["expected"]["UCL"], abs=2e-3)
    assert chart.location.lower == pytest.approx(flow["expected"]["LCL"], abs=2e-3)
    assert chart.location.upper == pytest.approx(flow["computed_here"]["UCL_exact_d2"], abs=1e-9)
    assert chart.spread.upper == pytest.approx(flow["computed_here"]["MR_UCL_exact"], abs=1e-6)


def test_moving_range_is_not_taken_across_an_event():
    assert list(np.isnan(moving_ranges([1.0, 2.0, 9.0, 8.0], [0, 0, 1, 1]))) == [True, False, True, False]
    assert individuals([1.0, 2.0, 9.0, 8.0], [0, 0, 1, 1]).spread.center == 1.0


def autoregressive(rng, size, rho):
    x = rng.normal(size=size)
    for t in range(1, size[1]):
        x[:, t] = rho * x[:, t - 1] + np.sqrt(1 - rho**2) * x[:, t]
    return x


@pytest.mark.parametrize(("rho", "times"), [(0.0, 4.5), (0.5, 18.0)])
def test_moving_range_limits_from_20_values_say_what_they_really_give(rho, times):
    rng = np.random.default_rng(20)
    x = autoregressive(rng, (40_000, 20), rho)
    sigma = np.abs(np.diff(x, axis=1)).mean(axis=1) / 1.1283791671
    later = rng.normal(size=40_000)
    share = (np.abs(later - x.mean(axis=1)) > 3 * sigma).mean()
    stated = individuals(x[0], lag1=rho)
    assert stated.false_alarm_rate == pytest.approx(share, rel=0.25)
    assert share / stated.stated_rate == pytest.approx(times, rel=0.25)


def test_limits_of_means_from_few_groups_say_what_they_really_give():
    rng = np.random.default_rng(21)
    x = rng.normal(size=(40_000, 8, 5))
    sigma = np.ptp(x, axis=2).mean(axis=1) / 2.32593
    later = rng.normal(size=40_000) / np.sqrt(5)
    share = (np.abs(later - x.mean(axis=(1, 2))) > 3 * sigma / np.sqrt(5)).mean()
    assert xbar_r(x[0]).false_alarm_rate == pytest.approx(share, rel=0.15)


def test_too_few_values_are_refused():
    with pytest.raises(TooLittleData, match="wait for another build"):
        individuals([1.0])
    with pytest.raises(TooLittleData, match="2 groups"):
        xbar_r([[1.0, 2.0]])
