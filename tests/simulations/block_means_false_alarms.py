"""How often limits of block means give a false alarm, over what they state.

Normal first-order autoregressive block means; the chance that the next block passes its limits is
taken exactly given the blocks behind them, so that few rounds suffice. Here are limits set once and used
on, and a lag-1 that is known or a series' own; `next_block_false_alarms` has the next block with spreads
in and between blocks, of unlike size. Run as a script it writes the whole result beside itself.
"""

import json
from pathlib import Path

import numpy as np
from scipy.special import ndtr

from qc.charts.block_means import prediction_limits
from qc.stats.lag import lag1
from tests.simulations import kept_result

RESULT = Path(__file__).with_suffix(".json")
LEVEL = 0.00073


def autoregressive(rng, series, blocks, rho):
    x = rng.normal(size=(series, blocks))
    for t in range(1, blocks):
        x[:, t] = rho * x[:, t - 1] + np.sqrt(1 - rho**2) * x[:, t]
    return x


def rate(blocks, rho, *, pooled, learn, rounds, seed):
    """False-alarm rate over the stated level, and its simulation error.

    ``pooled`` series share one lag-1 estimate; 0 = rho is known. ``learn`` None asks for the very next
    block, a number for a block far behind the limits.
    """
    rng = np.random.default_rng(seed)
    x = autoregressive(rng, rounds, blocks, rho)
    group = max(1, pooled)
    known = [
        round(max(0.0, lag1(list(x[i : i + group])).rho), 2) if pooled else rho
        for i in range(0, rounds, group)
    ]
    found = np.empty(rounds)
    for i, row in enumerate(x):
        chart = prediction_limits(
            row, np.full(blocks, 8), spread_in_block=None, spread_between_blocks=None,
            lag1=known[i // group], level=LEVEL, learn=learn,
        )  # fmt: skip
        centre, sd = (rho * row[-1], np.sqrt(1 - rho**2)) if learn is None else (0.0, 1.0)
        found[i] = ndtr(-(chart.upper_limit - centre) / sd) + ndtr((chart.lower_limit - centre) / sd)
    by_group = found.reshape(-1, group).mean(axis=1) / LEVEL
    return float(by_group.mean()), float(by_group.std(ddof=1) / np.sqrt(by_group.size))


def main():
    cells = []
    for blocks in (20, 50, 200):
        for rho in (0.0, 0.25, 0.5):
            for pooled, said in ((0, "known"), (8, "pooled over 8 series"), (1, "own")):
                for learn, limits in ((None, "next block"), (blocks, "any later block")):
                    times, error = rate(blocks, rho, pooled=pooled, learn=learn, rounds=8_000, seed=1)
                    cells.append(
                        {"blocks": blocks, "rho": rho, "lag1": said, "limits": limits,
                         "times_stated": times, "simulation_error": error}
                    )  # fmt: skip
                    print(cells[-1])
    head = {
        "level": LEVEL,
        "rounds": 8_000,
        "seed": 1,
        "date": kept_result.today(),
        "commit": kept_result.commit(),
    }
    RESULT.write_text(json.dumps(head | {"cells": cells}, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
