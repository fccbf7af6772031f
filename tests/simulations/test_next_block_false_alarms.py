"""A part of the kept simulation, and what its full result must say."""

import json
import re

import numpy as np
import pytest

from qc.charts.block_means import one_chart
from qc.stats.lag import lag1
from tests.simulations import next_block_false_alarms as simulation

pytestmark = pytest.mark.simulation

KEPT = json.loads(simulation.RESULT.read_text(encoding="utf-8"))
CELLS = KEPT["cells"]


def kind_of(cell):
    return cell["blocks"], cell["share"], cell["bores"], cell["lag1"]


def test_kept_result_has_every_cell_of_ten_thousand_charts():
    assert [kind_of(cell) for cell in CELLS] == simulation.kinds()
    assert KEPT["charts"] == 10_000
    assert max(cell["simulation_error"] for cell in CELLS) < 0.06
    assert KEPT["seed"]
    assert re.fullmatch("[0-9a-f]{40}", KEPT["commit"])


def test_on_average_charts_alarm_six_tenths_to_twelve_tenths_as_often_as_they_state():
    for cell in CELLS:
        assert 0.6 <= cell["times_stated"] <= 1.2, cell


def test_single_charts_differ_as_far_as_the_product_says():
    for cell in CELLS:
        # the words are of any later block; where blocks lean on each other the next one differs less
        ratio = cell["single_charts_95th"] / cell["said_95th"]
        assert (0.65 if cell["lag1"] < 0.5 else 0.45) <= ratio <= 1.5, cell
        words = 1 / np.array(one_chart(KEPT["level"], cell["blocks"], cell["lag1"])) / KEPT["level"]
        assert words[0] == pytest.approx(cell["said_95th"], rel=1e-9)


@pytest.mark.parametrize("together", [1, 8])
def test_lag_1_is_read_off_its_curve_as_the_product_solves_for_it(together):
    rng = np.random.default_rng(3)
    means = rng.normal(size=(16, 30)).cumsum(axis=1) * rng.uniform(0, 1, (16, 1)) + rng.normal(size=(16, 30))
    read = simulation.lags(means, together)
    for i in range(0, 16, together):
        solved = max(0.0, lag1(list(means[i : i + together])).rho)
        assert read[i] == pytest.approx(solved, abs=1e-5)


@pytest.mark.parametrize(
    ("blocks", "share", "bores", "lag1"),
    [(20, 0.0, "4/6/8", 0.0), (20, 0.2, "4/6/8", 0.5), (50, 0.8, "8", 0.25), (20, 0.5, "8", 0.0)],
)
def test_a_part_run_now_stays_in_the_bounds_and_agrees_with_the_kept_result(blocks, share, bores, lag1):
    now = simulation.cell_of(blocks, share, bores, lag1, charts=1200, seed=5)
    kept = next(c for c in CELLS if kind_of(c) == kind_of(now))
    error = np.hypot(now["simulation_error"], kept["simulation_error"])
    assert abs(now["times_stated"] - kept["times_stated"]) < 4 * error
    assert 0.6 - 4 * now["simulation_error"] <= now["times_stated"] <= 1.2 + 4 * now["simulation_error"]
