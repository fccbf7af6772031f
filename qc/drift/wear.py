"""How a machine wears: slope and length of its finished stretches."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import chdtrc

from qc.drift.trend import fit
from qc.errors import QuestionError, TooLittleData

Floats = NDArray[np.float64]

LEAST_BLOCKS = 4
LEAST_FINISHED = 3
# Stones of one kind never wear quite alike; too few finished stretches cannot tell by how much, so the
# scatter of their slopes is never taken as less than these shares of the slope itself.
LEAST_SCATTER, SCATTER_WHEN_UNKNOWN = 0.1, 0.3
DOUBTFUL = 0.05


@dataclass(frozen=True, slots=True)
class UsualWear:
    """Pooled slope of finished stretches, how much it differs from stretch to stretch, their usual length.

    ``scatter`` is the standard deviation of the stretches' own slopes. ``length`` is the median number
    of bores (or blocks) of finished stretches, None under three of them.
    """

    slope: float
    standard_error: float
    scatter: float
    length: float | None
    stretches: int


def usual_length(wear: ArrayLike, bores: ArrayLike, stretch: ArrayLike, *, of: str = "bores") -> float | None:
    """Median length of the finished stretches, from three on [bores or blocks].

    Source: own rule, usual stretch length of a machine.

    Parameters
    ----------
    wear, bores : (m,)
        Count up to the middle of each block, and bores of the block.
    stretch : (m,)
        Numbers; the last one is not finished.
    of : {"bores", "blocks"}
        What ``wear`` counts.
    """
    x, number = np.asarray(wear, dtype=float), np.asarray(stretch)
    half = np.asarray(bores, dtype=float) / 2 if of == "bores" else np.full(x.shape, 0.5)
    finished = [s for s in dict.fromkeys(number.tolist()) if s != number[-1]]
    lengths = [float((x + half)[number == s].max()) for s in finished]
    return float(np.median(lengths)) if len(lengths) >= LEAST_FINISHED else None


def usual_wear(
    wear: ArrayLike,
    means: ArrayLike,
    stretch: ArrayLike,
    sd: Floats,
    lag1: float,
    *,
    length: float | None = None,
) -> UsualWear:
    """Slope of wear pooled over the finished stretches, each with its own level [unit of means per count].

    The scatter of slopes is the moment estimate of a random-effects model where the slopes differ beyond
    doubt (chi-square at 5 %), and at least a tenth of the slope: from a few stretches the estimate is
    mostly noise and would hide a stretch that wears too fast.
    Source: DerSimonian and Laird (1986), Controlled Clinical Trials 7, 177-188 (moment estimate; from
    memory); test and floors are our own.

    Parameters
    ----------
    wear, means : (m,)
        Of finished stretches only, in order of time.
    stretch : (m,)
        Their numbers; one with under 4 blocks tells no slope.
    sd : (m,)
        Relative standard deviations of the means.
    lag1 : float
    length : float, optional
        Usual length, passed through.

    Raises
    ------
    TooLittleData
        No finished stretch of 4 blocks.
    """
    x, y, number = np.asarray(wear, dtype=float), np.asarray(means, dtype=float), np.asarray(stretch)
    if not x.shape == y.shape == number.shape:
        raise QuestionError("usual wear needs a wear count and a stretch for each block mean")
    slopes, variances = [], []
    for s in dict.fromkeys(number.tolist()):
        use = number == s
        if use.sum() >= LEAST_BLOCKS and np.ptp(x[use]) > 0:
            line = fit(np.column_stack([x[use], np.ones(use.sum())]), y[use], sd[use], lag1)
            slopes.append(line.coefficients[0])
            variances.append(
                (line.covariance[0, 0] / line.sigma**2 if line.sigma > 0 else 1.0, line.sigma, line.df)
            )
    if not slopes:
        raise TooLittleData(
            "usual wear needs a finished stretch of 4 blocks or more: wait for the next change"
        )
    b = np.array(slopes)
    shape, sigma, df = np.array(variances).T
    weights = 1 / (shape * (df @ sigma**2) / df.sum() + 1e-300)
    pooled = float((weights * b).sum() / weights.sum())
    scatter = _scatter(b, weights, pooled)
    error = float(np.sqrt(1 / weights.sum() + scatter**2 / b.size))
    return UsualWear(pooled, error, scatter, length, b.size)


def _scatter(slopes: Floats, weights: Floats, pooled: float) -> float:
    if slopes.size < LEAST_FINISHED:
        return SCATTER_WHEN_UNKNOWN * abs(pooled)
    least, df = LEAST_SCATTER * abs(pooled), slopes.size - 1
    unlike = float((weights * (slopes - pooled) ** 2).sum())
    if chdtrc(df, unlike) > DOUBTFUL:
        return least
    scale = weights.sum() - (weights**2).sum() / weights.sum()
    return float(max(np.sqrt(max(0.0, (unlike - df) / scale)), least))
