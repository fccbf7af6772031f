"""What lies ahead of a series: the chance of having met its limit, and when bores begin to fall outside."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from qc.drift.forecast import bores_to_limit, chance_beyond
from qc.drift.line import forecast, scale_of
from qc.drift.replay import Replay
from qc.drift.series import BoresToLimit, SeriesBlocks, Toward

Floats = NDArray[np.float64]

FRACTION = 0.01
"""Share of the bores outside whose coming is told: one in a hundred (own choice)."""
POINTS = np.concatenate([[0.0], np.geomspace(0.01, 30.0, 40)])
LATEST = 30


@dataclass(frozen=True, slots=True)
class Ahead:
    """Forecast of a series: limit, count until it, the same for a fraction of bores, chances by count ahead.

    ``borrowed`` is the share of the slope that earlier stretches give.
    """

    toward: Toward
    limit: float
    left: BoresToLimit
    to_fraction: BoresToLimit | None
    ahead: tuple[float, ...]
    chance: tuple[float, ...]
    borrowed: float | None


def looked_ahead(series: SeriesBlocks, replay: Replay, t: int, fraction: float = FRACTION) -> Ahead | None:
    """Forecast as of ``t`` blocks; None without a line or a limit that way.

    A fraction is outside when the line is that quantile of the bores about it short of the limit; bores
    scatter by block to block and in the block.
    Source: own rules, bores to limit and fraction outside.

    Parameters
    ----------
    series : SeriesBlocks
    replay : Replay
    t : int
    fraction : float
    """
    found = forecast(series, replay, t)
    if found is None:
        return None
    toward, limit, left, lines = found
    scale = scale_of(replay, t)
    ahead = scale * POINTS
    off = limit - replay.model.origin
    chance = chance_beyond(
        lines.level, lines.slope, lines.covariance, lines.weights, lines.df, off, toward, ahead
    )
    bores = _spread_of_bores(replay, t)
    to_fraction = None
    if bores is not None:
        short = float(ndtri(1 - fraction)) * bores * (1.0 if toward == "upper" else -1.0)
        to_fraction = bores_to_limit(
            lines.level, lines.slope, lines.covariance, lines.df, off - short, toward=toward, scale=scale,
            weights=lines.weights, confidence=left.confidence, of=series.wear_unit,
        )  # fmt: skip
    return Ahead(
        toward, limit, left, to_fraction, tuple(ahead.tolist()), tuple(chance.tolist()), lines.borrowed
    )


def _spread_of_bores(replay: Replay, t: int) -> float | None:
    """Standard deviation of bores about the line: block to block and in the block."""
    looks, model = replay.search(t).looks, replay.model
    if looks.df[t - 1] < 1:
        return None
    change, rss = replay.change, float(looks.rss[t - 1])
    if change is not None:
        own = model.steps if change.kind == "step" else model.ramps
        rss = float(looks.added(t, own[:, [change.row]]).rss[0])
    n, s = model.bores[:t][-LATEST:], model.spreads[:t][-LATEST:]
    usable = ~np.isnan(s) & (n > 1)
    inside = 0.0
    if usable.any():
        inside = float(((n - 1) * s**2)[usable].sum() / (n - 1)[usable].sum())
        inside *= 1 - float((1 / n[usable]).mean())
    return float(np.sqrt(rss / looks.df[t - 1] + inside))
