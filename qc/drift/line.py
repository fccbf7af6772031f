"""The line a series is on now: its level and slope as of a block, and where it meets a limit."""

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtr, stdtrit

from qc.drift.firstwear import first_lines
from qc.drift.forecast import bores_to_limit, chance_beyond
from qc.drift.pooling import Lines, joined, models
from qc.drift.replay import Replay
from qc.drift.series import BoresToLimit, SeriesBlocks, Toward
from qc.drift.trend import whitened
from qc.drift.wearing import wearing_lines
from qc.stats.intervals import Interval

Floats = NDArray[np.float64]

SLOPES = np.array([0.02, 0.05, 0.1, 0.2, 0.5, 2.0])
"""How fast a drift may be, spreads of block means a block: weighed alike."""
BLOCKS_OF_LINE = 3


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
    row = change.row if change is not None and change.kind == "slope" else replay.start(t)
    if t - row < 3 or np.ptp(replay.model.x[row:t]) == 0:
        return None
    design, contrasts = _design(replay, t, row)
    df = t - int(np.linalg.matrix_rank(design))
    if df < 1:
        return None
    found = models(design, replay.y[:t], np.zeros((1, design.shape[1])), contrasts, df)
    b = float(found.estimates[0, 1])
    half = float(stdtrit(df, (1 + confidence) / 2) * np.sqrt(max(found.covariance[0, 1, 1], 0.0)))
    return b, Interval(b - half, b + half, confidence)


def lines_now(replay: Replay, t: int) -> Lines | None:
    """Return the lines a forecast rests on as of ``t`` blocks; None without 3 blocks to rest on.

    Wear with finished stretches: see `qc.drift.wearing`; in the first stretch, as long as it goes with one
    line: see `qc.drift.firstwear`. Else, where a slope stands out, every block it may
    have begun with and every size it may be of; else the stretch as one line.

    Parameters
    ----------
    replay : Replay
    t : int
    """
    model, change = replay.model, replay.change
    start = replay.start(t)
    usual = replay.usual(t) if model.wears else None
    if usual is not None and t - start >= BLOCKS_OF_LINE:
        return wearing_lines(
            model.x[:t], model.y[:t], model.sd[:t], model.lag1, model.stretch_start[:t], _steps(replay, t),
            _now(replay, t), usual, model.covariates[:t],
        )  # fmt: skip
    if t >= BLOCKS_OF_LINE and _first_wear(replay, t):
        known = (_steps(replay, t), model.covariates[:t])
        return first_lines(model.x[:t], model.y[:t], model.sd[:t], model.lag1, *known, _now(replay, t))
    if change is not None and change.kind == "slope":
        rows = [row for row in replay.bend_rows(t) if row <= t - 3] or [change.row]
    elif t - start >= BLOCKS_OF_LINE and np.ptp(model.x[start:t]) > 0:
        rows = [start]
    else:
        return None
    return _bends(replay, t, rows, replay.only_wear or rows == [start])


def _first_wear(replay: Replay, t: int) -> bool:
    """Whether all blocks are of one wearing stretch, and one line goes as well as any."""
    model = replay.model
    one = model.wears and replay.start(t) == 0 and not replay.bends and np.ptp(model.x[:t]) > 0
    return bool(one) and (replay.change is None or replay.one_line)


def _bends(replay: Replay, t: int, rows: list[int], free: bool) -> Lines | None:
    parts, priors = [], []
    pace = max(float(np.median(np.diff(replay.model.x[:t]))), 1e-9)
    for row in rows:
        design, contrasts = _design(replay, t, row)
        df = t - design.shape[1]
        if df < 1:
            return None
        precision = np.zeros((SLOPES.size, design.shape[1]))
        precision = precision[:1] if free else precision
        precision[:, -1] = 0.0 if free else (pace / SLOPES) ** 2
        parts.append(models(design, replay.y[:t], precision, contrasts, df + 1))
        priors.append(np.zeros(len(precision)))
    return joined(parts, priors, t - design.shape[1])


def _now(replay: Replay, t: int) -> float:
    return float(replay.model.x[t - 1] + replay.model.half[t - 1])


def _steps(replay: Replay, t: int) -> Floats:
    """Raw columns of joints, steps found and covariates: what is known beside wear."""
    m = replay.model
    rows = {row for row in (*replay.declared, *replay.levels) if 0 < row < t and m.stretch_start[row] != row}
    if replay.change is not None and replay.change.kind == "step":
        rows.add(replay.change.row)
    at = np.arange(t)[:, None]
    return (at >= np.array(sorted(rows), dtype=int)[None, :]).astype(float)


