"""Lag-1 correlation of block means, pooled over like series: no series is long enough to know its own."""

from collections.abc import Collection, Mapping

import numpy as np
import pandas as pd

from qc.errors import TooLittleData
from qc.reports.conditions import Condition
from qc.reports.heads import Key
from qc.stats.lag import lag1

OWN_FROM = 50  # blocks from which a series speaks for itself


def lags(
    blocks: Mapping[Key, pd.DataFrame], left_out: Mapping[Key, Collection[str]] | None = None
) -> dict[Key, float]:
    """Lag-1 correlation to use for each series: pooled over its characteristic, its own from 50 blocks on.

    Parameters
    ----------
    blocks : mapping
        Of every series of the shop.
    left_out : mapping, optional
        Builds of a series whose cause a person knows: a few bad blocks in a row look like leaning.
    """
    if left_out:
        blocks = {key: rows[~rows["build"].isin(left_out.get(key, ()))] for key, rows in blocks.items()}
    pooled: dict[tuple[str, str], float] = {}
    by_kind: dict[tuple[str, str], list[pd.DataFrame]] = {}
    for key, rows in blocks.items():
        by_kind.setdefault((key[2], key[3]), []).append(rows)
    for kind, frames in by_kind.items():
        pooled[kind] = _lag(frames)
    return {
        key: _lag([rows]) if len(rows) >= OWN_FROM else pooled[key[2], key[3]] for key, rows in blocks.items()
    }


def of_known_cause(
    known: Mapping[Key, Condition], chosen: Mapping[Key, Collection[str]]
) -> dict[Key, set[str]]:
    """Builds of each series that do not tell how its blocks lean on each other.

    Those whose cause a person knows, and those that a gauge read wrong: a shift and its end look so.
    """
    found = {key: set(builds) for key, builds in chosen.items()}
    for key, one in known.items():
        read = one.blocks["gauges"]
        for shift in one.shifts:
            if shift.decided:
                inside = shift.within(one.blocks["at"].to_numpy(dtype=float))
                inside &= np.array([shift.gauge in gauges for gauges in read], dtype=bool)
                found.setdefault(key, set()).update(one.blocks["build"][inside].dropna())
    return found


def own_lag(blocks: pd.DataFrame, otherwise: float) -> float:
    """Lag-1 correlation of one series by itself where it is long enough, else the one given."""
    return _lag([blocks]) if len(blocks) >= OWN_FROM else otherwise


def _lag(frames: list[pd.DataFrame]) -> float:
    """Of some series, pairs taken inside stretches between joints only; 0 where nothing can be said."""
    try:
        found = lag1(
            [f["mean"].to_numpy(dtype=float) for f in frames],
            [(f["stretch"] * 10_000 + f["joint"]).to_numpy() for f in frames],
        )
    except TooLittleData:
        return 0.0
    return max(0.0, found.rho)
