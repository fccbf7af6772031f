"""Exponentially weighted moving average (EWMA) of block means: for a small shift that lasts."""

from dataclasses import dataclass
from functools import lru_cache
from math import sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

from qc.charts.learned import learned, run_length_in_words
from qc.charts.learned import run_length_here as run_length_of_learned
from qc.errors import QuestionError
from qc.stats import fast
from qc.stats.levels import DEFAULT_LEVEL
from qc.stats.runlength import Floats, ewma_run_length, ewma_width

WEIGHTS = (0.05, 0.075, 0.1, 0.125, 0.15, 0.2, 0.25, 0.3, 0.4, 0.5, 0.6, 0.8, 1.0)


@dataclass(frozen=True, slots=True)
class Design:
    """Weight of the newest block, half width of the limits [spreads of the average], and what they give.

    ``at_shift`` blocks on average until a late step of ``shift`` [spreads of a block mean] is seen.
    """

    weight: float
    width: float
    run_length: float
    shift: float
    at_shift: float
    growing: bool


@dataclass(frozen=True, slots=True)
class EwmaChart:
    """Centre, limits and statistic of each block, (m,) each [unit of the means].

    ``statistic`` is NaN where a block has no mean. ``lower_limit, upper_limit`` are those of a late block.
    ``run_length`` says in words how often a quiet series signals, ``assumed`` what that rests on.
    """

    center: float
    lower: Floats
    upper: Floats
    lower_limit: float
    upper_limit: float
    statistic: Floats
    signals: NDArray[np.bool_]
    learned: NDArray[np.bool_]
    s: float
    m: int
    lag1: float
    design: Design
    blocks_to_a_false_alarm: float
    run_length: str
    assumed: tuple[str, ...]
    method: str = "exponentially weighted moving average of block means"


def averages(values: ArrayLike, weight: float, start: ArrayLike) -> Floats:
    """Return z(t) = weight x(t) + (1 - weight) z(t - 1) [unit of values], shape of values.

    Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4 EWMA Control Charts.

    Parameters
    ----------
    values : (..., m)
        In order of time; a NaN is passed over and stays NaN.
    weight : float
        Of the newest value, above 0, at most 1.
    start : float or (...,)
        z before the first value: the target or centre.
    """
    if not 0 < weight <= 1:
        raise QuestionError(f"the weight of the newest block must be above 0 and at most 1; it is {weight:g}")
    x = np.asarray(values, dtype=float)
    out, z = np.full(x.shape, np.nan), np.broadcast_to(np.asarray(start, dtype=float), x.shape[:-1])
    kernels = fast.compiled("qc.charts.compiled", x.size)
    if kernels is not None:
        row, into, begin = x.reshape(-1, x.shape[-1]), out.reshape(-1, x.shape[-1]), z.ravel()
        fast.in_threads(
            lambda first, last: kernels.averages(row, weight, begin, into, first, last), fast.even(*row.shape)
        )
        return out
    for t in range(x.shape[-1]):
        known = ~np.isnan(x[..., t])
        z = np.where(known, weight * x[..., t] + (1 - weight) * z, z)
        out[..., t] = np.where(known, z, np.nan)
    return out


def limits(weight: float, width: float, points: int, *, growing: bool = True) -> Floats:
    """Return the half widths of the limits of each point [standard deviations of a point], (points,).

    width sqrt(weight/(2 - weight) (1 - (1 - weight)^(2t))); not growing: of a late point throughout.
    Source: NIST/SEMATECH e-Handbook 6.3.2.4 (limits of late points); J. M. Lucas and M. S. Saccucci (1990),
    Technometrics 32, 1-12 (exact limits; from memory).
    """
    t = np.arange(1, points + 1)
    grown = 1 - (1 - weight) ** (2 * t) if growing else np.ones(points)
    return np.asarray(width * np.sqrt(weight / (2 - weight) * grown))


