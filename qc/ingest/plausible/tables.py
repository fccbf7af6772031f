"""How likely a whole table of distances from the target is, in one unit or another, beside those before it.

A table is taken apart into its level, its pattern by place, its bores and what is left over. Each part has a
usual mean square, told by the blocks before; a table whose figures stand in another unit has all of them off
by one factor, and shows digits that such tables never had.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import log
from typing import Final

import numpy as np

from qc.ingest.plausible.fit import Fit, Place, middle
from qc.ingest.plausible.past import PastBlock

_BLOCKS: Final = 3  # past ones that tell a usual mean square
_KEPT: Final = 0.95  # of the residuals: single slips are another question
# blocks' mean squares scatter as if told by so many readings, at least and at most
_LIKE: Final = (4.0, 30.0)
# numbers that tell a bore's form (taper, barrel, out of round), however many places are read
_SHAPES: Final = 3
_STRANGE: Final = 9.0  # times the usual mean square that no table has, and
_STRANGE_LEVEL: Final = 36.0  # no level about the usual one
_ENGINE: Final = 2  # blocks of the same engine that tell a level or a pattern better than all others


@dataclass(frozen=True, slots=True)
class Part:
    """One part of a table: its usual mean square [ticks^2], and by how many readings' worth it is told."""

    usual: float
    of: float

    def likelihood(self, squares: float, of: int, rounded: float = 0.0) -> float:
        """Logarithm of how likely a sum of squares is, up to what no unit changes.

        Multivariate Student: normal values about a mean square that itself scatters from block to block.
        """
        return -(self.of + of) / 2 * float(
            np.log1p(squares / (self.of * (self.usual + rounded)))
        ) - of / 2 * log(self.usual + rounded)


@dataclass(frozen=True)
class Usual:
    """What tables of distances were like: level, pattern by place, and mean squares about them [ticks]."""

    level: float
    about_level: Part
    pattern: dict[Place, float]
    about_pattern: Part | None
    bores: Part
    left: Part

    def likelihood(self, fit: Fit, factor: float) -> float:
        """Logarithm of how likely a table is once all its figures are multiplied by a factor."""
        rounded = (factor * grain(fit.off)) ** 2 / 12
        told = self.about_level.likelihood((factor * fit.level - self.level) ** 2, 1)
        size = 1
        if self.about_pattern is not None and len(fit.pattern) > 1:
            places = np.array([factor * v - self.pattern[p] for p, v in fit.pattern.items()])
            of = min(len(places) - 1, _SHAPES)
            told += self.about_pattern.likelihood(of * float(np.mean(places**2)), of, rounded)
            size += of
        bores = np.array(list(fit.bores.values()))
        if len(bores) > 2:
            told += self.bores.likelihood(factor**2 * float(np.sum(bores**2)), len(bores) - 1, rounded)
            size += len(bores) - 1
        squares, of = _left(fit)
        told += self.left.likelihood(factor**2 * squares, of, rounded)
        return told + (size + of) * log(factor)

    def strange(self, fit: Fit, factor: float) -> bool:
        """Whether a table multiplied by a factor is unlike all before: no factor explains it then."""
        bores = np.array(list(fit.bores.values()))
        squares, of = _left(fit)
        rounded = (factor * grain(fit.off)) ** 2 / 12
        return bool(
            factor**2 * squares / of > _STRANGE * (self.left.usual + rounded)
            or (len(bores) > 2 and factor**2 * np.mean(bores**2) > _STRANGE * (self.bores.usual + rounded))
            or (factor * fit.level - self.level) ** 2 > _STRANGE_LEVEL * self.about_level.usual
        )


def _left(fit: Fit) -> tuple[float, int]:
    """Sum of squares of what is left over, the largest few left out, and how many readings tell it."""
    ordered = np.sort(fit.left**2)
    kept = max(1, int(_KEPT * len(ordered)))
    of = len(ordered) - len(fit.pattern) - len(fit.bores) + 1
    share = kept / len(ordered)
    return float(np.sum(ordered[:kept])), max(1, round(of * share))


def grain(off: np.ndarray) -> float:
    """Smallest difference of two readings of a table [ticks], nought where all are alike."""
    apart = np.diff(np.unique(np.round(off)))
    apart = apart[apart > 1]  # figures in thou or tenths are whole ticks only to the nearest
    return float(np.min(apart)) if len(apart) else 0.0


def _unrounded(fit: Fit) -> float:
    """Mean square of what is left over, what the gauge's step adds taken off."""
    squares, of = _left(fit)
    rounded = grain(fit.off) ** 2 / 12
    return max(squares / of - rounded, rounded / 4, 1.0)


def usual(blocks: Sequence[PastBlock], engine: str | None, places: Sequence[Place]) -> Usual | None:
    """What such tables were like, None where too few blocks tell."""
    told = [b for b in blocks if b.fit.aimed and len(b.fit.left) > len(b.fit.pattern) + len(b.fit.bores)]
    if len(told) < _BLOCKS:
        return None
    mine = [b for b in told if b.readings[0].engine == engine]
    levels = np.array([b.level for b in (mine if len(mine) >= _ENGINE else told)])
    left = [_unrounded(b.fit) for b in told]
    bores = [float(np.sum(np.square([*b.fit.bores.values()]))) / (len(b.fit.bores) - 1) for b in told
             if len(b.fit.bores) > 2]  # fmt: skip
    within = _part(left)
    same = [b for b in told if set(b.fit.pattern) == set(places)]
    pattern, about = _pattern(same, within)
    about_level = _levels(told, levels, within)
    return Usual(middle(levels), about_level, pattern, about, _part(bores) if bores else within, within)


def _part(squares: Sequence[float]) -> Part:
    """Mean of mean squares, and how far they scatter, as the number of readings that would do so."""
    values = np.maximum(np.array(squares), 1.0)
    logs = np.log(values)
    scatter = float(np.var(logs, ddof=1)) if len(logs) > 2 else 1.0
    return Part(float(np.mean(values)), float(np.clip(2 / max(scatter, 1e-3), *_LIKE)))


def _levels(told: Sequence[PastBlock], levels: np.ndarray, within: Part) -> Part:
    """Mean square of a block's level about the usual one, at first taken to be that of readings."""
    off = levels - middle(levels)
    square = (float(np.sum(off**2)) + 2 * within.usual) / (len(levels) - 1 + 2)
    return Part(square * (1 + 1 / len(levels)), float(min(len(levels) + 1, _LIKE[1])))


def _pattern(same: Sequence[PastBlock], within: Part) -> tuple[dict[Place, float], Part | None]:
    if len(same) < _ENGINE:
        return {}, None
    places = list(same[0].fit.pattern)
    told = np.array([[b.fit.pattern[p] for p in places] for b in same])
    centre = np.median(told, axis=0)
    squares = float(np.sum((told - centre) ** 2)) / max(1, (len(same) - 1) * max(1, len(places) - 1))
    weight = (len(same) - 1) * max(1, len(places) - 1)
    square = (weight * squares + 4 * within.usual) / (weight + 4)
    return dict(zip(places, centre.tolist(), strict=True)), Part(
        square * (1 + 1 / len(same)), float(min(2 + len(same), _LIKE[1]))
    )
