"""False changes, detection and forecasts of the first drift calculations.

Normal first-order autoregressive block means of 8 bores a block, the first 20 blocks to learn from,
changes of condition counted in blocks 21 to 90. Run as a script it writes the whole result beside
itself; the suite runs a part.
"""

import json
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from qc.drift import SeriesBlocks, judge
from qc.stats.levels import DEFAULT_LEVEL

RESULT = Path(__file__).with_suffix(".json")
BORES, IN_BLOCK = 8, 1.5


def noise(rng, blocks, rho):
    e = rng.normal(size=blocks)
    for t in range(1, blocks):
        e[t] = rho * e[t - 1] + np.sqrt(1 - rho**2) * e[t]
    return e


def series(rng, means, *, wear=None, stretch=None, **more):
    blocks = len(means)
    bores = np.full(blocks, float(BORES))
    spreads = IN_BLOCK * np.sqrt(rng.chisquare(BORES - 1, blocks) / (BORES - 1))
    wear = np.cumsum(bores) - BORES / 2 if wear is None else wear
    stretch = np.zeros(blocks, dtype=int) if stretch is None else stretch
    return SeriesBlocks(
        key="simulated", means=means, bores=bores, spreads=spreads, wear=wear, stretch=stretch,
        joint=np.zeros(blocks, dtype=int), at=np.arange(blocks, dtype=float), **more,
    )  # fmt: skip


def quiet(rng, rho):
    return series(rng, noise(rng, 90, rho))


def step(rng, rho, size):
    return series(rng, noise(rng, 90, rho) + size * (np.arange(90) >= 60))


def drift(rng, rho, blocks_to_limit):
    """From block 40 on straight to a limit 4 sd away, judged until the block before the line is there."""
    along = np.maximum(0, np.arange(40 + blocks_to_limit) - 40 + 0.5) * 4.0 / blocks_to_limit
    return series(rng, noise(rng, len(along), rho) + along, lower=-4.0, upper=4.0)


def saw_tooth(rng, rho, *, finished=6, blocks=13, slope=0.06, last=None, scatter=0.1, limit=12.0, shown=None):
    """Wear in stretches of 13 blocks (104 bores), reset before the limit; ``last`` is the last slope."""
    own = slope * (1 + scatter * rng.normal(size=finished + 1))
    own[-1] = own[-1] if last is None else last
    lengths = [blocks] * finished + [shown or blocks]
    wear = np.concatenate([BORES * (np.arange(k) + 0.5) for k in lengths])
    stretch = np.repeat(np.arange(finished + 1), lengths)
    means = 1.0 + own[stretch] * wear + noise(rng, wear.size, rho)
    return series(rng, means, wear=wear, stretch=stretch, wears=True, lower=-limit, upper=limit), own[-1]


def changed(judgement, first=20):
    return any(c not in ("steady", "thin") for c in judgement.conditions[first:])


def share(hits):
    p = float(np.mean(hits))
    return {
        "share": p,
        "of": len(hits),
        "simulation_error": float(np.sqrt(max(p * (1 - p), 1 / len(hits)) / len(hits))),
    }


def false_changes(rng, rho, rounds, level=DEFAULT_LEVEL):
    return share([changed(judge([quiet(rng, rho)], level=level, pooled_lag1=rho)[0]) for _ in range(rounds)])


def false_changes_own_lag(rng, rho, rounds, together=8):
    """Lag-1 not given but pooled over so many like series."""
    found = []
    for _ in range(0, rounds, together):
        found += [changed(j) for j in judge([quiet(rng, rho) for _ in range(together)])]
    return share(found)


def steps_found(rng, rho, size, within, rounds):
    found = []
    for _ in range(rounds):
        told = judge([step(rng, rho, size)], pooled_lag1=rho)[0].conditions
        found.append("stepped" in told[60 : 60 + within] or "drifting" in told[60 : 60 + within])
    return share(found)


