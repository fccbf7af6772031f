"""A hone whose Ra and Rk step up together with one block: an alarm at any level, one matter."""

import numpy as np
import pandas as pd

from tests.qc.shopfloor import ra, window

STEP = 24


def day(i: int) -> str:
    return (pd.Timestamp("2025-01-05T08:00") + pd.Timedelta(days=4 * i)).isoformat()


def limits() -> list[dict]:
    return [window("", 3, characteristic=c, reading="size") for c in ("ra", "rk")]


def texture(first: int, last: int, machine: str = "hone-1", step: int = STEP, back: int = 999) -> list[dict]:
    """Blocks of 4 bores; from `step` on 1 um rougher, ten times the spread, until `back`."""
    draw = np.random.default_rng(31 if machine == "hone-1" else 32).normal(0, 0.05, (80, 8))
    rows = []
    for i in range(first, last):
        more = 1.0 if step <= i < back else 0.0
        for c, level, at in (("ra", 0.4, 0), ("rk", 0.8, 4)):
            values = np.round(level + more + draw[i, at : at + 4], 3)
            rows += ra(f"{machine[-1]}B{i}", day(i), values, characteristic=c, machine=machine)
    return rows
