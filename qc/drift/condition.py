"""The condition of each series as of its last block, why, since when, and how many bores are left."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from qc.drift import words
from qc.drift.ahead import looked_ahead
from qc.drift.alike import pooled_lag, within
from qc.drift.line import elapsed, met_before, own_slope, surely_met
from qc.drift.model import model_of
from qc.drift.partition import level_changes
from qc.drift.replay import Episode, Replay
from qc.drift.resets import resets
from qc.drift.series import BoresToLimit, Judgement, SeriesBlocks, Signal, Toward
from qc.drift.wear import usual_length
from qc.stats.intervals import Interval
from qc.stats.levels import DEFAULT_LEVEL

LEAST_FOR_CHANGES = 8
SOON, LIKELY = 0.5, 0.5
"""In a stretch that no finished one explains, a slope is a drift when it likely (3 in 4) meets the limit
before half as many bores again as were made since the reset (own choice)."""

Lags = Mapping[Any, float] | float | None


def judge(
    series: Sequence[SeriesBlocks],
    *,
    level: float = DEFAULT_LEVEL,
    usual_stretch: Mapping[Any, float] | None = None,
    pooled_lag1: Lags = None,
) -> list[Judgement]:
    """Condition of each series as of its last block: thin, stepped, drifting, scattered or steady.

    The first that applies.
    Every series is lived through again block by block, so that what stood earlier is in ``conditions`` and
    ``signals``. Wear that keeps to its machine's slope and is reset before the limit is steady.
    Source: own rules, conditions and drift; false changes and detection simulated in tests/simulations.

    Parameters
    ----------
    series : sequence of SeriesBlocks
    level : float
        Alarm level per series and block: of the changes of condition all together.
    usual_stretch : mapping, optional
        Usual length of a stretch by series key [bores or blocks]; without it the median of the series' own
        finished stretches, from three on.
    pooled_lag1 : mapping by key, or float, optional
        Lag-1 correlation of block means with wear and declared steps taken off; without it estimated here,
        pooled over the series given that share characteristic and method.

    Returns
    -------
    list of Judgement
        In the order of ``series``.
    """
    lags = _lags(series, pooled_lag1)
    lengths = usual_stretch or {}
    return [_judged(one, level, lags[i], lengths.get(one.key)) for i, one in enumerate(series)]


def pooled_lags(series: Sequence[SeriesBlocks]) -> dict[Any, float]:
    """Lag-1 correlation of each series by key, pooled over those that share characteristic and method.

    To the nearest 0.05: it is known to no better, and one more block then leaves most of a shop as it was.
    """
    return {one.key: round(20 * rho) / 20 for one, rho in zip(series, _lags(series, None), strict=True)}


def _lags(series: Sequence[SeriesBlocks], given: Lags) -> list[float]:
    if isinstance(given, int | float):
        return [within(float(given))] * len(series)
    kinds = [_kind(one.key) for one in series]
    estimates: dict[Any, float] = {}
    out = []
    for one, kind in zip(series, kinds, strict=True):
        if given is not None and one.key in given:
            out.append(within(given[one.key]))
            continue
        if kind not in estimates:
            estimates[kind] = pooled_lag([s for s, k in zip(series, kinds, strict=True) if k == kind])
        out.append(estimates[kind])
    return out


def _kind(key: Any) -> Any:
    """Characteristic and method of a series' identity; a key of another shape stands for itself."""
    return key[2:4] if isinstance(key, tuple) and len(key) >= 4 else "any"


def replayed(
    series: SeriesBlocks,
    level: float,
    lag1: float,
    *,
    length: float | None = None,
    each: Callable[[Replay, int], None] | None = None,
) -> Replay:
    """Return a series lived through block by block; ``each`` is called with what is known as of each one.

    Parameters
    ----------
    series : SeriesBlocks
    level, lag1 : float
    length : float, optional
        Usual stretch; without it that of the stretches finished as of each block.
    each : callable, optional
    """  # fmt: skip
    model = model_of(series, lag1)
    replay = Replay(model, level, int(np.searchsorted(model.kept, series.since_block)), each=each)
    if series.wears:
        replay.early = lambda state, t: _ends_early(
            series, state, t, length or length_as_of(series, state, t)
        )
        replay.soon = lambda state, t: surely_met(series, state, t, SOON * elapsed(state, t), LIKELY)
    replay.run()
    return replay


def length_as_of(series: SeriesBlocks, replay: Replay, t: int) -> float | None:
    """Usual stretch by those finished as of ``t`` blocks; None under three of them."""
    model = replay.model
    start = int(model.stretch_start[t - 1])
    if start not in replay.lengths:
        upto = slice(0, start + 1)
        replay.lengths[start] = usual_length(
            model.x[upto], model.bores[upto], model.stretch_start[upto], of=series.wear_unit
        )
    return replay.lengths[start]


def _judged(series: SeriesBlocks, level: float, rho: float, length: float | None) -> Judgement:
    replay = replayed(series, level, rho, length=length)
    model = replay.model
    if length is None and series.wears and model.y.size:
        length = length_as_of(series, replay, model.y.size)
    t = model.y.size
    slope = own_slope(replay, t) if t else None
    usual = replay.usual(t) if t and series.wears else None
    usual_slope = None if usual is None else usual.slope
    wanted = series.wears or (bool(replay.conditions) and replay.conditions[-1] == "drifting")
    ahead = looked_ahead(series, replay, t) if t and wanted else None
    toward, left = (ahead.toward, ahead.left) if ahead is not None else (None, None)
    fell = resets(replay, usual_slope) if series.wears else ()
    return Judgement(
        key=series.key,
        condition=replay.conditions[-1] if t else "thin",
        why=_why(series, replay, slope, usual_slope, toward, left),
        since=_since(replay),
        slope=slope[0] if slope else usual_slope,
        slope_interval=slope[1] if slope else None,
        slope_per="bore" if series.wear_unit == "bores" else "block",
        usual_slope=usual_slope,
        usual_stretch=length,
        toward=toward,
        limit=ahead.limit if ahead is not None else None,
        bores_to_limit=left,
        change_early=replay.ends_early,
        lag1=rho,
        level=level,
        to_fraction=ahead.to_fraction if ahead is not None else None,
        ahead=ahead.ahead if ahead is not None else (),
        chance=ahead.chance if ahead is not None else (),
        borrowed=ahead.borrowed if ahead is not None else None,
        changes=_changes(replay),
        resets=tuple((r.block, r.amount, r.share) for r in fell),
        signals=tuple(_signal(series, replay, e) for e in sorted(replay.episodes, key=lambda e: e.row)),
        conditions=tuple(replay.conditions),
    )


