"""All looks at a series at once: what each possible change explains as of each block.

Row t - 1 of every array is what the first t blocks tell. The sums behind a least-squares fit of the
first t blocks are running sums of whitened columns, so that all looks that share a base cost little
more than one.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtr

from qc.drift.changepoint import Added
from qc.drift.scatter import LATEST, LEARNED, LEAST_LATEST

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int_]

_DEPENDENT = 1e-9


@dataclass(frozen=True, slots=True)
class Best:
    """Best column of one kind as of each block: its row, effect and two-sided p (1 where there is none)."""

    row: Ints
    effect: Floats
    p: Floats


class Looks:
    """Least squares on a base of columns, for every number of first blocks.

    Source: normal equations by running sums; t test of one more column (Frisch-Waugh-Lovell theorem).

    Parameters
    ----------
    base : (m, k)
        Whitened columns of what is known; a column may be nought until its block.
    y : (m,)
        Whitened values.
    precision : (k,), optional
        By how much an effect is drawn towards nought, over the variance of a value.
    """

    def __init__(self, base: Floats, y: Floats, precision: Floats | None = None) -> None:
        self.base, self.y = base, y
        told = np.cumsum(base[:, :, None] * base[:, None, :], axis=0)
        self.gram = told if precision is None else told + np.diag(precision)
        self.sums = np.cumsum(base * y[:, None], axis=0)
        self.inverse = _inverse(self.gram)
        self.coefficients = np.einsum("tij,tj->ti", self.inverse, self.sums)
        rank = np.einsum("tij,tji->t", self.inverse, told)
        self.squares = np.cumsum(y**2)
        self.rss = np.maximum(
            self.squares - np.einsum("ti,ti->t", self.sums, self.coefficients), 1e-12 * self.squares
        )
        self.rank = rank
        self.df = np.round(np.arange(1, y.size + 1) - rank - 1, 6)

    def best(self, columns: Floats, allowed: Bools, natural: Floats | float = 0.0) -> Best:
        """Best of the allowed columns as of each block.

        Parameters
        ----------
        columns : (m, c)
            Whitened.
        allowed : (m, c)
        natural : (m,) or float
            Variance that an effect has by nature, as of each block.
        """
        m = self.y.size
        if columns.shape[1] == 0 or not allowed.any():
            return Best(np.zeros(m, dtype=int), np.zeros(m), np.ones(m))
        effect, size = self._effects(columns)
        rss = np.maximum(self.rss[:, None] - effect**2 * size, 1e-12 * self.squares[:, None] + 1e-300)
        variance = rss / np.maximum(self.df, 1)[:, None] / np.where(size > 0, size, 1.0)
        variance = variance + np.reshape(natural, (-1, 1))
        usable = allowed & (size > 0) & (self.df >= 1)[:, None]
        strength = np.where(usable, np.abs(effect) / np.sqrt(variance), 0.0)
        row = np.argmax(strength, axis=1)
        at = np.arange(m)
        p = 2 * stdtr(np.maximum(self.df, 1), -strength[at, row])
        return Best(row, effect[at, row], np.where(usable[at, row], p, 1.0))

    def best_recent(self, columns: Floats, allowed: Bools, width: int) -> Best:
        """Best of the allowed columns as of each block, where each counts for so many blocks from its own on.

        Parameters
        ----------
        columns : (m, m)
            Whitened; column j is nought before block j.
        allowed : (m, m)
            Only within ``width`` of the diagonal.
        width : int
        """
        m, k = self.y.size, self.base.shape[1]
        own, with_y = np.zeros(m), np.zeros(m)
        shared = np.zeros((m, k))
        strength, effects = np.zeros((m, width)), np.zeros((m, width))
        for d in range(min(width, m)):
            rows, at = np.arange(m - d), np.arange(d, m)
            c = columns[at, rows]
            own[rows] += c**2
            with_y[rows] += c * self.y[at]
            shared[rows] += c[:, None] * self.base[at]
            use = allowed[at, rows]
            if not use.any():
                continue
            r, t = rows[use], at[use]
            through = np.einsum("rj,rji->ri", shared[r], self.inverse[t])
            size = own[r] - np.einsum("ri,ri->r", through, shared[r])
            usable = (size > _DEPENDENT * np.maximum(own[r], 1e-300)) & (self.df[t] >= 1)
            size = np.where(usable, size, 1.0)
            gain = with_y[r] - np.einsum("ri,ri->r", through, self.sums[t])
            effect = np.where(usable, gain / size, 0.0)
            rss = np.maximum(self.rss[t] - effect**2 * size, 1e-12 * self.squares[t] + 1e-300)
            strength[t, d] = np.abs(effect) / np.sqrt(rss / np.maximum(self.df[t], 1) / size)
            effects[t, d] = effect
        # Of equals the oldest, as where all columns are looked through in order.
        back = width - 1 - np.argmax(strength[:, ::-1], axis=1)
        at = np.arange(m)
        best = strength[at, back]
        p = np.where(best > 0, 2 * stdtr(np.maximum(self.df, 1), -best), 1.0)
        return Best(np.maximum(at - back, 0), effects[at, back], p)

    def added(self, t: int, columns: Floats, natural: Floats | float = 0.0) -> Added:
        """Effect of each column as of ``t`` blocks, as `qc.drift.changepoint.added` gives it.

        Parameters
        ----------
        t : int
        columns : (m, c)
        natural : (c,) or float
        """
        k, c = t - 1, columns[:t]
        shared = c.T @ self.base[:t]
        through = shared @ self.inverse[k]
        own = np.einsum("ij,ij->j", c, c)
        size = own - np.einsum("cj,cj->c", through, shared)
        usable = size > _DEPENDENT * np.maximum(own, 1e-300)
        size = np.where(usable, size, 1.0)
        effect = np.where(usable, (c.T @ self.y[:t] - through @ self.sums[k]) / size, 0.0)
        df = float(self.df[k])
        rss = np.maximum(self.rss[k] - effect**2 * size, 1e-12 * self.squares[k] + 1e-300)
        if df < 1:
            ones = np.ones(c.shape[1])
            return Added(effect, np.inf * ones, ones, rss, max(df, 0))
        error = np.sqrt(rss / df / size + natural)
        p = np.where(usable, 2 * stdtr(df, -np.abs(effect) / error), 1.0)
        return Added(effect, error, p, rss, df)

    def _effects(self, columns: Floats) -> tuple[Floats, Floats]:
        """Effect of each column as of each block and the information behind it, 0 where it tells nothing."""
        own = np.cumsum(columns**2, axis=0)
        with_y = np.cumsum(columns * self.y[:, None], axis=0)
        shared = np.cumsum(columns[:, :, None] * self.base[:, None, :], axis=0)
        through = shared @ self.inverse
        size = own - np.einsum("tcj,tcj->tc", through, shared)
        usable = size > _DEPENDENT * np.maximum(own, 1e-300)
        gain = with_y - np.einsum("tcj,tj->tc", through, self.sums)
        return np.where(usable, gain / np.where(usable, size, 1.0), 0.0), np.where(usable, size, 0.0)

    def last_alone(self) -> tuple[Floats, Floats]:
        """How far the last block lies off by itself as of each block [whitened unit], and its two-sided p."""
        rest = self.y - np.einsum("ti,ti->t", self.base, self.coefficients)
        free = 1 - np.einsum("ti,tij,tj->t", self.base, self.inverse, self.base)
        usable = (free > _DEPENDENT) & (self.df >= 1)
        free = np.where(usable, free, 1.0)
        amount = np.where(usable, rest / free, 0.0)
        left = np.maximum(self.rss - amount**2 * free, 1e-12 * self.squares + 1e-300)
        df = np.maximum(self.df, 1)
        p = 2 * stdtr(df, -np.abs(amount) / np.sqrt(left / df / free))
        return amount, np.where(usable, p, 1.0)

    def distances(self, places: Ints) -> Floats:
        """Distance of blocks from the fit over its own error, absolute, as of each block.

        Parameters
        ----------
        places : (m, w)
            Numbers of the blocks asked for as of each block.
        """
        base = self.base[places]
        rest = self.y[places] - np.einsum("twk,tk->tw", base, self.coefficients)
        leverage = np.einsum("twk,tkj,twj->tw", base, self.inverse, base)
        return np.asarray(np.abs(rest) / np.sqrt(np.maximum(1 - leverage, 0.05)))


def _inverse(gram: Floats) -> Floats:
    """Pseudo-inverse of each matrix; columns that are nought or depend on others share what they tell."""
    size = np.sqrt(np.maximum(np.einsum("tii->ti", gram), 0.0))
    size = np.where(size > 0, size, 1.0)
    both = size[:, :, None] * size[:, None, :]
    if gram.shape[1] == 1:
        scaled = gram / both
        return np.asarray(np.where(scaled > 1e-10, 1.0, 0.0) / both)
    return np.asarray(np.linalg.pinv(gram / both, rcond=1e-10, hermitian=True) / both)


@dataclass(frozen=True, slots=True)
class Windows:
    """Blocks learned from and the latest of the stretch, as of each block; places beyond are masked."""

    learned: Ints
    latest: Ints
    in_learned: Bools
    in_latest: Bools
    known: Bools


def windows_of(first: int, stretch_start: Ints) -> Windows:
    """Return which blocks the spread is learned from and which are held against them, as of each block.

    Parameters
    ----------
    first : int
        First block since the last repair.
    stretch_start : (m,)
        First block of the stretch of each block.
    """
    m = stretch_start.size
    now = np.arange(1, m + 1)
    stop = np.minimum(first + LEARNED, now)
    begin = np.maximum(np.maximum(now - LATEST, stretch_start), stop)
    learned = first + np.arange(LEARNED)[None, :] + np.zeros((m, 1), dtype=int)
    latest = now[:, None] - 1 - np.arange(LATEST)[None, :]
    return Windows(
        np.clip(learned, 0, m - 1), np.clip(latest, 0, m - 1), learned < stop[:, None],
        latest >= begin[:, None], now - begin >= LEAST_LATEST,
    )  # fmt: skip


def growth(learned: Floats, latest: Floats, where: Windows) -> tuple[Floats, Floats]:
    """One-sided p that the latest values lie above those learned from, and the difference of their means.

    Source: as `qc.drift.scatter.grown`, for all blocks at once.

    Parameters
    ----------
    learned, latest : (m, w)
        Values at the places of ``where``; NaN where there is none.
    where : Windows
    """
    a, b = _moments(learned, where.in_learned), _moments(latest, where.in_latest)
    df = a[0] + b[0] - 2
    usable = where.known & (a[0] >= 2) & (b[0] >= 2) & (df >= 6)
    variance = (a[2] + b[2]) / np.where(usable, df, 1)
    error = np.sqrt(variance * (1 / np.maximum(a[0], 1) + 1 / np.maximum(b[0], 1)))
    usable = usable & (error > 0)
    difference = b[1] - a[1]
    p = stdtr(np.where(usable, df, 1), -difference / np.where(usable, error, 1.0))
    return np.where(usable, p, 1.0), difference


def _moments(values: Floats, inside: Bools) -> tuple[Floats, Floats, Floats]:
    """Number, mean and sum of squares about the mean, by row."""
    use = inside & ~np.isnan(values)
    x = np.where(use, values, 0.0)
    n = use.sum(axis=1).astype(float)
    mean = x.sum(axis=1) / np.maximum(n, 1)
    return n, mean, (np.where(use, x - mean[:, None], 0.0) ** 2).sum(axis=1)
