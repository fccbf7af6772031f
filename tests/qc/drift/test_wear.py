import numpy as np
import pytest

from qc.drift.wear import usual_length, usual_wear
from qc.errors import TooLittleData

WEAR = np.tile(8 * (np.arange(10) + 0.5), 5)
STRETCH = np.repeat(np.arange(5), 10)


def test_usual_length_is_the_median_of_finished_stretches():
    bores = np.full(50, 8.0)
    assert usual_length(WEAR, bores, STRETCH) == 80.0
    assert usual_length(WEAR[:20], bores[:20], STRETCH[:20]) is None
    assert usual_length(np.tile(np.arange(10) + 0.5, 5), bores, STRETCH, of="blocks") == 10.0


def test_pooled_slope_is_that_of_all_stretches_with_their_own_levels():
    rng = np.random.default_rng(1)
    y = 0.04 * WEAR + np.array([5.0, -3.0, 0.0, 8.0, 1.0])[STRETCH] + 0.5 * rng.normal(size=50)
    found = usual_wear(WEAR, y, STRETCH, np.ones(50), 0.0)
    # The library's dummy-variable regression: the same lengths, so the same weights.
    from statsmodels.regression.linear_model import OLS

    library = OLS(y, np.column_stack([WEAR, STRETCH[:, None] == np.arange(5)])).fit()
    assert found.slope == pytest.approx(library.params[0])
    assert found.stretches == 5
    assert found.scatter == pytest.approx(0.1 * found.slope)


def test_scatter_of_slopes_is_found_when_stretches_wear_unlike():
    rng = np.random.default_rng(2)
    scatters = []
    for _ in range(60):
        own = 0.04 + 0.02 * rng.normal(size=5)
        y = own[STRETCH] * WEAR + 0.3 * rng.normal(size=50)
        scatters.append(usual_wear(WEAR, y, STRETCH, np.ones(50), 0.0).scatter)
    assert np.mean(scatters) == pytest.approx(0.019, abs=0.003)


def test_no_finished_stretch_has_no_usual_wear():
    with pytest.raises(TooLittleData, match="next change"):
        usual_wear(WEAR[:3], WEAR[:3], STRETCH[:3], np.ones(3), 0.0)
