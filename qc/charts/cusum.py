"""Cumulative sum (CUSUM) of block means off centre: for a small shift that lasts, and when it began."""

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
from qc.stats.runlength import Floats, cusum_limit, cusum_run_length

FAST_START = 0.5
"""Head start as a share of the limit: fast initial response."""

_OVERSHOOT = 1.166  # twice Siegmund's 0.583


@dataclass(frozen=True, slots=True)
class Design:
    """Allowance k and limit h [spreads of a block mean], head start as a share of h, and what they give.

    ``at_shift`` blocks on average until a step of ``shift`` [spreads of a block mean] is seen.
    """

    k: float
    h: float
    head_start: float
    run_length: float
    shift: float
    at_shift: float


@dataclass(frozen=True, slots=True)
class CusumChart:
    """Both sums of each block, (m,) each, and the limit they may not pass [unit of the means].

    ``statistic`` is the larger of both sums, a downward one negative; ``lower, upper`` are the limit on both
    sides, ``center`` the level the sums are taken from. ``began`` (m,) is the place of the first block of
    the run a signal belongs to, -1 without signal.
    """

    center: float
    lower: Floats
    upper: Floats
    lower_limit: float
    upper_limit: float
    high: Floats
    low: Floats
    statistic: Floats
    signals: NDArray[np.bool_]
    began: NDArray[np.intp]
    learned: NDArray[np.bool_]
    s: float
    m: int
    lag1: float
    design: Design
    blocks_to_a_false_alarm: float
    run_length: str
    assumed: tuple[str, ...]
    method: str = "cumulative sum of block means off centre"


def sums(deviations: ArrayLike, k: float, *, start: float = 0.0) -> tuple[Floats, Floats]:
    """Return the upward and downward sums [unit of deviations], shape of deviations.

    high(t) = max(0, high(t - 1) + d(t) - k), low(t) = max(0, low(t - 1) - d(t) - k).
    Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.3 CUSUM Control Charts.

    Parameters
    ----------
    deviations : (..., m)
        Off the centre or target, in order of time; a NaN is passed over and stays NaN.
    k, start : float
        Allowance, and both sums before the first value [unit of deviations].
    """
    d = np.asarray(deviations, dtype=float)
    out = np.full((2, *d.shape), np.nan)
    kernels = fast.compiled("qc.charts.compiled", d.size)
    if kernels is not None:
        row, high, low = (part.reshape(-1, d.shape[-1]) for part in (d, *out))
        fast.in_threads(
            lambda first, last: kernels.sums(row, k, float(start), high, low, first, last),
            fast.even(*row.shape),
        )
        return out[0], out[1]
    now = np.full((2, *d.shape[:-1]), float(start))
    for t in range(d.shape[-1]):
        known = ~np.isnan(d[..., t])
        step = np.stack((d[..., t], -d[..., t]))
        now = np.where(known, np.maximum(0.0, now + step - k), now)
        out[..., t] = np.where(known, now, np.nan)
    return out[0], out[1]


@lru_cache(maxsize=64)
def design(
    shift: float = 1.0, run_length: float = 1 / DEFAULT_LEVEL, *, head_start: float = FAST_START
) -> Design:
    """Return allowance and limit for a step to be seen, at a given run length on target.

    k = shift/2; h solved for.
    Source: D. M. Hawkins and D. H. Olwell, Cumulative Sum Charts and Charting (1998), ch. 3 (from memory).

    Parameters
    ----------
    shift : float
        Step to be seen [spreads of a block mean], above 0.
    run_length : float
        Blocks between false alarms of a quiet series, centre and spread known.
    head_start : float
        Share of the limit the sums start at; 0 = none.
    """
    if not (shift > 0 and 0 <= head_start < 1):
        raise QuestionError("the shift to be seen must be above 0, the head start a share from 0 to below 1")
    k = shift / 2
    h = cusum_limit(k, run_length, head_start=head_start)
    seen = cusum_run_length(k, h, shift, head_start=head_start * h)
    return Design(k, h, head_start, run_length, shift, seen)


