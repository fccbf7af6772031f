import numpy as np
import pytest
from scipy import stats
from scipy.special import digamma

from qc.drift.scatter import grown, log_spreads, windows


def test_growth_is_the_one_sided_t_test_of_the_library():
    rng = np.random.default_rng(1)
    a, b = rng.normal(size=20), rng.normal(0.5, 1, 10)
    assert grown(a, b) == pytest.approx(stats.ttest_ind(b, a, alternative="greater").pvalue)


def test_logarithm_of_a_spread_is_free_of_bias():
    rng = np.random.default_rng(2)
    s = rng.normal(size=(40_000, 8)).std(axis=1, ddof=1)
    assert log_spreads(s, np.full(40_000, 8)).mean() == pytest.approx(0.0, abs=0.006)
    assert log_spreads([1.0], [8])[0] == pytest.approx(-(digamma(3.5) - np.log(3.5)) / 2)


def test_one_bore_has_no_spread():
    assert np.isnan(log_spreads([np.nan, 1.0], [1, 8])[0])
    assert np.isnan(log_spreads([np.nan], [1])).all()


def test_latest_blocks_are_ten_of_the_stretch_behind_those_learned_from():
    assert windows(0, 0, 60) == (slice(0, 20), slice(50, 60))
    assert windows(0, 54, 60) == (slice(0, 20), slice(54, 60))
    assert windows(0, 57, 60) is None
    assert windows(0, 0, 22) is None
    assert windows(10, 0, 60) == (slice(10, 30), slice(50, 60))
