"""The linear model of a series: levels free between declared events, wear, possible changes as columns."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from qc.drift.changepoint import basis
from qc.drift.series import SeriesBlocks
from qc.drift.trend import relative_sd, whitened

Floats = NDArray[np.float64]
Ints = NDArray[np.int_]

MOST_WITHOUT_FIRST = 3
MOST_BLOCKS = 400
"""Older blocks are left out: they tell nothing of the present that the last 400 do not."""


@dataclass(frozen=True, slots=True)
class Model:
    """Columns of a series, raw and whitened; column j of ``steps`` and ``ramps`` begins with block j.

    A step stays until the end; a ramp is nought before block j and outside its stretch. ``kept`` are the
    numbers of the series' blocks behind the rows; ``y`` is off ``origin``; ``half`` is from the middle of a
    block to its end, in the count of ``x``. ``covariates`` are raw, and enter slopes and forecasts only.
    """

    y: Floats
    x: Floats
    sd: Floats
    steps: Floats
    ramps: Floats
    wear: Floats
    raw_ramp_start: Floats
    stretch_start: Ints
    segment_start: Ints
    bores: Floats
    spreads: Floats
    kept: Ints
    lag1: float
    wears: bool
    origin: float
    half: Floats
    covariates: Floats

    @property
    def whitened_y(self) -> Floats:
        """Values with sd and lag-1 taken out."""
        return whitened(self.y, self.sd, self.lag1)

    @property
    def declared(self) -> list[Floats]:
        """Whitened columns of the declared levels, and of wear where several stretches tell it from them."""
        levels = [self.steps[:, np.unique(self.segment_start)]]
        several = self.wears and np.unique(self.stretch_start).size > 1
        return [*levels, self.wear[:, None]] if several else levels


def starts(numbers: Ints) -> Ints:
    """First row of the run each row belongs to."""
    first = np.concatenate([[True], np.diff(numbers) != 0])
    return np.maximum.accumulate(np.where(first, np.arange(numbers.size), 0))


def runs(stretch: Ints, joint: Ints) -> Ints:
    """Number of the declared segment of each block."""
    change = (np.diff(stretch) != 0) | (np.diff(joint) != 0)
    return np.concatenate([[0], np.cumsum(change)])


def model_of(series: SeriesBlocks, lag1: float) -> Model:
    """Columns of a series, blocks without a mean left out and all levels taken off a typical one."""
    kept = np.flatnonzero(~np.isnan(np.asarray(series.means, dtype=float)))[-MOST_BLOCKS:]
    y = np.asarray(series.means, dtype=float)[kept]
    origin = float(np.median(y)) if y.size else 0.0
    y = y - origin
    x, n = np.asarray(series.wear, dtype=float)[kept], np.asarray(series.bores, dtype=float)[kept]
    spreads = np.asarray(series.spreads, dtype=float)[kept]
    stretch, joint = np.asarray(series.stretch)[kept], np.asarray(series.joint)[kept]
    stretch_start, segment_start = starts(stretch), starts(runs(stretch, joint))
    between, inside = components(y, x, n, spreads, segment_start, series.wears)
    sd = relative_sd(n, inside, between)
    steps = np.tril(np.ones((y.size, y.size)))
    begins = np.where(stretch_start == np.arange(y.size), x, (x + np.concatenate([x[:1], x[:-1]])) / 2)
    ramps = np.maximum(0.0, x[:, None] - begins[None, :])
    ramps[stretch_start[:, None] != stretch_start[None, :]] = 0.0
    ramps[np.triu_indices(y.size, 1)] = 0.0
    return Model(
        y, x, sd, whitened(steps, sd, lag1), whitened(ramps, sd, lag1), whitened(x, sd, lag1), begins,
        stretch_start, segment_start, n, spreads, kept, lag1, series.wears, origin,
        n / 2 if series.wear_unit == "bores" else np.full(n.shape, 0.5),
        _covariates(series, kept, stretch_start),
    )  # fmt: skip


def _covariates(series: SeriesBlocks, kept: Ints, stretch_start: Ints) -> Floats:
    """Raw columns of what is known beside each block, off their means, and the first block after a change.

    The first bores of new stones lie off the others: told apart where three changes or more show by how much.
    """
    columns = np.zeros((kept.size, 0))
    if series.covariates is not None:
        columns = np.asarray(series.covariates, dtype=float).reshape(len(series.means), -1)[kept]
    first = np.arange(kept.size) == stretch_start
    if series.wears and first.sum() > MOST_WITHOUT_FIRST:
        columns = np.column_stack([columns, first])
    if not kept.size:
        return columns
    columns = columns - np.where(columns.any(axis=0), columns.mean(axis=0), 0.0)
    return np.asarray(columns[:, np.ptp(columns, axis=0) > 0])


def components(
    y: Floats, x: Floats, n: Floats, spreads: Floats, segment: Ints, wears: bool
) -> tuple[float | None, float | None]:
    """Spread between blocks and in a block, by moments of the residuals of the declared levels."""
    usable = ~np.isnan(spreads) & (n > 1)
    if not usable.any() or np.unique(n).size < 2:
        return None, None
    inside2 = float(((n - 1) * spreads**2)[usable].sum() / (n - 1)[usable].sum())
    columns = (segment[:, None] == np.unique(segment)[None, :]).astype(float)
    if wears:
        columns = np.column_stack([columns, x])
    base = basis(columns)
    if y.size - base.shape[1] < 4:
        return None, None
    rest = y - base @ (base.T @ y)
    total = float(rest @ rest) / (y.size - base.shape[1])
    return float(np.sqrt(max(0.0, total - inside2 * float((1 / n).mean())))), float(np.sqrt(inside2))
