"""The lines a wearing stretch may be on, with what its earlier stretches tell of it."""

import numpy as np
from numpy.typing import NDArray

from qc.drift.pooling import Lines, Models, joined, models
from qc.drift.trend import whitened
from qc.drift.wear import UsualWear

Floats = NDArray[np.float64]
Ints = NDArray[np.int_]

MOST_STRETCHES = 10
"""Stretches further back tell nothing of how alike they are that the last ten do not."""
SLOPES_DIFFER = np.array([0.02, 0.06, 0.12, 0.2, 0.35, 0.6, 1.0])
"""How far slopes of stretches may differ, over the usual slope."""
LEVELS_DIFFER = np.array([0.1, 0.5, 1.0, 2.0, 5.0, 20.0])
"""How far levels after a change may differ, over the spread of block means."""
LIKELY_SLOPES, LIKELY_LEVELS = 0.2, 1.0
FASTER, FASTER_DIFFER, CHANCE_FASTER = 1.0, 0.5, 0.05
"""By how many usual slopes a stretch wears faster that is like none before it, how far such ones differ, and
how often one comes: wrong stones or pressure wear faster, hardly ever slower (own choice)."""


def wearing_lines(
    x: Floats,
    y: Floats,
    sd: Floats,
    lag1: float,
    stretch: Ints,
    steps: Floats,
    now: float,
    usual: UsualWear,
    covariates: Floats | None = None,
) -> Lines | None:
    """Lines of the last stretch, its level and slope drawn towards those of earlier ones as data allow.

    How far slopes and levels differ from stretch to stretch is not estimated but averaged over, from not
    at all to wholly, each possibility weighed by how well all stretches go with it.
    Source: random-effects model of growth, Laird and Ware (1982), Biometrics 38, 963-974 (from memory);
    half-normal weights of the slopes' spread, half-Cauchy of the levels', Gelman (2006), Bayesian Analysis 1,
    515-534 (from memory).

    Parameters
    ----------
    x, y, sd : (m,)
        Wear, block means and their relative sd.
    lag1 : float
    stretch : (m,)
        Number of each block's stretch, in order.
    steps : (m, c)
        Columns of known steps, free.
    now : float
        Wear at which the level is asked for.
    usual : UsualWear
    covariates : (m, c), optional
        Off their means: the level is asked for at those.
    """
    numbers = np.unique(stretch)[-MOST_STRETCHES - 1 :]
    use = stretch >= numbers[0]
    x, y, sd, stretch = x[use], y[use], sd[use], stretch[use]
    steps = varying(steps[use])
    beside = varying(np.zeros((x.size, 0)) if covariates is None else covariates[use])
    own = (stretch[:, None] == numbers[None, :]).astype(float)
    raw = np.column_stack([np.ones(x.size), x, steps, beside, own, own * x[:, None]])
    free, s = 2 + steps.shape[1] + beside.shape[1], numbers.size
    df = x.size - free
    if df < 3 or np.ptp(x[stretch == numbers[-1]]) <= 0:
        return None
    design, values = whitened(raw, sd, lag1), whitened(y, sd, lag1)
    noise = _noise(design, values, free, s)
    reference = max(abs(usual.slope), usual.standard_error, 1e-300)
    slopes, levels = (g.ravel() for g in np.meshgrid(SLOPES_DIFFER, LEVELS_DIFFER, indexing="ij"))
    precision = np.zeros((slopes.size, raw.shape[1]))
    precision[:, free : free + s] = (1 / levels**2)[:, None]
    precision[:, free + s :] = ((noise / (slopes * reference)) ** 2)[:, None]
    prior = np.log(slopes) - (slopes / LIKELY_SLOPES) ** 2 / 2
    prior = prior + np.log(levels) - np.log1p((levels / LIKELY_LEVELS) ** 2)
    contrasts = np.zeros((2, raw.shape[1]))
    contrasts[0, : 2 + steps.shape[1]], contrasts[0, 1] = 1.0, now
    contrasts[1, 1] = 1.0
    contrasts[0, free + s - 1], contrasts[0, -1], contrasts[1, -1] = 1.0, now, 1.0
    faster = precision.copy()
    faster[:, -1] = (noise / (np.maximum(slopes, FASTER_DIFFER) * reference)) ** 2
    parts = [
        models(design, values, precision, contrasts, df),
        _moved(design, values, faster, contrasts, df, FASTER * usual.slope),
    ]
    told = own_information(x[stretch == numbers[-1]], sd[stretch == numbers[-1]], lag1)
    drawn = np.concatenate([precision[:, -1], faster[:, -1]])
    priors = [prior + np.log(1 - CHANCE_FASTER), prior + np.log(CHANCE_FASTER)]
    return joined(parts, priors, df, drawn / (drawn + told))


def _moved(design: Floats, y: Floats, precision: Floats, contrasts: Floats, df: int, slope: float) -> Models:
    """Models whose last effect is drawn towards a slope instead of nought."""
    found = models(design, y - design[:, -1] * slope, precision, contrasts, df)
    return Models(found.estimates + contrasts[:, -1] * slope, found.covariance, found.evidence)


def varying(columns: Floats) -> Floats:
    """Columns that vary at all."""
    return columns[:, np.ptp(columns, axis=0) > 0] if columns.size else columns


def own_information(x: Floats, sd: Floats, lag1: float) -> float:
    """Information of one stretch about its own slope with a level of its own, over the noise variance.

    Source: generalised least squares; the level is projected out.

    Parameters
    ----------
    x, sd : (m,)
    lag1 : float
    """
    one, slope = whitened(np.ones(x.size), sd, lag1), whitened(x, sd, lag1)
    return max(float(slope @ slope - (one @ slope) ** 2 / (one @ one)), 1e-300)


def _noise(design: Floats, values: Floats, free: int, stretches: int) -> float:
    """Standard deviation of the noise where each stretch has its own line; of one line where it cannot."""
    for columns in (design, design[:, :free]):
        coefficients, _, rank, _ = np.linalg.lstsq(columns, values, rcond=1e-9)
        df = values.size - int(rank)
        if df >= 3:
            rest = values - columns @ coefficients
            return max(float(np.sqrt(rest @ rest / df)), 1e-9 * float(np.abs(values).max()), 1e-300)
    return max(float(values.std()), 1e-300)
