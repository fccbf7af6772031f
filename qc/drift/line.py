"""The line a series is on now: its level and slope as of a block, and where it meets a limit."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtr, stdtrit

from qc.drift.changepoint import added
from qc.drift.forecast import bores_to_limit, chance_beyond
from qc.drift.replay import Replay
from qc.drift.series import BoresToLimit, SeriesBlocks, Toward
from qc.drift.wear import UsualWear
from qc.stats.intervals import Interval

Floats = NDArray[np.float64]

CHANCE_UNLIKE, UNLIKE = 0.2, 1.5
"""Chance that a stretch wears like none before it, and how far then, over the usual slope (own choice)."""


@dataclass(frozen=True, slots=True)
class Lines:
    """Possible lines as of the end of a block: level, slope, covariance, weights, degrees of freedom."""

    level: Floats
    slope: Floats
    covariance: Floats
    weights: Floats
    df: int

    @property
    def mean_slope(self) -> float:
        """Weighted mean of the slopes."""
        return float(self.weights @ self.slope)


def own_slope(replay: Replay, t: int, confidence: float = 0.95) -> tuple[float, Interval] | None:
    """Slope of the present stretch as of ``t`` blocks, from its own blocks, and its t interval; or None.

    Source: generalised least squares with the levels of all segments and, for wear, the common slope.

    Parameters
    ----------
    replay : Replay
    t : int
    confidence : float
    """
    change = replay.change
    row = change.row if change is not None and change.kind == "slope" else _start(replay, t)
    if t - row < 3 or np.ptp(replay.model.x[row:t]) == 0:
        return None
    lines = _solve(replay, t, [row], None)
    if lines.df < 1:
        return None
    b = float(lines.slope[0])
    half = float(stdtrit(lines.df, (1 + confidence) / 2) * np.sqrt(lines.covariance[0, 1, 1]))
    return b, Interval(b - half, b + half, confidence)


def lines_now(replay: Replay, t: int) -> Lines | None:
    """Return the lines a forecast rests on as of ``t`` blocks.

    Without wear, a slope that stands out: every block the bend may have begun with, weighted by fit. Wear:
    two lines, one drawn towards the machine's usual slope by as much as its stretches differ, one free of
    it; which of them counts is weighed by how well the stretch goes with either.
    Source: weights by likelihood of the place of the change; random-effects prediction of a slope
    (Laird and Ware 1982; from memory) with a mixture of two, our own.

    Parameters
    ----------
    replay : Replay
    t : int
    """
    model, change = replay.model, replay.change
    usual = replay.usual(t) if model.wears else None
    if usual is not None:
        lines = _wear(replay, t, usual)
    elif change is not None and change.kind == "slope":
        lines = _solve(replay, t, [row for row in replay.bend_rows(t) if row <= t - 3] or [change.row], None)
    elif t - _start(replay, t) >= 3:
        lines = _solve(replay, t, [_start(replay, t)], None)
    else:
        return None
    return lines if lines.df >= 1 else None


def _wear(replay: Replay, t: int, usual: UsualWear) -> Lines:
    """Two lines: as this machine's stretches usually go, and as if this stretch were like none of them."""
    rows = [_start(replay, t)]
    unlike = max(UNLIKE * abs(usual.slope), usual.scatter)
    as_usual, alone = _solve(replay, t, rows, usual.scatter), _solve(replay, t, rows, unlike)
    test = added(replay.base(t), replay.y[:t], replay.model.ramps[:t, rows])
    weights = np.array([1 - CHANCE_UNLIKE, CHANCE_UNLIKE])
    if np.isfinite(test.error[0]) and test.p[0] < 1:
        variance = test.error[0] ** 2 + np.array([usual.scatter, unlike]) ** 2
        likelihood = -0.5 * (np.log(variance) + test.effect[0] ** 2 / variance)
        weights = weights * np.exp(likelihood - likelihood.max())
    return Lines(
        np.concatenate([as_usual.level, alone.level]),
        np.concatenate([as_usual.slope, alone.slope]),
        np.concatenate([as_usual.covariance, alone.covariance]),
        weights / weights.sum(),
        as_usual.df,
    )


def _start(replay: Replay, t: int) -> int:
    """First row of the present stretch, or of a level of our own finding inside it."""
    inside = [row for row in replay.levels if row < t]
    return max([int(replay.model.stretch_start[t - 1]), *inside])


