"""What a chart of blocks is asked, and the published rule that answers each question.

Values are compared as whole steps far finer than any gauge, so that equal totals tie exactly whatever the
order they were added in. No rule has a number or a letter: each is named by its question.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr

from qc.charts.learned import Learned, run_length_here
from qc.errors import QuestionError
from qc.stats import fast
from qc.stats.runlength import Floats, RunLength, simulated
from qc.stats.runrules import RunRule, run_length

Ints = NDArray[np.int64]
Mask = NDArray[np.bool_]

TICK = 1e-5
PARTS = 1441440
"""2^5 3^2 5 7 11 13: in such parts the mean of any usual number of readings (8 bores x 3 x 4) is whole."""

_LARGEST = 2e3

SHIFT_BLOCKS, WALK_BLOCKS, QUIET_BLOCKS = 8, 6, 15
WESTERN = "Western Electric, Statistical Quality Control Handbook (1956) (from memory)"
NELSON = "L. S. Nelson, Journal of Quality Technology 16 (1984) 237-239 (from memory)"
WEAR_MODELLED = "a wear slope is taken out of this series: rising or falling is what it should do"


@dataclass(frozen=True, slots=True)
class Answer:
    """What one rule says: the blocks it signals at (m,), its name and source, how a tie counts.

    ``known`` and ``here`` are blocks to a false alarm with known parameters and as learned; ``off`` says why
    a rule is not asked.
    """

    question: str
    words: str
    rule: str
    source: str
    tie: str
    signals: Mask
    known: float | None
    here: float | None
    run_length: str
    off: str | None = None


def whole(values: ArrayLike) -> Ints:
    """Return values as whole parts of a tick of 1e-5 of their unit, (m,); equal totals give equal numbers.

    Source: own rule.

    Parameters
    ----------
    values : (m,)
        Below 2,000 in size, no NaN.
    """
    x = np.ascontiguousarray(values, dtype=float).ravel()
    kernels = fast.compiled("qc.charts.compiled", x.size)
    out = np.empty(x.size, dtype=np.int64)
    if kernels is not None:
        fits = kernels.whole(x, float(PARTS), TICK, out, _LARGEST, 0, x.size)
    else:
        fits = bool((np.abs(x) < _LARGEST).all())
    if not fits:
        raise QuestionError(
            "run rules need block means that are numbers below 2,000: code them by their target"
        )
    return out if kernels is not None else np.rint(x / TICK * PARTS).astype(np.int64)


def runs(hits: ArrayLike, breaks: ArrayLike | None = None) -> Ints:
    """Return how many successive hits end at each place, (m,); none across a change of `breaks`.

    Source: definition of a run.
    """
    hit = np.asarray(hits, dtype=bool).ravel()
    number = _numbers(breaks, hit.size)
    at = np.arange(hit.size)
    first = np.append(True, np.diff(number) != 0) if hit.size else np.zeros(0, dtype=bool)
    last_miss = np.maximum.accumulate(np.where(~hit, at, np.where(first, at - 1, -1)))
    return np.where(hit, at - last_miss, 0)


def lasting_shift(means: Ints, center: int | Ints, breaks: ArrayLike | None = None) -> Mask:
    """Return the blocks that end 8 or more in a row on one side of the centre, (m,).

    A block on the centre belongs to neither side and ends the run. Series one behind the other are told apart
    by `breaks`, each block with the centre of its own.
    Source: Western Electric (1956), eight in a row on one side (from memory).
    """
    kernels = fast.compiled("qc.charts.compiled", means.size)
    if kernels is not None:
        out, middle = _for_compiled(means, center)
        kernels.one_sided(means, middle, _numbers(breaks, means.size), SHIFT_BLOCKS, out)
        return out
    above, below = runs(means > center, breaks), runs(means < center, breaks)
    return (above >= SHIFT_BLOCKS) | (below >= SHIFT_BLOCKS)


def slow_walk(means: Ints, breaks: ArrayLike | None = None) -> Mask:
    """Return the blocks that end 6 or more in a row each higher, or each lower, than the one before, (m,).

    Two equal blocks end the run.
    Source: L. S. Nelson (1984), six in a row steadily increasing or decreasing (from memory).
    """
    number = _numbers(breaks, means.size)
    kernels = fast.compiled("qc.charts.compiled", means.size)
    if kernels is not None:
        out = np.empty(means.size, dtype=bool)
        kernels.walking(means, number, WALK_BLOCKS - 1, out)
        return out
    step = np.diff(means)
    inside = np.diff(number) == 0
    up, down = runs((step > 0) & inside), runs((step < 0) & inside)
    walked = (up >= WALK_BLOCKS - 1) | (down >= WALK_BLOCKS - 1)
    return np.append(np.zeros(min(1, means.size), dtype=bool), walked)


def too_quiet(means: Ints, center: int | Ints, spread: ArrayLike, breaks: ArrayLike | None = None) -> Mask:
    """Return the blocks that end 15 or more in a row within one spread of the centre, (m,).

    A block exactly one spread off is not within and ends the run.
    Source: L. S. Nelson (1984), fifteen in a row within one sigma (from memory).
    """
    reach = whole(spread)
    kernels = fast.compiled("qc.charts.compiled", means.size)
    if kernels is not None:
        out, middle = _for_compiled(means, center)
        reach = np.broadcast_to(reach, means.shape)
        kernels.near(means, middle, reach, _numbers(breaks, means.size), QUIET_BLOCKS, out)
        return out
    return runs(np.abs(means - center) < reach, breaks) >= QUIET_BLOCKS


def _numbers(breaks: ArrayLike | None, size: int) -> NDArray[Any]:
    return np.zeros(size) if breaks is None else np.asarray(breaks).ravel()


def _for_compiled(means: Ints, center: int | Ints) -> tuple[Mask, Ints]:
    return np.empty(means.size, dtype=bool), np.broadcast_to(np.asarray(center, dtype=np.int64), means.shape)


def answers(
    means: ArrayLike, base: Learned, *, breaks: ArrayLike | None = None, wear_modelled: bool = False
) -> tuple[Answer, ...]:
    """Return what the run rules say about block means: a lasting small shift, a slow walk, too quiet.

    One block far off is answered by `qc.charts.block_means`, spread grown by `qc.charts.spread`.

    Parameters
    ----------
    means : (m,)
        In order of time; a NaN is passed over and breaks nothing.
    base : Learned
        Centre and spread, from `qc.charts.learned.learned`.
    breaks : (m,), optional
        Number of the stretch and joint of each block; no run goes across a change.
    wear_modelled : bool
        Whether a wear slope is taken out: then a walk is no signal.
    """
    x = np.asarray(means, dtype=float).ravel()
    known = ~np.isnan(x)
    kept = None if breaks is None else np.asarray(breaks).ravel()[known]
    ticks, center = whole(x[known]), int(whole([base.center])[0])
    lag = round(base.lag1, 1)

    def spread_out(found: Mask) -> Mask:
        out = np.zeros(x.size, dtype=bool)
        out[known] = found
        return out

    none = np.zeros(x.size, dtype=bool)
    walk = none if wear_modelled else spread_out(slow_walk(ticks, kept))
    return (
        _told("lasting_shift", spread_out(lasting_shift(ticks, center, kept)), base.m, lag),
        replace(_told("slow_walk", walk, base.m, lag), off=WEAR_MODELLED if wear_modelled else None),
        _told("too_quiet", spread_out(too_quiet(ticks, center, base.spread[known], kept)), base.m, lag),
    )


def _told(question: str, signals: Mask, m: int, lag1: float) -> Answer:
    words, rule, source, tie = _SAID[question]
    known, here = false_alarms(question, m, lag1)
    told = (
        f"a quiet series gives one false alarm in about {here:,.0f} blocks with centre and spread from "
        f"{m} blocks ({known:,.0f} if they were known)"
    )
    if lag1 > 0:
        told += f"; counted for blocks that lean on the one before by {lag1:.1f}"
    return Answer(question, words, rule, source, tie, signals, known, here, told)


@lru_cache(maxsize=512)
def false_alarms(question: str, m: int, lag1: float) -> tuple[float, float]:
    """Return the blocks to a false alarm with known parameters, and with those learned from m blocks.

    Source: exact for independent blocks (`qc.stats.runrules`; runs of hits: Feller, An Introduction to
    Probability Theory and Its Applications I, XIII.7), the walk and correlated blocks by simulation.
    """
    if question == "slow_walk":
        known = _counted(question, lag1)
        return known, known
    length_at = _EXACT[question]
    exact = length_at(0.0, 1.0)
    known = _counted(question, lag1) if lag1 > 0 else exact
    # what learning costs is taken from independent blocks, with what lag-1 leaves of m
    return known, known * run_length_here(length_at, m, lag1) / exact


def simulation_error(question: str, lag1: float) -> float | None:
    """Return the relative standard error of a run length that was simulated, None of an exact one.

    Source: `qc.stats.runlength.simulated`.
    """
    if question != "slow_walk" and lag1 <= 0:
        return None
    found = _run(question, lag1)
    return found.standard_error / found.average


def _counted(question: str, lag1: float) -> float:
    return _run(question, lag1).average


@lru_cache(maxsize=64)
def _run(question: str, lag1: float) -> RunLength:
    return simulated(_COUNTED[question], lag1=lag1, charts=400, cut=4000)


def _eight(error: float, ratio: float) -> float:
    return run_length([RunRule(SHIFT_BLOCKS, SHIFT_BLOCKS, 0.0)], error)


def _fifteen(error: float, ratio: float) -> float:
    p = float(ndtr(ratio - error) - ndtr(-ratio - error))
    return (1 - p**QUIET_BLOCKS) / ((1 - p) * p**QUIET_BLOCKS)


def _count_eight(state: Floats | None, u: Floats) -> tuple[Floats, Mask]:
    before = np.zeros((2, u.size)) if state is None else state
    now = np.where(np.stack((u > 0, u < 0)), before + 1, 0)
    return now, now.max(axis=0) >= SHIFT_BLOCKS


def _count_walk(state: Floats | None, u: Floats) -> tuple[Floats, Mask]:
    if state is None:
        return np.stack((u, np.ones(u.size), np.ones(u.size))), np.zeros(u.size, dtype=bool)
    up = np.where(u > state[0], state[1] + 1, 1)
    down = np.where(u < state[0], state[2] + 1, 1)
    return np.stack((u, up, down)), np.maximum(up, down) >= WALK_BLOCKS


def _count_quiet(state: Floats | None, u: Floats) -> tuple[Floats, Mask]:
    now = np.where(np.abs(u) < 1, (np.zeros(u.size) if state is None else state) + 1, 0)
    return now, now >= QUIET_BLOCKS


_EXACT: dict[str, Callable[[float, float], float]] = {"lasting_shift": _eight, "too_quiet": _fifteen}
_COUNTED: dict[str, Callable[[Floats | None, Floats], tuple[Floats, Mask]]] = {
    "lasting_shift": _count_eight, "slow_walk": _count_walk, "too_quiet": _count_quiet,
}  # fmt: skip
_SAID = {
    "lasting_shift": (
        "the level has moved a little and stays there",
        f"{SHIFT_BLOCKS} blocks in a row on one side of the centre",
        WESTERN, "a block on the centre counts to neither side and ends the run",
    ),
    "slow_walk": (
        "the level walks one way",
        f"{WALK_BLOCKS} blocks in a row, each higher or each lower than the one before",
        NELSON, "two equal blocks end the run",
    ),
    "too_quiet": (
        "blocks lie too close to the centre to be true: look at the gauge, the rounding, or who wrote them",
        f"{QUIET_BLOCKS} blocks in a row within one spread of the centre", NELSON,
        "a block exactly one spread off counts as outside and ends the run",
    ),
}  # fmt: skip
