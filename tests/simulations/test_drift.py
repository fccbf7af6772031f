"""A part of the kept simulation, and what its full result must say."""

import json

import numpy as np
import pytest

from tests.simulations import drift as simulation
from tests.simulations import drift_worlds as worlds

pytestmark = pytest.mark.simulation

KEPT = json.loads(simulation.RESULT.read_text(encoding="utf-8"))
CELLS = KEPT["cells"]
SEEDS = sorted({cell["seed"] for cell in CELLS})
ERRORS = 3
"""Simulation errors by which a cell may miss its bound; the whole is a few hundred cells."""


def cells(beginning, lag1=None):
    found = [c for c in CELLS if c["what"].startswith(beginning) and lag1 in (None, c["lag1"])]
    assert found, beginning
    return found


def test_the_result_says_what_it_rests_on():
    assert KEPT["level"] == 0.00073
    assert len(SEEDS) >= 2
    assert all(run["commit"] for run in KEPT["runs"])


def test_steady_series_change_condition_in_five_of_a_hundred_at_most():
    for cell in cells("steady"):
        assert cell["share"] <= 0.05 + ERRORS * cell["error"], cell
    assert np.mean([c["share"] for c in cells("steady")]) <= 0.05


def test_wear_renewed_before_the_limit_is_called_in_one_of_twenty_at_most():
    for cell in cells("wear renewed"):
        assert cell["share"] <= 0.05 + ERRORS * cell["error"], cell


def test_steps_are_found_in_time_and_sooner_than_the_plain_way():
    for what, lag1, least in (
        ("step of 3 sd within 6 blocks", 0.0, 0.9), ("step of 2 sd within 12 blocks", 0.0, 0.9),
        ("step of 3 sd within 12 blocks", 0.5, 0.8),
    ):  # fmt: skip
        for cell in cells(what, lag1):
            assert cell["share"] >= least - ERRORS * cell["error"], cell
    for cell in cells("step of 2 sd", 0.5):
        assert cell["share"] > cell["plain"], cell


def test_straight_drifts_are_called_before_the_crossing_and_early():
    for lag1, slow in ((0.0, (20, 40, 60)), (0.5, (40, 60))):
        for blocks in slow:
            for cell in cells(f"straight drift of {blocks} blocks", lag1):
                assert cell["share"] >= 0.95 - ERRORS * cell["error"], cell
                assert cell["median_lead"] >= 0.25, cell
            leads = [c["median_lead"] for c in cells(f"straight drift of {blocks} blocks", lag1)]
            assert np.mean(leads) >= 1 / 3


def test_forecast_intervals_hold_what_they_say():
    for lag1 in (0.0, 0.5):
        for age in simulation.AGES:
            told = [
                c for before in (5, 2) for c in cells(f"forecast, {age}, {before} stretches before", lag1)
            ]
            told = [c for c in told if "fast" not in c["what"]]
            assert np.average([c["share"] for c in told], weights=[c["of"] for c in told]) >= 0.85
            for cell in told:
                assert cell["share"] >= 0.85 - ERRORS * cell["error"], cell


def test_forecasts_are_nearer_than_least_squares():
    assert np.mean([c["ratio"] for c in cells("forecast, 3 to 10 blocks, 5 stretches before")]) <= 0.5
    alone = [c for c in cells("forecast,") if "0 stretches" in c["what"]]
    # A median of some 40 errors over another: the mean over the cells is good to a few hundredths.
    assert np.mean([c["ratio"] for c in alone]) <= 1.05 + 0.03


def test_gauge_steps_on_two_machines_are_the_gauges_and_on_one_nobodys():
    for cell in cells("gauge step of 3 sd on two machines"):
        assert cell["gauge"] >= 0.9 - ERRORS * np.sqrt(0.09 / cell["of"]), cell
    for cell in cells("gauge step of 3 sd on one machine"):
        # What a run kept before it was judged as well says is that none of it was the gauge's.
        assert cell.get("undecidable", 1.0 - cell.get("gauge", 0.0)) == 1.0, cell
    for cell in cells("two machines, nothing moved") + cells("step of 3 sd of one of two machines"):
        assert cell["gauge"] <= 0.05 + ERRORS * np.sqrt(0.05 * 0.95 / cell["of"]), cell


def test_a_part_of_it_agrees_today():
    rng = np.random.default_rng(4)
    quiet = simulation.steady(rng, 0.25, 0.5, 48, wears=True)
    assert quiet["share"] <= 0.05 + ERRORS * quiet["error"]
    assert simulation.steps(rng, 0.0, 0.5, 3.0, 6, 16, True, 0.05)["share"] >= 0.9
    slow = simulation.straight(rng, 0.0, 0.5, 40, 16, wears=True)
    assert slow["share"] >= 0.9
    assert slow["median_lead"] >= 1 / 3
    told = simulation.forecasts(rng, 0.0, 0.5, (5, 8), 32, 5)
    assert told["share"] >= 0.8
    assert told["ratio"] <= 0.6


def test_forecasts_alone_are_those_of_the_whole_judgement():
    rng = np.random.default_rng(5)
    many = [worlds.worn(rng, 0.5, 0.5, finished=k % 3, shown=4 + 2 * k)[0] for k in range(6)]
    many += [worlds.straight(rng, 0.0, 0.5, 20)[0]]
    told = [j.bores_to_limit for j in simulation.judged(many)]
    assert simulation.left_of(many) == told
    assert sum(one is not None for one in told) >= 6


def test_the_plain_way_is_what_it_says():
    # Three blocks by hand: slope 2 a block, the end half a block after the last.
    level, slope, _ = worlds.least_squares(np.array([1.0, 3.0, 5.0]))
    assert (level, slope) == pytest.approx((6.0, 2.0))
