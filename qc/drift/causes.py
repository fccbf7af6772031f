"""Whether a change follows something known beside each block: who did it, which family, how warm, what hour.

A factor takes a change over when it explains the blocks at the alarm level and, once it is known, the
change no longer shows. A factor that itself changed only with the change tells nothing of it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.special import fdtrc

from qc.drift.changepoint import added, basis
from qc.drift.model import Model, model_of
from qc.drift.series import SeriesBlocks
from qc.drift.trend import whitened
from qc.stats.levels import DEFAULT_LEVEL

Floats = NDArray[np.float64]
Kind = Literal["operator", "engine", "temperature", "time"]

LEAST_BLOCKS = 4
"""Blocks that a person or a family needs to be told apart."""
GONE, MIXED = 0.05, 2
"""p from which a change no longer shows; blocks of another kind there must be on one side of it."""


@dataclass(frozen=True, slots=True)
class Factor:
    """Something known beside each block: names (operator, family) or figures (temperature, hour)."""

    kind: Kind
    names: tuple[str | None, ...] = ()
    figures: Floats | None = None
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Cause:
    """What a change follows: kind, which of it, how far its blocks lie off the others and the p of it.

    ``groups`` are (name, blocks, mean off the others); for figures ``slope`` is per unit.
    """

    kind: Kind
    id: str | None
    amount: float
    p: float
    slope: float | None
    groups: tuple[tuple[str, int, float], ...]


def cause_of(
    series: SeriesBlocks,
    row: int,
    change: Literal["step", "slope"],
    factors: Sequence[Factor],
    *,
    lag1: float = 0.0,
    level: float = DEFAULT_LEVEL,
) -> Cause | None:
    """What a change follows among several factors; None when it is none of them.

    Source: own rule, attribution; F test of a factor in the linear model of the series.

    Parameters
    ----------
    series : SeriesBlocks
    row : int
        Block that the change began with.
    change : {"step", "slope"}
    factors : sequence of Factor
        One name or figure a block of the series; unknown ones None or NaN.
    lag1, level : float
    """  # fmt: skip
    model = model_of(series, lag1)
    at = int(np.searchsorted(model.kept, row))
    own = model.steps if change == "step" else model.ramps
    found = [c for f in factors if (c := _follows(model, f, at, own[:, [at]], level / len(factors)))]
    return min(found, key=lambda c: c.p) if found else None


def _follows(model: Model, factor: Factor, at: int, change: Floats, level: float) -> Cause | None:
    columns, names, use = _columns(model, factor, at)
    if columns is None or not use.all() or columns.shape[1] == 0:
        return None
    known = model.declared
    base, y = basis(np.hstack(known)), model.whitened_y
    both = basis(np.hstack([*known, whitened(columns, model.sd, model.lag1)]))
    gained, df = both.shape[1] - base.shape[1], y.size - both.shape[1]
    if gained < 1 or df < LEAST_BLOCKS:
        return None
    without = float(y @ y - (base.T @ y) @ (base.T @ y))
    rest = max(float(y @ y - (both.T @ y) @ (both.T @ y)), 1e-300)
    p = float(fdtrc(gained, df, max((without - rest) / gained / (rest / df), 0.0)))
    if p >= level or added(both, y, change).p[0] < GONE:
        return None
    effects = _effects(columns, model, known)
    return _told(factor, names, columns, effects, p)


def _columns(model: Model, factor: Factor, at: int) -> tuple[Floats | None, list[str], NDArray[np.bool_]]:
    """Columns of a factor off its commonest name or its mean; None where it does not cross the change."""
    kept = model.kept
    if factor.figures is not None:
        x = np.asarray(factor.figures, dtype=float)[kept]
        use = ~np.isnan(x)
        told = use.all() and np.ptp(x) > 0
        return ((x - x.mean())[:, None] if told else None), [factor.unit], use
    own = [factor.names[k] for k in kept]
    use = np.array([name is not None for name in own])
    counts = {name: own.count(name) for name in dict.fromkeys(own) if name is not None}
    usual = max(counts, key=lambda n: counts[n]) if counts else ""
    names = [n for n, c in counts.items() if c >= LEAST_BLOCKS and n != usual and _crosses(own, n, at)]
    return np.array([[float(name == n) for n in names] for name in own]).reshape(len(own), -1), names, use


def _crosses(own: Sequence[str | None], name: str, at: int) -> bool:
    """Whether blocks of a name and of others stand side by side before or after a change."""
    sides = (own[:at], own[at:])
    return any(MIXED <= side.count(name) <= len(side) - MIXED for side in sides)


def _effects(columns: Floats, model: Model, known: list[Floats]) -> Floats:
    design = np.hstack([whitened(columns, model.sd, model.lag1), *known])
    found, *_ = np.linalg.lstsq(design, model.whitened_y, rcond=1e-9)
    return np.asarray(found[: columns.shape[1]])


def _told(factor: Factor, names: list[str], columns: Floats, effects: Floats, p: float) -> Cause:
    if factor.figures is not None:
        slope = float(effects[0])
        return Cause(factor.kind, None, slope * float(np.ptp(columns[:, 0])), p, slope, ())
    k = int(np.argmax(np.abs(effects)))
    groups = tuple((n, int(columns[:, i].sum()), float(effects[i])) for i, n in enumerate(names))
    return Cause(factor.kind, names[k], float(effects[k]), p, None, groups)
