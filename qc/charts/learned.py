"""Centre and spread that charts of block means learn from blocks, and block means measured by them."""

from collections.abc import Callable
from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import gammaincinv, ndtri

from qc.charts.block_means import learned_from, spread_for
from qc.errors import QuestionError, TooLittleData
from qc.stats.lag import effective

Floats = NDArray[np.float64]

_NODES = 12


@dataclass(frozen=True, slots=True)
class Learned:
    """Centre [unit of the means], spread of each block's mean (m,), of a typical one, and what they rest on.

    ``deviations`` (m,) are the block means off centre in spreads of a block with so many bores.
    """

    center: float
    spread: Floats
    s: float
    deviations: Floats
    mask: NDArray[np.bool_]
    m: int
    lag1: float
    typical_bores: float


def learned(
    means: ArrayLike,
    bores: ArrayLike,
    *,
    spread_in_block: float | None,
    spread_between_blocks: float | None,
    lag1: float = 0.0,
    learn: int | ArrayLike | None = None,
) -> Learned:
    """Return centre and spread of block means as `qc.charts.block_means.prediction_limits` takes them.

    Source: own, as there: the bias of lag-1 is taken out of the spread, a block of n bores has its own.

    Parameters
    ----------
    means, bores : (m,)
        Block means in order of time, NaN is passed over, and the bores behind each.
    spread_in_block, spread_between_blocks : float or None
    lag1 : float
        Below 0 counts as 0.
    learn : int or (m,) of bool, optional
        Blocks learned from; None = all.

    Raises
    ------
    TooLittleData
        Under 3 blocks, or all of them equal.
    """
    x, n = np.asarray(means, dtype=float).ravel(), np.asarray(bores, dtype=float).ravel()
    if x.shape != n.shape:
        raise QuestionError("a chart of block means needs one number of bores for each block")
    mask = learned_from(x, learn)
    rho, m = max(0.0, min(lag1, 0.9)), int(mask.sum())
    typical = float(np.median(n[mask]))
    if not np.ptp(x[mask]) > 0:
        raise TooLittleData(
            f"the {m} blocks to learn from are all equal, so nothing tells how far a block may stray: check "
            "the gauge's resolution or wait for other builds"
        )
    spreads = spread_for(
        np.append(n, typical), x[mask], n[mask], spread_in_block, spread_between_blocks, effective(m, rho)
    )
    center = float(x[mask].mean())
    return Learned(
        center, spreads[:-1], float(spreads[-1]), (x - center) / spreads[:-1], mask, m, rho, typical
    )


def run_length_here(length_at: Callable[[float, float], float], m: int, lag1: float) -> float:
    """Return the blocks to a false alarm when centre and spread were learned from m blocks, on average.

    One over the average rate of false alarms over what m blocks may give as centre and spread: the centre
    normal, the squared spread a chi-square over its degrees of freedom, both worth what lag-1 leaves of m
    blocks. (The average of the run lengths themselves is that of a few lucky charts.)
    Source: own, by quadrature; met by simulation in the tests.

    Parameters
    ----------
    length_at : callable
        Run length when the level lies so far off the learned centre [spreads of a block mean] and the learned
        spread is so many times the true one.
    m : int
    lag1 : float
    """
    worth = effective(m, lag1)
    nodes, shares = np.polynomial.legendre.leggauss(_NODES)
    chances, shares = (nodes + 1) / 2, shares / 2
    ratios = np.sqrt(2 * gammaincinv(worth.df / 2, chances) / worth.df)
    # the centre errs alike to both sides, and every chart here looks to both
    errors = -ndtri(chances / 2) / sqrt(worth.blocks_for_mean)
    rate = sum(
        float(a * b) / length_at(float(error), float(ratio))
        for error, a in zip(errors, shares, strict=True)
        for ratio, b in zip(ratios, shares, strict=True)
    )
    return 1 / rate


def run_length_in_words(known: float, here: float, m: int) -> str:
    """Return both run lengths in words: with limits from m blocks, and with known parameters in brackets."""
    return (
        f"a quiet series gives one false alarm in about {_rounded(here)} blocks with limits from {m} blocks "
        f"({_rounded(known)} if its centre and spread were known): limits learned from few blocks alarm "
        "more often"
    )


def _rounded(count: float) -> str:
    """Two digits: an average over few blocks is not worth more."""
    size = 10 ** max(0, len(str(int(count))) - 2)
    return f"{round(count / size) * size:,.0f}"