def drifts_called(rng, rho, blocks, rounds):
    found = []
    for _ in range(rounds):
        told = judge([drift(rng, rho, blocks)], pooled_lag1=rho)[0].conditions
        found.append("drifting" in told[40:] or "stepped" in told[40:])
    return share(found)


def saw_teeth_called(rng, rho, rounds):
    """False changes of legitimate wear, stretches whose slopes differ by a tenth."""
    return share([changed(judge([saw_tooth(rng, rho)[0]], pooled_lag1=rho)[0]) for _ in range(rounds)])


def forecasts_right(rng, rho, rounds, shown, last=None):
    """Share of 90 % intervals that hold the true count to the limit, and those of them that are open."""
    hits, ends = [], 0
    for _ in range(rounds):
        one, slope = saw_tooth(rng, rho, shown=shown, last=last)
        truth = (12.0 - 1.0) / slope - BORES * shown
        left = judge([one], pooled_lag1=rho)[0].bores_to_limit
        upper = np.inf if left is None or left.upper is None else left.upper
        lower = np.inf if left is None or left.lower is None else left.lower
        ends += np.isinf(upper)
        hits.append(lower <= max(truth, 0.0) <= upper)
    return share(hits) | {"open": ends / rounds}


def straight_forecasts_right(rng, rho, rounds):
    """The same for a series without wear that drifts to its limit in 40 blocks, 25 blocks after it began."""
    hits, called = [], 0
    for _ in range(rounds):
        whole = drift(rng, rho, 40)
        shown = series(rng, whole.means[:65], lower=-4.0, upper=4.0)
        told = judge([shown], pooled_lag1=rho)[0]
        if told.condition != "drifting" or told.bores_to_limit is None:
            continue
        called += 1
        left = told.bores_to_limit
        upper = np.inf if left.upper is None else left.upper
        hits.append(left.lower is not None and left.lower <= 15.0 * BORES <= upper)
    return share(hits) | {"called": called / rounds}


def cells(rounds, seed):
    for rho in (0.0, 0.25, 0.5):
        rng = np.random.default_rng(seed)
        yield "false changes, steady", rho, false_changes(rng, rho, rounds)
        yield (
            "false changes, steady, lag-1 pooled over 8 series",
            rho,
            false_changes_own_lag(rng, rho, rounds),
        )
        yield "false changes, wear that is reset in time", rho, saw_teeth_called(rng, rho, rounds // 2)
        yield "step of 3 sd within 6 blocks", rho, steps_found(rng, rho, 3.0, 6, rounds // 4)
        yield "step of 2 sd within 12 blocks", rho, steps_found(rng, rho, 2.0, 12, rounds // 4)
        for blocks in (20, 40):
            yield (
                f"drift of {blocks} blocks to the limit called in time",
                rho,
                drifts_called(rng, rho, blocks, rounds // 4),
            )
        yield "forecast of usual wear, 6 blocks shown", rho, forecasts_right(rng, rho, rounds // 4, 6)
        yield (
            "forecast of 2.4 times the wear, 8 blocks shown",
            rho,
            forecasts_right(rng, rho, rounds // 4, 8, last=0.144),
        )
        yield "forecast of a straight drift", rho, straight_forecasts_right(rng, rho, rounds // 4)


def main(rounds=800, seed=7):
    found = []
    for what, rho, cell in cells(rounds, seed):
        found.append({"what": what, "rho": rho} | cell)
        print(found[-1], flush=True)
    commit = subprocess.run(
        ["git", "rev-parse", "HEAD"], capture_output=True, text=True, check=True
    ).stdout.strip()
    head = {
        "level": DEFAULT_LEVEL, "rounds": rounds, "seed": seed,
        "date": datetime.now(UTC).date().isoformat(), "commit": commit,
    }  # fmt: skip
    RESULT.write_text(json.dumps(head | {"cells": found}, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(*(int(a) for a in sys.argv[1:]))
