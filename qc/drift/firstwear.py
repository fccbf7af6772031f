"""The line of a stretch before which there is none, with a lag-1 that so few blocks do not tell."""

import numpy as np
from numpy.typing import NDArray

from qc.drift.pooling import Lines, Models, joined, models
from qc.drift.trend import fit, whitened
from qc.drift.wearing import varying

Floats = NDArray[np.float64]

LAGS = np.arange(9) / 10
NEAR, USUAL_LAG, LAGS_DIFFER, CHANCE_OTHER = 0.1, 0.15, 0.25, 0.5
"""How near the series' lag-1 is to the one given, or else to what shops show, and how often it is not near:
in the only stretch wear is easily taken for correlation (own choice)."""


def first_lines(
    x: Floats, y: Floats, sd: Floats, lag1: float, steps: Floats, covariates: Floats, now: float
) -> Lines | None:
    """Lines of the only stretch by weighted least squares, as unsure as each possible lag-1 leaves them.

    The estimate is the same whatever the lag-1 is: one wrongly taken for high would make it worse.
    Source: variance of least squares under correlated errors, e.g. Judge et al., The Theory and Practice of
    Econometrics, ch. 8 (from memory); the average over lags is our own, restricted likelihood its weight.

    Parameters
    ----------
    x, y, sd : (m,)
        Wear, block means and their relative sd.
    lag1 : float
    steps : (m, c)
        Columns of known steps.
    covariates : (m, c)
        Off their means: the level is asked for at those.
    now : float
        Wear at which the level is asked for.
    """
    steps, beside = varying(steps), varying(covariates)
    middle = float(x.mean())
    raw = np.column_stack([np.ones(x.size), x - middle, steps, beside])
    df = x.size - raw.shape[1]
    if df < 1 or np.linalg.matrix_rank(raw) < raw.shape[1]:
        return None
    contrasts = np.zeros((2, raw.shape[1]))
    contrasts[0, : 2 + steps.shape[1]], contrasts[0, 1], contrasts[1, 1] = 1.0, now - middle, 1.0
    of_values = contrasts @ np.linalg.pinv(raw / sd[:, None])
    estimates = of_values @ (y / sd)
    apart = np.abs(np.subtract.outer(np.arange(x.size), np.arange(x.size)))
    free, parts = np.zeros((1, raw.shape[1])), []
    for rho in LAGS:
        found = models(whitened(raw, sd, rho), whitened(y, sd, rho), free, contrasts, df)
        # Whitened rows have the variance of a block mean: the determinant is that of the correlations.
        evidence = found.evidence - (x.size - 1) / 2 * np.log(1 - rho**2)
        spread = fit(raw, y, sd, rho).sigma ** 2 * (of_values @ rho**apart @ of_values.T)
        parts.append(Models(estimates[None], spread[None], evidence))
    return joined(parts, [np.array([chance]) for chance in _chances(lag1)], df)


def _chances(lag1: float) -> Floats:
    """Logarithm of the chance of each lag."""
    near = np.exp(-(((LAGS - lag1) / NEAR) ** 2) / 2)
    other = np.exp(-(((LAGS - USUAL_LAG) / LAGS_DIFFER) ** 2) / 2)
    return np.asarray(np.log((1 - CHANCE_OTHER) * near / near.sum() + CHANCE_OTHER * other / other.sum()))
