"""A part of the kept simulation, and what its full result must say."""

import json

import numpy as np
import pytest

from qc.capability.nested import capability
from tests.simulations import coverage_generalised_intervals as simulation

pytestmark = pytest.mark.simulation

KEPT = json.loads(simulation.RESULT.read_text(encoding="utf-8"))
NORMAL = KEPT["ppk_normal"]["cells"]
OTHERS = KEPT["others"]["cells"]


def test_kept_result_has_every_cell_with_a_small_simulation_error():
    assert {(c["blocks"], c["share"], c["off"]) for c in NORMAL} == {
        (m, share, off) for m in (5, 20, 50) for share in (0.0, 0.5, 0.8) for off in (0.0, 0.2, 0.6)
    }
    assert max(cell["simulation_error"] for cell in NORMAL) < 0.005
    assert max(cell["simulation_error"] for cell in OTHERS) < 0.007
    assert KEPT["seed"]
    assert KEPT["commit"]


def test_off_centre_the_interval_of_ppk_holds_the_truth_as_stated():
    for cell in NORMAL:
        if cell["off"] > 0:
            assert 0.93 <= cell["coverage"] <= 0.97, cell


def test_exactly_centred_it_errs_on_the_safe_side():
    for cell in NORMAL:
        if cell["off"] == 0:
            assert cell["coverage"] >= 0.91, cell
            assert cell["lower_end_too_high"] < 0.025, cell


def test_bores_taken_for_the_sample_would_hold_far_too_seldom():
    worst = [c["coverage_with_bores_as_the_sample"] for c in NORMAL if c["share"] == 0.8]
    assert max(worst) < 0.75


@pytest.mark.parametrize(
    ("blocks", "share", "off"), [(5, 0.5, 0.2), (20, 0.8, 0.6), (50, 0.0, 0.2), (5, 0.8, 0.0)]
)
def test_a_part_run_now_agrees_with_the_kept_result(blocks, share, off):
    kept = next(c for c in NORMAL if (c["blocks"], c["share"], c["off"]) == (blocks, share, off))
    now = simulation.ppk_of_normal_series(blocks, share, off, series=1500, draws=4000, seed=7)
    for key in ("coverage", "lower_end_too_high", "upper_end_too_low"):
        error = np.sqrt(max(kept[key] * (1 - kept[key]), 0.01) / now["series"])
        assert now[key] == pytest.approx(kept[key], abs=4 * error + 0.002), key


@pytest.mark.parametrize("family", ["lognormal", "folded_normal"])
def test_a_part_of_the_other_families_agrees_with_the_kept_result(family):
    location = 0.4 if family == "lognormal" else 1.0
    asked = {"family": family, "location": location, "blocks": 20, "share": 0.5}
    now = simulation.ppk_of_other_families(**asked, series=300, draws=1000, seed=8)
    for cell in now:
        kept = next(c for c in OTHERS if asked.items() <= c.items() and c["figure"] == cell["figure"])
        assert cell["coverage"] == pytest.approx(kept["coverage"], abs=4 * cell["simulation_error"] + 0.01)


def test_counting_draws_says_what_the_interval_of_the_product_says():
    rng = np.random.default_rng(9)
    upper, lower, draws = 3 * simulation.TRUE_INDEX, -3 * simulation.TRUE_INDEX - 0.4, 2001
    offsets, joined = np.arange(6) * simulation.BORES, np.ones(5, dtype=bool)
    missed = 0
    for bores in simulation.drawn_series(rng, 400, 5, 0.5):
        found = next(simulation.draws_by_each_sample(bores, draws))
        low, high = simulation.ends_missed(found, lower, upper)
        interval = capability(
            bores.ravel(),
            offsets,
            joined,
            lower=lower,
            upper=upper,
            bounded="both",
            family="normal",
            draws=draws,
        ).ppk_interval
        assert (interval.lower > simulation.TRUE_INDEX, interval.upper < simulation.TRUE_INDEX) == (low, high)
        missed += low + high
    assert missed > 0
