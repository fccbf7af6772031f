"""Renewals that nobody logged: a wearing characteristic falls back to where its stretches begin."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from qc.drift.replay import Episode, Replay

LEAST_BACK, MOST_BACK = 0.5, 1.6
"""Share of the wear since the last renewal that a fall must give back to look like another (own choice)."""


@dataclass(frozen=True, slots=True)
class Reset:
    """A fall back before a block: the block, by how much, and what share of the wear it took back."""

    block: int
    amount: float
    share: float


def resets(replay: Replay, usual: float | None) -> tuple[Reset, ...]:
    """Steps against the direction of wear that take back what the stretch had worn.

    Source: own rule: a step that stood, opposite to the slope, of half to one and a half times the wear
    since the last renewal.

    Parameters
    ----------
    replay : Replay
        Run to its end.
    usual : float or None
        Slope of wear; without it that of the stretch before the fall.
    """
    return tuple(r for e in replay.episodes if e.kind == "step" and (r := _reset(replay, e, usual)))


def _reset(replay: Replay, episode: Episode, usual: float | None) -> Reset | None:
    m, row = replay.model, episode.row
    start = max(r for r in (*replay.declared, *_falls(replay, row)) if r < row) if row > 0 else row
    if row - start < 3:
        return None
    x = m.x[start:row]
    slope = usual if usual is not None else float(np.polyfit(x - x.mean(), m.y[start:row], 1)[0])
    worn = slope * float(x[-1] - m.raw_ramp_start[start])
    if worn == 0 or np.sign(episode.amount) == np.sign(worn):
        return None
    share = abs(episode.amount / worn)
    if not LEAST_BACK <= share <= MOST_BACK:
        return None
    return Reset(int(m.kept[row]), episode.amount, share)


def _falls(replay: Replay, row: int) -> Sequence[int]:
    """Rows of earlier steps of our own finding."""
    return [e.row for e in replay.episodes if e.kind == "step" and e.row < row]