@lru_cache(maxsize=64)
def design(shift: float = 1.0, run_length: float = 1 / DEFAULT_LEVEL, *, growing: bool = True) -> Design:
    """Return the weight and limits that see a step soonest at a given run length on target.

    Source: own search over run lengths of `qc.stats.runlength`, after Crowder (1989), Journal of Quality
    Technology 21, 155-162 (from memory).

    Parameters
    ----------
    shift : float
        Step to be seen [spreads of a block mean], above 0.
    run_length : float
        Blocks between false alarms of a quiet series, centre and spread known.
    growing : bool
        Limits that grow from the first block on (fast initial response).
    """
    if not shift > 0:
        raise QuestionError("the shift to be seen must be above 0 spreads of a block mean")
    # limits that grow would favour ever smaller weights, good at the start and slow ever after
    late = {w: ewma_run_length(w, ewma_width(w, run_length), shift) for w in WEIGHTS}
    weight = min(late, key=lambda w: late[w])
    width = ewma_width(weight, run_length, growing=growing)
    return Design(weight, width, run_length, shift, late[weight], growing)


def chart(
    means: ArrayLike,
    bores: ArrayLike,
    *,
    spread_in_block: float | None,
    spread_between_blocks: float | None,
    lag1: float = 0.0,
    learn: int | ArrayLike | None = None,
    wanted: Design | None = None,
) -> EwmaChart:
    """Return the moving average of block means with its limits [unit of the means].

    A block with fewer bores counts less: its deviation is divided by the spread of such a block's mean.
    Under lag-1 rho the limits are wider by sqrt((1 + (1 - weight) rho)/(1 - (1 - weight) rho)), the spread of
    the average of a first-order autoregression.
    Source: NIST/SEMATECH e-Handbook 6.3.2.4; lag-1: own derivation, run length simulated.

    Parameters
    ----------
    means, bores, spread_in_block, spread_between_blocks, lag1, learn
        As `qc.charts.block_means.prediction_limits`.
    wanted : Design, optional
        From `design`.

    Raises
    ------
    TooLittleData
        Under 3 blocks to learn from, or all equal.
    """
    plan = wanted or design()
    base = learned(
        means, bores, spread_in_block=spread_in_block, spread_between_blocks=spread_between_blocks,
        lag1=lag1, learn=learn,
    )  # fmt: skip
    known = ~np.isnan(base.deviations)
    half = np.full(known.shape, np.nan)
    half[known] = _half_widths(plan, base.lag1, int(known.sum()))
    z = averages(base.deviations, plan.weight, 0.0)
    late = float(_widening(plan.weight, base.lag1) * plan.width * sqrt(plan.weight / (2 - plan.weight)))
    here = run_length_here(plan, base.m, round(base.lag1, 2))
    return EwmaChart(
        base.center, base.center - half * base.s, base.center + half * base.s,
        base.center - late * base.s, base.center + late * base.s, base.center + z * base.s,
        np.abs(z) > half, base.mask, base.s, base.m, base.lag1, plan, here,
        run_length_in_words(plan.run_length, here, base.m), _assumed(base.lag1, learn),
    )  # fmt: skip


def _widening(weight: float, rho: float) -> float:
    return sqrt((1 + (1 - weight) * rho) / (1 - (1 - weight) * rho))


def _half_widths(plan: Design, rho: float, points: int) -> Floats:
    return _widening(plan.weight, rho) * limits(plan.weight, plan.width, points, growing=plan.growing)


@lru_cache(maxsize=256)
def run_length_here(plan: Design, learned_blocks: int, lag1: float) -> float:
    """Return the blocks to a false alarm when centre and spread came from so many blocks.

    Source: `qc.charts.learned.run_length_here` over `qc.stats.runlength.ewma_run_length`, limits of late
    blocks.
    """
    wide = _widening(plan.weight, lag1)

    def length_at(error: float, ratio: float) -> float:
        return ewma_run_length(plan.weight, plan.width * ratio, error / wide)

    return run_length_of_learned(length_at, learned_blocks, lag1)


def _assumed(rho: float, learn: int | ArrayLike | None) -> tuple[str, ...]:
    out = [
        "block means are taken as normal, and each as leaning on the one before by the pooled lag-1 "
        f"correlation {rho:.2f}",
    ]
    if learn is None:
        out.append(
            "blocks are judged by a centre they helped to set, which hides part of a shift: set the limits "
            "from blocks before it to see all of it"
        )
    return tuple(out)
