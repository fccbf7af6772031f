import numpy as np
import pytest
from scipy.linalg import toeplitz
from scipy.stats import t as t_distribution
from statsmodels.tsa.stattools import acf

from qc.errors import TooLittleData
from qc.stats.lag import effective, effective_blocks, lag1


def autoregressive(rng, series, blocks, rho):
    x = rng.normal(size=(series, blocks))
    for t in range(1, blocks):
        x[:, t] = rho * x[:, t - 1] + np.sqrt(1 - rho**2) * x[:, t]
    return x


def test_a_long_series_has_the_correlation_of_the_library():
    x = autoregressive(np.random.default_rng(1), 1, 4000, 0.4)[0]
    assert lag1([x]).rho == pytest.approx(acf(x, nlags=1)[1], abs=1.5e-3)


@pytest.mark.parametrize("rho", [0.0, 0.25, 0.5])
def test_short_series_are_free_of_the_bias_of_the_plain_ratio(rho):
    # Kendall (1954): the plain ratio is too small by (1 + 4 rho)/m, 0.05 to 0.15 at 20 blocks.
    x = autoregressive(np.random.default_rng(2), 800, 20, rho)
    plain = np.mean([acf(row, nlags=1)[1] for row in x[:400]])
    pooled = np.mean([lag1(list(x[i : i + 8])).rho for i in range(0, 800, 8)])
    assert plain == pytest.approx(rho - (1 + 4 * rho) / 20, abs=0.03)
    assert pooled == pytest.approx(rho, abs=0.035)


def test_a_step_between_stretches_makes_no_correlation():
    rng = np.random.default_rng(3)
    x = rng.normal(size=(30, 24)) + np.repeat([0.0, 8.0, -8.0], 8)
    stretch = np.repeat([1, 2, 3], 8)
    assert lag1(list(x)).rho > 0.6
    assert abs(lag1(list(x), [stretch] * 30).rho) < 0.1


def test_missing_blocks_and_a_constant_series_are_passed_over():
    found = lag1([[1.0, np.nan, 2.0, 1.5, 3.0], [2.0, 2.0, 2.0, 2.0]])
    assert (found.series, found.pairs) == (1, 3)
    with pytest.raises(TooLittleData, match="3 blocks in a row"):
        lag1([[1.0, 2.0]])


@pytest.mark.parametrize(("m", "rho"), [(5, 0.0), (20, 0.3), (40, 0.7)])
def test_worth_of_correlated_blocks_is_that_of_the_matrices(m, rho):
    r, c = toeplitz(rho ** np.arange(m)), np.eye(m) - 1 / m
    found = effective(m, rho)
    assert found.variance_factor == pytest.approx(np.trace(c @ r) / (m - 1))
    assert found.blocks_for_mean == pytest.approx(m**2 / r.sum())
    assert found.df == pytest.approx(np.trace(c @ r) ** 2 / np.trace(c @ r @ c @ r))


def test_independent_blocks_are_worth_their_number():
    found = effective(20, 0.0)
    assert (found.variance_factor, found.blocks_for_mean, found.df) == pytest.approx((1.0, 20.0, 19.0))
    assert effective_blocks(20, 0.0, 0.00073) == 20.0


def test_limits_set_from_correlated_blocks_hold_a_later_block_as_often_as_stated():
    # Far enough behind the learned blocks to be independent of them; 5 % so that counting is sure.
    m, rho, level = 20, 0.5, 0.05
    rng = np.random.default_rng(4)
    x, later = autoregressive(rng, 60_000, m, rho), rng.normal(size=60_000)
    m_eff = effective_blocks(m, rho, level)
    s = x.std(axis=1, ddof=1) / np.sqrt(effective(m, rho).variance_factor)
    half = t_distribution.isf(level / 2, m_eff - 1) * s * np.sqrt(1 + 1 / m_eff)
    assert (np.abs(later - x.mean(axis=1)) > half).mean() == pytest.approx(level, rel=0.05)
    assert m_eff < m


def test_the_exact_law_and_its_approximation_meet():
    from qc.stats import lag

    exact = effective_blocks(120, 0.5, 0.00073)
    worth = effective(120, 0.5)
    near = t_distribution.isf(0.00073 / 2, worth.df) * np.sqrt(1 + 1 / worth.blocks_for_mean)
    assert t_distribution.isf(0.00073 / 2, exact - 1) * np.sqrt(1 + 1 / exact) == pytest.approx(
        near, rel=0.004
    )
    assert lag.effective_blocks(121, 0.5, 0.00073) == pytest.approx(exact, rel=0.08)
