"""Draws and intervals against the classical answers that they must meet, and against plain simulation."""

import numpy as np
import pytest
from scipy import optimize, stats
from scipy.special import chdtri

from qc.stats import pivotal
from qc.stats.pivotal import drawn, interval, moving_range_freedom, pivots, point, short_pivots


def test_draws_are_the_top_53_bits_of_the_generator_at_halfway_points_in_their_order():
    # The definition, written out with Python's whole numbers and the reference library's distributions.
    words = np.random.PCG64(5).random_raw(30)
    shares = np.array([((int(word) >> 11) + 0.5) / 2**53 for word in words])
    between, within, z = drawn(7, 21, seed=5, draws=10)
    np.testing.assert_allclose(between, stats.chi2.isf(shares[:10], 6), rtol=1e-12)
    np.testing.assert_allclose(within, stats.chi2.isf(shares[10:20], 21), rtol=1e-12)
    np.testing.assert_allclose(z, stats.norm.ppf(shares[20:]), rtol=1e-12)


def test_the_mean_keeps_its_draws_when_no_block_has_a_second_bore():
    assert drawn(7, 0, seed=5, draws=10)[1] is None
    np.testing.assert_array_equal(drawn(7, 0, seed=5, draws=10)[2], drawn(7, 21, seed=5, draws=10)[2])


@pytest.mark.parametrize("m", [4, 12, 60])
def test_with_one_bore_a_block_the_interval_of_the_spread_is_the_chi_square_one(m):
    found = pivots(3.0, 2.5**2 * (m - 1), 0.0, m, m, 1.0)
    ours = interval(found.spread)
    exact = 2.5 * np.sqrt((m - 1) / stats.chi2.isf([0.025, 0.975], m - 1))
    assert (ours.lower, ours.upper) == pytest.approx(tuple(exact), rel=0.012)


@pytest.mark.parametrize("m", [4, 12, 60])
def test_with_one_bore_a_block_the_interval_of_the_mean_is_the_t_one(m):
    found = pivots(3.0, 2.5**2 * (m - 1), 0.0, m, m, 1.0)
    half = stats.t.isf(0.025, m - 1) * 2.5 / np.sqrt(m)
    ours = interval(found.mean)
    assert ours.upper - 3 == pytest.approx(half, rel=0.015)
    assert 3 - ours.lower == pytest.approx(half, rel=0.015)


@pytest.mark.parametrize("m", [5, 20])
def test_with_one_bore_a_block_the_interval_of_a_one_sided_index_is_the_noncentral_t_one(m):
    # Ppu = (U - mean) / 3s; 3 sqrt(m) Ppu is noncentral t with noncentrality 3 sqrt(m) times the true index.
    s, upper, mean = 1.7, 16.0, 10.0
    found = pivots(mean, s * s * (m - 1), 0.0, m, m, 1.0)
    ours = interval((upper - found.mean) / (3 * found.spread))
    t = (upper - mean) / s * np.sqrt(m)

    def end(p):
        return optimize.brentq(lambda c: stats.nct.cdf(t, m - 1, 3 * np.sqrt(m) * c) - p, 0, 5)

    assert (ours.lower, ours.upper) == pytest.approx((end(0.975), end(0.025)), rel=0.006)


def test_points_follow_the_rule_of_the_handbook():
    figures = np.random.default_rng(1).normal(size=999)
    for p in (0.025, 0.5, 0.9997):
        assert point(figures, p) == pytest.approx(np.quantile(figures, p, method="weibull"), rel=1e-12)


def test_intervals_of_blocks_that_do_not_differ_count_bores():
    # 20 blocks of 8, between variance nought: SSB and SSE at their expectations.
    found = pivots(0.0, 19 * 1.0, 140 * 1.0, 20, 160, 8.0)
    assert np.median(found.spread) == pytest.approx(1.0, abs=0.03)
    assert np.median(found.share) < 0.05
    assert found.mean.std() == pytest.approx(1 / np.sqrt(160), rel=0.1)


def test_freedom_of_moving_ranges_agrees_with_simulated_ranges():
    rng = np.random.default_rng(4)
    ranges = np.abs(np.diff(rng.normal(size=(60_000, 24)), axis=1)).mean(axis=1)
    equivalent = 1 / (2 * (ranges.std() / ranges.mean()) ** 2)
    assert moving_range_freedom(23, 22) == pytest.approx(equivalent, rel=0.03)


def test_short_term_draws_of_a_steady_series_agree_with_the_long_run_ones():
    rng = np.random.default_rng(6)
    blocks = rng.normal(0, 1, 400)
    bores = blocks[:, None] + rng.normal(0, 0.5, (400, 4))
    means = bores.mean(axis=1)
    ssb = 4 * ((means - means.mean()) ** 2).sum()
    sse = ((bores - means[:, None]) ** 2).sum()
    moving = np.abs(np.diff(means)).mean()
    long = interval(pivots(0.0, ssb, sse, 400, 1600, 4.0).spread)
    short = interval(short_pivots(0.0, moving, 399, 398, sse, 400, 1600, 4.0).spread)
    assert short.lower < np.sqrt(1.25) < short.upper
    assert long.lower < np.sqrt(1.25) < long.upper
    # Moving ranges tell less: 0.61 degrees of freedom a range.
    assert short.upper - short.lower == pytest.approx((long.upper - long.lower) / np.sqrt(0.61), rel=0.1)


@pytest.mark.parametrize("freedom", [1, 2, 3, 4.7, 11.9, 57, 400, 2700, 100_000])
def test_chi_squares_read_off_a_curve_are_those_of_scipy(freedom):
    # the definition: the upper tail's inverse at each uniform (scipy.special.chdtri, from Cephes)
    expected = chdtri(freedom, pivotal._uniforms(7, 20_000)[0])
    assert pivotal._chi_squares(0, freedom, 7, 20_000) == pytest.approx(expected, rel=1e-11)