def chart(
    means: ArrayLike,
    bores: ArrayLike,
    *,
    spread_in_block: float | None,
    spread_between_blocks: float | None,
    lag1: float = 0.0,
    learn: int | ArrayLike | None = None,
    wanted: Design | None = None,
) -> CusumChart:
    """Return the cumulative sums of block means off centre, with their limit [unit of the means].

    A block with fewer bores counts less: its deviation is divided by the spread of such a block's mean. Under
    lag-1 rho the limit is that of a sum whose steps have the spread sqrt((1 + rho)/(1 - rho)) of a long sum
    of a first-order autoregression: the run length on target is then the wanted one or up to 3.5 times it
    (simulated, rho to 0.5): fewer false alarms than said.
    Source: NIST/SEMATECH e-Handbook 6.3.2.3; head start: Lucas and Crosier (1982), Technometrics 24, 199-205
    (from memory); lag-1: own, with the 1.166 of D. Siegmund, Sequential Analysis (1985) (from memory).

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
    reach = _limit(plan, base.lag1)
    high, low = sums(base.deviations, plan.k, start=plan.head_start * reach)
    signals = (high > reach) | (low > reach)
    half = np.where(np.isnan(base.deviations), np.nan, reach * base.s)
    here = run_length_here(plan, base.m, round(base.lag1, 2))
    statistic = np.where(high >= low, high, -low) * base.s
    return CusumChart(
        base.center, -half, half, -reach * base.s, reach * base.s, high * base.s, low * base.s, statistic,
        signals, _began(high, low, reach), base.mask, base.s, base.m, base.lag1, plan, here,
        run_length_in_words(plan.run_length, here, base.m), _assumed(base.lag1, learn),
    )  # fmt: skip


def _wide(rho: float) -> float:
    return sqrt((1 + rho) / (1 - rho))


def _limit(plan: Design, rho: float) -> float:
    """Return h with what lag-1 adds; a sum passes it by 0.583 on average, and so at nought."""
    if rho <= 0:
        return plan.h
    wide = _wide(rho)
    inner = cusum_limit(plan.k / wide, plan.run_length, head_start=plan.head_start)
    return wide * (inner + _OVERSHOOT) - _OVERSHOOT


def _began(high: Floats, low: Floats, reach: float) -> NDArray[np.intp]:
    """Place after the last block at which the signalling sum stood at nought."""
    out = np.full(high.shape, -1, dtype=np.intp)
    for side in (high, low):
        rested = np.maximum.accumulate(np.where(side == 0, np.arange(side.size), -1))
        out = np.where(side > reach, rested + 1, out)
    return out


@lru_cache(maxsize=256)
def run_length_here(plan: Design, learned_blocks: int, lag1: float) -> float:
    """Return the blocks to a false alarm when centre and spread came from so many blocks.

    Source: `qc.charts.learned.run_length_here` over `qc.stats.runlength.cusum_run_length`.
    """
    wide, limit = _wide(lag1), _limit(plan, lag1)

    def length_at(error: float, ratio: float) -> float:
        h = max(0.1, (limit * ratio + _OVERSHOOT) / wide - _OVERSHOOT)
        return cusum_run_length(plan.k * ratio / wide, h, error / wide, head_start=plan.head_start * h)

    return run_length_of_learned(length_at, learned_blocks, lag1)


def _assumed(rho: float, learn: int | ArrayLike | None) -> tuple[str, ...]:
    out = [
        "block means are taken as normal, and each as leaning on the one before by the pooled lag-1 "
        f"correlation {rho:.2f}",
    ]
    if learn is None:
        out.append(
            "blocks are judged by a centre they helped to set, so the sums must come back to nought: set the "
            "limits from blocks before a shift to see all of it"
        )
    return tuple(out)
