"""Averages over models of one kind: how far effects may differ, where a bend began, weighed by the data.

Each model is a linear one in which some effects are drawn towards nought by a precision. Its weight is
what the data say of it with the noise integrated out; a forecast averages over all of them, so that it
is as unsure as the blocks leave it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Lines:
    """Possible lines as of the end of a block: level, slope, covariance, weights, degrees of freedom.

    ``borrowed`` is the share of the slope that comes from earlier stretches.
    """

    level: Floats
    slope: Floats
    covariance: Floats
    weights: Floats
    df: int
    borrowed: float | None = None

    @property
    def mean_slope(self) -> float:
        """Weighted mean of the slopes."""
        return float(self.weights @ self.slope)


@dataclass(frozen=True, slots=True)
class Models:
    """Models with one design: contrasts as each gives them, and the logarithm of what speaks for it."""

    estimates: Floats
    covariance: Floats
    evidence: Floats


def models(design: Floats, y: Floats, precision: Floats, contrasts: Floats, df: int) -> Models:
    """Contrasts of the coefficients under each of several precisions, with the evidence for each.

    Source: normal linear model with a conjugate prior, e.g. Gelman et al., Bayesian Data Analysis, ch. 14
    (from memory); with precision nought generalised least squares, with a variance ratio fixed Henderson's
    (1950) mixed-model equations.

    Parameters
    ----------
    design, y : (m, k), (m,)
        Whitened.
    precision : (g, k)
        Over the noise variance; 0 leaves an effect free.
    contrasts : (c, k)
    df : int
        Blocks less free effects.

    Returns
    -------
    Models
        ``estimates`` (g, c), ``covariance`` (g, c, c), ``evidence`` (g,).
    """
    size = np.sqrt(np.maximum((design**2).sum(axis=0), 1e-300))
    x = design / size
    drawn = precision / size**2
    gram, sums = x.T @ x, x.T @ y
    flat = 1e-10 * np.eye(size.size)
    whole = gram[None] + flat[None] + drawn[:, :, None] * np.eye(size.size)[None]
    inverse = np.linalg.inv(whole)
    _, log_size = np.linalg.slogdet(whole)
    coefficients = inverse @ sums
    square = np.maximum(float(y @ y) - coefficients @ sums, 1e-12 * float(y @ y) + 1e-300)
    told = np.where(drawn > 0, np.log(np.where(drawn > 0, drawn, 1.0)), 0.0).sum(axis=1)
    free = np.where(drawn > 0, 0.0, np.log(size)).sum(axis=1)
    evidence = 0.5 * (told - log_size) - free - df / 2 * np.log(square)
    c = contrasts / size
    spread = c @ inverse @ c.T
    return Models(coefficients @ c.T, square[:, None, None] / max(df, 1) * spread, evidence)


def joined(
    parts: Sequence[Models], log_prior: Sequence[Floats], df: int, borrowed: Floats | None = None
) -> Lines:
    """Lines of all models with their weights.

    Source: Bayes' rule over models; our own choice of what they are.

    Parameters
    ----------
    parts : sequence of Models
        Contrasts level and slope.
    log_prior : sequence of (g,)
    df : int
    borrowed : (n,), optional
        Share of the slope that each model takes from elsewhere.
    """
    evidence = np.concatenate([p.evidence + prior for p, prior in zip(parts, log_prior, strict=True)])
    weights = np.exp(evidence - evidence.max())
    weights = weights / weights.sum()
    kept = weights > 1e-5 * weights.max()
    both = np.concatenate([p.estimates for p in parts])[kept]
    covariance = np.concatenate([p.covariance for p in parts])[kept]
    share = None if borrowed is None else float(weights @ borrowed)
    weights = weights[kept] / weights[kept].sum()
    return Lines(both[:, 0], both[:, 1], covariance, weights, df, share)