def _changes(replay: Replay) -> tuple[tuple[int, float], ...]:
    """Changes of level of the whole past, what was declared and the usual wear taken off."""
    m = replay.model
    if m.y.size < LEAST_FOR_CHANGES:
        return ()
    columns = m.declared
    raw = np.linalg.lstsq(np.hstack(columns), replay.y, rcond=1e-9)[0]
    steps = (np.arange(m.y.size)[:, None] >= np.unique(m.segment_start)[None, :]).astype(float)
    level = steps @ raw[: steps.shape[1]]
    wear = raw[-1] * m.x if len(columns) > 1 else 0.0
    rest, out = m.y - level - wear, []
    for start in np.unique(m.segment_start).tolist():
        own = np.flatnonzero(m.segment_start == start)
        out += [(int(m.kept[start + row]), amount) for row, amount in level_changes(rest[own], m.lag1)]
    return tuple(out)


def _ends_early(series: SeriesBlocks, replay: Replay, t: int, length: float | None) -> bool:
    """Whether the 90 % interval of the crossing ends before the usual stretch does, or has ended already."""
    if t - int(replay.model.stretch_start[t - 1]) < 3:
        return False
    return met_before(series, replay, t, length)


def _since(replay: Replay) -> int | None:
    """First block of the present condition."""
    if not replay.conditions:
        return None
    kept, condition = replay.model.kept, replay.conditions[-1]
    if condition in ("stepped", "drifting") and replay.change is not None:
        return int(kept[replay.change.row])
    if condition == "drifting":
        return int(kept[replay.model.stretch_start[-1]])
    if condition == "scattered":
        return int(
            kept[min(e.row for e in replay.episodes if e.kind in replay.grew and e.last == kept.size - 1)]
        )
    run = len(replay.conditions)
    while run > 0 and replay.conditions[run - 1] == condition:
        run -= 1
    return int(kept[run])


def _why(
    series: SeriesBlocks,
    replay: Replay,
    slope: tuple[float, Interval] | None,
    usual: float | None,
    toward: Toward | None,
    left: BoresToLimit | None,
) -> str:
    kept = replay.model.kept
    condition = replay.conditions[-1] if replay.conditions else "thin"
    ahead = words.meets(toward, left)
    if condition == "thin":
        blocks = kept.size - replay.first
        return f"{blocks} block{'' if blocks == 1 else 's'} so far: a condition needs 8"
    if condition == "stepped" and replay.change is not None:
        return words.moved(series, int(kept[replay.change.row]), _amount(replay, replay.change.row, "step"))
    if condition == "drifting":
        row = replay.change.row if replay.change is not None else int(replay.model.stretch_start[-1])
        passed = left is not None and left.median == 0
        early = "the limit comes before the usual change" if replay.ends_early and not passed else None
        told = words.slopes(series, int(kept[row]), slope[0], usual) if slope is not None else None
        return words.sentence([told, ahead, early])
    if condition == "scattered":
        return words.sentence([words.far_apart(kind, ratio) for kind, ratio in replay.grew.items()])
    if series.wears and usual is not None:
        return words.sentence(["wears as this machine usually does", ahead])
    if series.wears and slope is not None and _without_nought(slope[1]):
        told = words.slopes(series, int(kept[replay.model.stretch_start[-1]]), slope[0], None)
        return words.sentence([told, "no finished stretch yet says whether that is its usual wear", ahead])
    return words.sentence(["keeps its level", ahead if series.wears else None])


def _without_nought(interval: Interval) -> bool:
    """Whether an interval lies on one side of nought."""
    lower, upper = interval.lower, interval.upper
    return (lower is not None and lower > 0) or (upper is not None and upper < 0)


def _amount(replay: Replay, row: int, kind: str) -> float:
    return next(e.amount for e in reversed(replay.episodes) if e.kind == kind and e.row == row)


def _signal(series: SeriesBlocks, replay: Replay, episode: Episode) -> Signal:
    kept = replay.model.kept
    block, seen = int(kept[episode.row]), int(kept[episode.seen])
    if episode.kind == "step":
        text, source = words.moved(series, block, episode.amount), "scan of block means for a step"
    elif episode.kind == "slope":
        usual = replay.usual(episode.seen + 1) if series.wears else None
        slope = episode.amount + (usual.slope if usual is not None else 0.0)
        text = words.slopes(series, block, slope, usual.slope if usual is not None else None)
        source = "scan of block means for a slope"
    elif episode.kind == "one_block_off":
        text, source = words.off(series, block, episode.amount), "prediction of the block mean"
    elif episode.kind == "change_early":
        text, source = "the limit comes before the usual change, or is passed", "forecast of the crossing"
    else:
        text, source = words.far_apart(episode.kind, episode.amount), "last blocks against the first"
    return Signal(block, seen, episode.kind, episode.amount, text, source)  # type: ignore[arg-type]
