"""Where the level of a block usually is, by its engine's blocks and those of others made to the same aim.

Levels of blocks are few, so spreads are pooled: over engines about each engine's own middle, and over all
blocks made to one aim. Which of both foretells the next block better is taken.
"""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from math import sqrt
from typing import Final, NamedTuple

import numpy as np

from qc.ingest.plausible.fit import Fit, middle
from qc.ingest.plausible.past import Past, PastBlock

_Z: Final = 3.4808  # of the normal distribution at 1 - 1/4,000: one level in 2,000 is farther off by chance
_TAKEN: Final = 10  # blocks, or bores, that what is taken for usual counts like
_CLUSTER: Final = 4.0  # spreads within which blocks are made to one aim
_OTHERS: Final = 3  # blocks of other engines that tell as much as one of the same
_KNOWN: Final = 1.5  # spreads from a level that this engine had before, which is none to ask about
_FORM: Final = 3.0  # times the usual spread that a block's own may be
_STEPS: Final = 2.0  # of the gauge, that readings of one block may scatter in any case
_OF_MEDIAN: Final = 1.57  # variance of a median over that of a mean, normal values: pi / 2


class Usual(NamedTuple):
    """Where a block should be: the centre, the spread of a new block about it [ticks], told by how many.

    own : whether blocks of the same engine tell
    known : whether the engine had a level like this before, away from the centre
    form : whether readings in the block scatter as they usually do
    """

    centre: float
    spread: float
    of: int
    own: bool
    known: bool
    form: bool


class _Told(NamedTuple):
    """A middle of levels, the variance of a new one about it, by how many it is told."""

    centre: float
    variance: float
    of: int


def usual(past: Past, fit: Fit, engine: str | None, unit: str) -> Usual | None:
    """Where a block of an engine should be by the past of its series; None where nothing tells."""
    blocks = [b for b in past.blocks if b.fit.aimed and b.level == b.level]
    if not blocks:
        return None
    prior = max(x for x in (past.spread, past.step / 2, 1.0) if x == x)
    within = _within(blocks, prior)
    one = sqrt(within.variance)
    own = np.array([b.level for b in blocks if (b.readings[0].unit, b.readings[0].engine) == (unit, engine)])
    every = np.array([b.level for b in blocks])
    found = list(_candidates(own, every, fit.level, within, prior))
    if not found:
        return None
    best = min(found, key=lambda t: quantile(t.of) * sqrt(t.variance))
    spread = sqrt(best.variance + _scattered(fit, past) + _rounded(fit))
    known = bool(len(own)) and float(np.min(np.abs(own - fit.level))) < _KNOWN * one
    return Usual(best.centre, spread, best.of, bool(len(own)), known, _formed(fit, past))


def _within(blocks: Sequence[PastBlock], prior: float) -> _Told:
    """Variance of block levels about those of their engine [ticks^2].

    Few blocks tell little: until more do, block levels are taken to scatter as readings in a block do
    (common practice, no source), counted like ten blocks.
    """
    groups: dict[tuple[str, str | None], list[float]] = defaultdict(list)
    for b in blocks:
        groups[b.readings[0].unit, b.readings[0].engine].append(b.level)
    some = [np.array(g) for g in groups.values() if len(g) > 1]
    of = sum(len(g) - 1 for g in some)
    squares = sum(float(np.sum((g - np.mean(g)) ** 2)) for g in some)
    return _Told(0.0, (squares + _TAKEN * prior**2) / (of + _TAKEN), of + _TAKEN)


def _candidates(
    own: np.ndarray, every: np.ndarray, level: float, within: _Told, prior: float
) -> Iterator[_Told]:
    """What the engine's own blocks foretell, and what all blocks made to the same aim do."""
    reach = _CLUSTER * sqrt(within.variance)
    of = own if len(own) else every
    near = of[np.abs(of - of[np.argmin(np.abs(of - level))]) <= reach]
    centre = middle(near)
    if len(own):
        yield _Told(centre, within.variance * (1 + 1 / len(near)), within.of)
    alike = every[np.abs(every - centre) <= reach]
    if len(alike) >= _OTHERS:
        variance, told = _about_aims(every, reach, prior)
        yield _Told(middle(alike), variance * (1 + 1 / len(alike)), told)


def _about_aims(every: np.ndarray, reach: float, prior: float) -> tuple[float, int]:
    """Variance of block levels about the middle of those made to one aim, and by how many it is told."""
    ordered = np.sort(every)
    aims = np.split(ordered, np.flatnonzero(np.diff(ordered) > reach) + 1)
    squares = sum(float(np.sum((some - np.mean(some)) ** 2)) for some in aims)
    of = len(every) - len(aims) + _TAKEN
    return (squares + _TAKEN * prior**2) / of, of


def _scattered(fit: Fit, past: Past) -> float:
    """Variance of the level that comes of bores which scatter more than usual [ticks^2].

    Few bores tell their own scatter badly: the usual one counts like ten of them.
    """
    own, before, n = fit.bore_spread, past.bore_spread, len(fit.bores)
    if not own > before:
        return 0.0
    return _OF_MEDIAN * (own**2 - before**2) / (n + _TAKEN)


def _rounded(fit: Fit) -> float:
    """Variance that rounding to the gauge's step adds to a level [ticks^2]."""
    return fit.step**2 / 12 if fit.step == fit.step else 0.0


def _formed(fit: Fit, past: Past) -> bool:
    """Whether the block's spread is what it usually is: a step of the gauge leaves form alone."""
    told = (_FORM * past.spread, _FORM * past.scatter, _STEPS * fit.step, _STEPS * past.step, 0.0)
    allowed = max(x for x in told if x == x)
    return not fit.spread > allowed


def quantile(of: int) -> float:
    """Spreads that one level in 2,000 exceeds, by Student's distribution with so many degrees of freedom.

    Source: expansion of the quantile in 1/n, Abramowitz and Stegun, Handbook of Mathematical Functions,
    26.7.5 (from memory).
    """
    z = _Z
    return z + (z**3 + z) / (4 * of) + (5 * z**5 + 16 * z**3 + 3 * z) / (96 * of**2)