def _design(replay: Replay, t: int, row: int) -> tuple[Floats, Floats]:
    """Whitened columns with a bend at ``row`` last, and the contrasts level as of now and slope."""
    m, search, now = replay.model, replay.search(t), _now(replay, t)
    levels = len(search.rows)
    base = search.looks.base[:t]
    at_now, per_count = np.zeros(base.shape[1]), np.zeros(base.shape[1])
    at_now[:levels] = search.rows < t
    for i, bend in enumerate(replay.bends):
        if m.stretch_start[bend] == m.stretch_start[t - 1]:
            at_now[levels + i], per_count[levels + i] = now - m.raw_ramp_start[bend], 1.0
    if search.held:
        at_now[-1], per_count[-1] = now, 1.0
    columns = [base, m.ramps[:t, [row]]]
    if replay.change is not None and replay.change.kind == "step":
        columns.insert(1, m.steps[:t, [replay.change.row]])
        at_now, per_count = np.append(at_now, 1.0), np.append(per_count, 0.0)
    told = np.ptp(m.covariates[:t], axis=0) > 0
    beside = whitened(m.covariates[:t][:, told], m.sd[:t], m.lag1)
    columns.insert(len(columns) - 1, beside)
    at_now, per_count = (np.append(c, np.zeros(beside.shape[1])) for c in (at_now, per_count))
    design = np.hstack(columns)
    contrasts = np.vstack([np.append(at_now, now - m.raw_ramp_start[row]), np.append(per_count, 1.0)])
    told = np.abs(design).max(axis=0) > 0
    return design[:, told], contrasts[:, told]


def heading(series: SeriesBlocks, replay: Replay, lines: Lines) -> tuple[Toward, float] | None:
    """Limit the line is beyond already, else the one it heads for; None where there is none that way.

    Parameters
    ----------
    series : SeriesBlocks
    replay : Replay
    lines : Lines
    """
    level = float(lines.weights @ lines.level) + replay.model.origin
    if series.upper is not None and level > series.upper:
        return "upper", float(series.upper)
    if series.lower is not None and level < series.lower:
        return "lower", float(series.lower)
    toward: Toward = "upper" if lines.mean_slope > 0 else "lower"
    limit = series.upper if toward == "upper" else series.lower
    return None if limit is None or np.isnan(limit) else (toward, float(limit))


def _chance(replay: Replay, lines: Lines, toward: Toward, limit: float, ahead: float) -> float:
    return float(
        chance_beyond(
            lines.level, lines.slope, lines.covariance, lines.weights, lines.df,
            limit - replay.model.origin, toward, np.array([ahead]),
        )[0]
    )  # fmt: skip


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
    ahead = 0.0 if length is None else max(0.0, length - _now(replay, t))
    if ahead == 0 and not _outside(series, float(series.means[replay.model.kept[t - 1]])):
        return False
    return surely_met(series, replay, t, ahead, confidence)


def surely_met(series: SeriesBlocks, replay: Replay, t: int, ahead: float, confidence: float = 0.90) -> bool:
    """Whether the interval of the crossing ends within ``ahead``, and the line still moves that way if 0.

    Parameters
    ----------
    series : SeriesBlocks
    replay : Replay
    t : int
    ahead : float
        Bores or blocks from the last one.
    confidence : float
    """
    if ahead > 0 and not _may_meet(series, replay, t, ahead):
        return False
    lines = lines_now(replay, t)
    where = heading(series, replay, lines) if lines is not None else None
    if lines is None or where is None:
        return False
    sure = (1 + confidence) / 2
    if _chance(replay, lines, *where, ahead) <= sure:
        return False
    return ahead > 0 or _moving_away(lines, where[0]) > sure


def scale_of(replay: Replay, t: int) -> float:
    """Count that a forecast looks ahead by: what was made since the reset, ten usual blocks at least."""
    return max(float(replay.model.x[t - 1]), 10 * float(np.median(2 * replay.model.half)))


def elapsed(replay: Replay, t: int) -> float:
    """Count since the reset as of the end of a block [bores or blocks]."""
    return _now(replay, t)


def _may_meet(series: SeriesBlocks, replay: Replay, t: int, ahead: float) -> bool:
    """Whether the usual slope or the stretch's own gets to a limit at all: spares the whole forecast."""
    m, change = replay.model, replay.change
    start, now = replay.start(t), _now(replay, t)
    if change is not None and change.kind == "slope":
        start = min(change.row, t - 3)
    x, y = m.x[start:t], m.y[start:t]
    usual = replay.usual(t)
    slopes = [] if usual is None else [usual.slope]
    centred = x - x.mean()
    if centred @ centred > 0:
        slopes.append(float(centred @ y / (centred @ centred)))
    ends = [m.origin + float(y.mean()) + b * (now + ahead - float(x.mean())) for b in slopes]
    ends.append(float(series.means[m.kept[t - 1]]))
    return any(_outside(series, end) for end in ends)


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
) -> tuple[Toward, float, BoresToLimit, Lines] | None:
    """Limit the line heads for, the count until it is met, and the lines behind; None without one.

    Source: own rule, bores to limit: the expected block mean, counted from the end of the last block.

    Parameters
    ----------
    series : SeriesBlocks
    replay : Replay
    t : int
    confidence : float
    """
    lines = lines_now(replay, t)
    where = heading(series, replay, lines) if lines is not None else None
    if lines is None or where is None:
        return None
    toward, limit = where
    left = bores_to_limit(
        lines.level, lines.slope, lines.covariance, lines.df, limit - replay.model.origin, toward=toward,
        scale=scale_of(replay, t), weights=lines.weights, confidence=confidence, of=series.wear_unit,
    )  # fmt: skip
    return toward, limit, left, lines