def _solve(replay: Replay, t: int, rows: list[int], scatter: float | None) -> Lines:
    """Least squares with one bend at each of ``rows`` in turn; ``scatter`` holds its effect near nought."""
    m = replay.model
    base = replay.base_columns(t)
    step = replay.change is not None and replay.change.kind == "step"
    if step and replay.change is not None:
        base = np.hstack([base, m.steps[:t, [replay.change.row]]])
    now = float(m.x[t - 1] + m.half[t - 1])
    at_now, per_count = _contrasts(replay, t, base.shape[1], step, now)
    y, k = replay.y[:t], base.shape[1]
    level, slope, covariance, rss = [], [], [], []
    df = t - k - 1
    for row in rows:
        x = np.column_stack([base, m.ramps[:t, row]])
        size = np.sqrt(np.maximum((x**2).sum(axis=0), 1e-300))
        x = x / size
        information, sums = x.T @ x, x.T @ y
        free = np.linalg.pinv(information, rcond=1e-9, hermitian=True)
        square = float(((y - x @ (free @ sums)) ** 2).sum())
        variance = square / max(df, 1)
        if scatter is not None:
            information[k, k] += variance / max(scatter * size[k], 1e-100) ** 2
        inverse = free if scatter is None else np.linalg.pinv(information, rcond=1e-9, hermitian=True)
        coefficients = inverse @ sums
        both = np.vstack([np.append(at_now, now - m.raw_ramp_start[row]), np.append(per_count, 1.0)]) / size
        level.append(both[0] @ coefficients + m.origin)
        slope.append(both[1] @ coefficients)
        covariance.append(variance * both @ inverse @ both.T)
        rss.append(square)
    fit = np.log(np.maximum(rss, 1e-300))
    weights = np.exp(-max(df, 1) / 2 * (fit - fit.min()))
    return Lines(np.array(level), np.array(slope), np.array(covariance), weights / weights.sum(), df)


def _contrasts(replay: Replay, t: int, size: int, step: bool, now: float) -> tuple[Floats, Floats]:
    """Coefficients of the base columns in the level as of now, and in the slope."""
    levels = size - len(replay.bends) - int(replay.model.wears) - int(step)
    at_now, per_count = np.zeros(size), np.zeros(size)
    at_now[:levels] = 1.0
    if replay.model.wears:
        at_now[levels + len(replay.bends)], per_count[levels + len(replay.bends)] = now, 1.0
    if step:
        at_now[-1] = 1.0
    return at_now, per_count


def _limit(series: SeriesBlocks, lines: Lines) -> tuple[Toward, float] | None:
    """Limit the line is beyond already, else the one it heads for; None where there is none that way."""
    level = float(lines.weights @ lines.level)
    if series.upper is not None and level > series.upper:
        return "upper", float(series.upper)
    if series.lower is not None and level < series.lower:
        return "lower", float(series.lower)
    toward: Toward = "upper" if lines.mean_slope > 0 else "lower"
    limit = series.upper if toward == "upper" else series.lower
    return None if limit is None or np.isnan(limit) else (toward, float(limit))


def met_before(
    series: SeriesBlocks, replay: Replay, t: int, length: float | None, confidence: float = 0.90
) -> bool:
    """Whether the interval of the crossing ends before the count reaches ``length``.

    Without a usual length, and in a stretch that has outrun it: whether the line has left its limits and
    surely still moves away from them.
    Source: own rule, drifting: the 90 % interval ends before the machine's usual stretch does.

    Parameters
    ----------
    series : SeriesBlocks
    replay : Replay
    t : int
    length : float, optional
        Usual stretch [bores or blocks].
    confidence : float
    """
    now = float(replay.model.x[t - 1] + replay.model.half[t - 1])
    ahead = 0.0 if length is None else max(0.0, length - now)
    if ahead == 0 and not _outside(series, float(series.means[replay.model.kept[t - 1]])):
        return False
    lines = lines_now(replay, t)
    heading = _limit(series, lines) if lines is not None else None
    if lines is None or heading is None:
        return False
    chance = chance_beyond(
        lines.level, lines.slope, lines.covariance, lines.weights, lines.df, heading[1], heading[0],
        np.array([ahead]),
    )  # fmt: skip
    sure = (1 + confidence) / 2
    return bool(chance[0] > sure) and (ahead > 0 or _moving_away(lines, heading[0]) > sure)


def _outside(series: SeriesBlocks, mean: float) -> bool:
    """Whether a block mean is beyond a limit."""
    return bool(
        (series.upper is not None and mean > series.upper)
        or (series.lower is not None and mean < series.lower)
    )


def _moving_away(lines: Lines, toward: Toward) -> float:
    """Confidence that the line goes on in the direction of a limit."""
    slope = lines.slope if toward == "upper" else -lines.slope
    error = np.sqrt(np.maximum(lines.covariance[:, 1, 1], 1e-300))
    return float(stdtr(lines.df, slope / error) @ lines.weights)


def forecast(
    series: SeriesBlocks, replay: Replay, t: int, confidence: float = 0.90
) -> tuple[Toward, float, BoresToLimit] | None:
    """Limit the line heads for, and the count until it is met; None without a line or a limit that way.

    Source: own rule, bores to limit: the expected block mean, counted from the end of the last block.

    Parameters
    ----------
    series : SeriesBlocks
    replay : Replay
    t : int
    confidence : float
    """
    lines = lines_now(replay, t)
    heading = _limit(series, lines) if lines is not None else None
    if lines is None or heading is None:
        return None
    toward, limit = heading
    scale = max(float(replay.model.x[t - 1]), 10 * float(np.median(2 * replay.model.half)))
    left = bores_to_limit(
        lines.level, lines.slope, lines.covariance, lines.df, limit, toward=toward, scale=scale,
        weights=lines.weights, confidence=confidence, of=series.wear_unit,
    )  # fmt: skip
    return toward, limit, left
