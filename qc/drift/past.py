"""How a series would have been judged and forecast at each block of its past, and whether that was right."""

from dataclasses import dataclass, replace

import numpy as np

from qc.drift.condition import replayed
from qc.drift.line import forecast
from qc.drift.replay import Replay
from qc.drift.series import Condition, SeriesBlocks

FIRST_FORECAST, EVERY = 3, 2
"""Blocks into a stretch of the first forecast that is held against what came, and blocks between two."""
SMOOTH = 3
"""Blocks in a row whose mean beyond the limit counts as the expected mean having met it (own choice)."""


@dataclass(frozen=True, slots=True)
class Held:
    """One forecast held against what came: its block and whether it held, None where that cannot be said."""

    block: int
    held: bool | None
    open: bool


@dataclass(frozen=True, slots=True)
class Alarm:
    """Blocks in a row neither steady nor thin: first, last, its first condition, and whether it stands."""

    first: int
    last: int
    condition: Condition
    stands: bool


@dataclass(frozen=True, slots=True)
class Past:
    """Alarms and forecasts of a series as they would have been told."""

    alarms: tuple[Alarm, ...]
    forecasts: tuple[Held, ...]
    blocks: int


def past(series: SeriesBlocks, level: float, lag1: float) -> Past:
    """Alarms and forecasts of a series, each from the blocks before it alone.

    The lag-1 and the spread in a block are those of today.
    A forecast is held when the stretch met its limit inside the interval; it failed when it met it
    elsewhere, or outlived the interval without meeting it. A stretch renewed before says nothing.
    Source: own rule, back-test.

    Parameters
    ----------
    series : SeriesBlocks
    level, lag1 : float
    """
    told: list[tuple[int, str, float, float, float | None]] = []

    def each(replay: Replay, t: int) -> None:
        age = t - int(replay.model.stretch_start[t - 1])
        wanted = series.wears or replay.conditions[-1] == "drifting"
        if not wanted or age < FIRST_FORECAST or (age - FIRST_FORECAST) % EVERY:
            return
        found = forecast(series, replay, t)
        if found is not None and found[2].median != 0:
            told.append((t, found[0], found[1], found[2].lower or 0.0, found[2].upper))

    # A repair of later days must not make the years before it too few blocks to say.
    replay = replayed(replace(series, since_block=0), level, lag1, each=each)
    held = tuple(_held(replay, *one) for one in told)
    return Past(_alarms(replay), held, len(replay.conditions))


def _alarms(replay: Replay) -> tuple[Alarm, ...]:
    kept, words = replay.model.kept, replay.conditions
    quiet = [word in ("steady", "thin") for word in words]
    out, begin = [], None
    for k, calm in enumerate([*quiet, True]):
        if not calm and begin is None:
            begin = k
        elif calm and begin is not None:
            out.append(Alarm(int(kept[begin]), int(kept[k - 1]), words[begin], k == len(words)))
            begin = None
    return tuple(out)


def _held(replay: Replay, t: int, toward: str, limit: float, lower: float, upper: float | None) -> Held:
    m = replay.model
    block, start = int(m.kept[t - 1]), m.stretch_start[t - 1]
    rows = np.flatnonzero((m.stretch_start == start) & (np.arange(m.y.size) >= t))
    now, sign = float(m.x[t - 1] + m.half[t - 1]), 1.0 if toward == "upper" else -1.0
    far = sign * (m.y[rows] + m.origin - limit)
    smooth = np.convolve(far, np.ones(SMOOTH) / SMOOTH, mode="valid") if rows.size >= SMOOTH else np.zeros(0)
    met = np.flatnonzero(smooth > 0)
    if met.size:
        count = float(m.x[rows[met[0] + SMOOTH // 2]]) - now
        slack = float(2 * m.half[t - 1])
        return Held(
            block, lower - slack <= count <= (np.inf if upper is None else upper + slack), upper is None
        )
    reached = float(m.x[rows[-1]]) - now if rows.size else 0.0
    return Held(block, False if upper is not None and upper < reached else None, upper is None)
