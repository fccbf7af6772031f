import numpy as np
import pytest
from scipy.linalg import toeplitz
from statsmodels.regression.linear_model import GLS, OLS
from statsmodels.tools import add_constant

from qc.drift.firstwear import LAGS, first_lines

NONE = np.zeros((15, 0))
X = 8 * (np.arange(15) + 0.5)


def lines(y, lag1=0.0, steps=NONE, covariates=NONE):
    return first_lines(X, y, np.ones(15), lag1, steps, covariates, 120.0)


def worn(rho, seed=1):
    rng = np.random.default_rng(seed)
    e = rng.normal(size=15)
    for t in range(1, 15):
        e[t] = rho * e[t - 1] + np.sqrt(1 - rho**2) * e[t]
    return 2 + 0.04 * X + e


@pytest.mark.parametrize("lag1", [0.0, 0.6])
def test_the_estimate_is_least_squares_whatever_the_lag(lag1):
    y = worn(0.5)
    library = OLS(y, add_constant(X)).fit()
    found = lines(y, lag1)
    assert found.slope == pytest.approx(np.full(found.slope.size, library.params[1]))
    assert found.level == pytest.approx(np.full(found.level.size, library.params @ [1, 120]))
    assert found.df == 13


def test_the_line_of_no_correlation_is_as_sure_as_the_library_says():
    y = worn(0.0)
    library = OLS(y, add_constant(X)).fit()
    found = lines(y)
    assert LAGS[0] == 0
    of = np.array([[1.0, 120.0], [0.0, 1.0]])
    assert found.covariance[0] == pytest.approx(of @ library.cov_params() @ of.T)


def test_its_error_under_a_lag_is_that_of_least_squares_with_correlated_errors():
    # Variance of generalised least squares by the library, spread of the plain estimate by its formula.
    y, k = worn(0.5), 5
    rho, design = LAGS[k], add_constant(X)
    correlation = toeplitz(rho ** np.arange(15))
    of = np.array([[1.0, 120.0], [0.0, 1.0]]) @ np.linalg.pinv(design)
    expected = GLS(y, design, sigma=correlation).fit().scale * (of @ correlation @ of.T)
    assert lines(y, 0.4).covariance[k] == pytest.approx(expected)


def test_a_higher_lag_makes_it_less_sure():
    y = worn(0.3)
    low, high = lines(y, 0.0), lines(y, 0.7)
    assert high.weights @ high.covariance[:, 1, 1] > 1.3 * (low.weights @ low.covariance[:, 1, 1])


def test_blocks_without_correlation_speak_against_a_lag_wrongly_given():
    weights = [found.weights[:4].sum() for found in (lines(worn(0.0, seed), 0.7) for seed in range(20))]
    assert np.mean(weights) > 0.5


def test_a_known_step_and_a_covariate_are_taken_off():
    step = (np.arange(15) >= 6).astype(float)[:, None]
    warm = np.sin(np.arange(15.0))[:, None]
    y = worn(0.0)
    plain, moved = lines(y, 0.0, step, warm), lines(y + 5 * step[:, 0] + 3 * warm[:, 0], 0.0, step, warm)
    assert moved.slope == pytest.approx(plain.slope)
    assert moved.level == pytest.approx(plain.level + 5)


def test_two_blocks_or_steps_without_end_tell_no_line():
    one = np.ones(2)
    assert first_lines(X[:2], one, one, 0.0, NONE[:2], NONE[:2], 16.0) is None
    assert lines(worn(0.0), 0.0, np.tril(np.ones((15, 15)))[:, 1:]) is None
