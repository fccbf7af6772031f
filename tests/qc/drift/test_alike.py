import numpy as np
import pytest

from qc.drift.alike import pooled_lag, residuals
from tests.simulations import drift_worlds as worlds


@pytest.mark.parametrize("rho", [0.0, 0.5])
def test_a_lag_is_found_where_nothing_moves(rho):
    rng = np.random.default_rng(1)
    found = pooled_lag([worlds.quiet(rng, rho, 0.5) for _ in range(12)])
    assert found == pytest.approx(rho, abs=0.08)


@pytest.mark.parametrize("wears", [False, True])
def test_steps_and_drifts_in_every_series_are_not_taken_for_a_lag(wears):
    rng = np.random.default_rng(2)
    moved = [worlds.stepped(rng, 0.0, 0.5, 3.0, wears)[0] for _ in range(6)]
    moved += [worlds.straight(rng, 0.0, 0.5, 30, wears)[0] for _ in range(6)]
    # Left in, a step of 3 sd of half the blocks alone makes neighbours alike by 9/4 / (1 + 9/4) = 0.69.
    assert pooled_lag(moved) < 0.1


def test_a_step_is_taken_off_and_cuts_the_segment():
    rng = np.random.default_rng(3)
    one, at = worlds.stepped(rng, 0.0, 0.5, 5.0)
    rest, segment = residuals(one)
    assert abs(rest[at:].mean() - rest[:at].mean()) < 0.5
    assert np.unique(segment).size == 2
