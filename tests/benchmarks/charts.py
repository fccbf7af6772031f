"""Charts and signals of many series against plain pandas, in the same run: python tests/benchmarks/charts.py

2,000 series of 625 blocks of eight bores: limits of means and ranges and of single values with the blocks
beyond them, moving averages, cumulative sums, and the three rules about runs; by numpy and by the extra
`fast`. The plain version is what a practitioner writes: groupby, ewm, rolling, and a loop over values for the
sums. Run lengths of designs stand beside a simulation. Read the ratios; absolute times are the machine's.
"""

import json
import os
import sys
import time
from pathlib import Path

import numpy as np
import pandas as pd

sys.path.insert(0, str(Path(__file__).parents[2]))

from qc.charts import cusum, ewma, many, rules
from qc.stats.runlength import cusum_run_length, ewma_run_length
from qc.stats.spreads import spreads
from tests.benchmarks.machine import machine_of_pandas

RESULT = Path(__file__).with_suffix(".json")
SERIES, BLOCKS, BORES, WEIGHT, K, H = 2000, 625, 8, 0.1, 0.5, 5.0
MODES = {"numpy": "0", "fast": "1"}
D2_OF_EIGHT, D2_OF_TWO = 2.8472006106, 1.1283791670955126


def seconds(work, rounds=3):
    """The least time of the clock, that of the processor (all threads together), and what came of it."""
    taken = []
    for _ in range(rounds):
        start, worked = time.perf_counter(), time.process_time()
        found = work()
        taken.append((time.perf_counter() - start, time.process_time() - worked))
    return np.min(taken, axis=0), found


class Shop:
    """The figures both sides start from: bores, block means, and deviations in spreads of the series."""

    def __init__(self, seed=1):
        rng = np.random.default_rng(seed)
        values = rng.normal(0, 1.5, (SERIES, BLOCKS, 1)) + rng.normal(0, 2, (SERIES, BLOCKS, BORES))
        self.values = np.round(values, 1).ravel()
        self.blocks, self.rows = np.arange(SERIES * BLOCKS + 1) * BORES, np.arange(SERIES + 1) * BLOCKS
        self.found = spreads(self.values, self.blocks, self.rows, np.ones(SERIES * BLOCKS, dtype=bool))
        self.means = np.round(self.found.block_mean, 6)
        spread = np.repeat(self.found.spread_of_block_means, BLOCKS)
        self.deviations = ((self.means - np.repeat(self.found.centre, BLOCKS)) / spread).reshape(SERIES, -1)
        # a walk and a quiet patch, so that every rule has something to say
        self.means[10:20] = np.linspace(0, 2, 10)
        self.means[100:130] = 0.0


def limits_by_kernels(shop):
    ranged = many.of_means_and_ranges(shop.values, shop.blocks, shop.rows)
    single = many.of_single_values(shop.found)
    return (
        ranged.lower, ranged.upper, many.beyond(shop.means, ranged, shop.rows),
        many.beyond(shop.means, single, shop.rows),
    )  # fmt: skip


def limits_by_pandas(shop):
    frame = pd.DataFrame(
        {
            "series": np.repeat(np.arange(SERIES), BLOCKS * BORES),
            "block": np.repeat(np.arange(SERIES * BLOCKS), BORES),
            "value": shop.values,
        }
    )
    blocks = frame.groupby(["series", "block"])["value"].agg(["mean", "max", "min"])
    blocks["range"] = blocks["max"] - blocks["min"]
    blocks["as_plotted"] = shop.means
    parts = [one_limits(rows) for _, rows in blocks.groupby(level="series")]
    return tuple(np.concatenate([np.atleast_1d(part[i]) for part in parts]) for i in range(4))


def one_limits(rows):
    centre, half = rows["mean"].mean(), 3 * rows["range"].mean() / D2_OF_EIGHT / np.sqrt(BORES)
    sigma, x = rows["mean"].diff().abs().mean() / D2_OF_TWO, rows["as_plotted"]
    beyond = (x < centre - half) | (x > centre + half)
    alone = (x < centre - 3 * sigma) | (x > centre + 3 * sigma)
    return centre - half, centre + half, beyond.to_numpy(), alone.to_numpy()


def averages_by_kernels(shop):
    return (ewma.averages(shop.deviations, WEIGHT, 0.0),)


def averages_by_pandas(shop):
    frame = pd.DataFrame({"series": np.repeat(np.arange(SERIES), BLOCKS + 1)})
    frame["value"] = np.column_stack((np.zeros(SERIES), shop.deviations)).ravel()
    averaged = frame.groupby("series")["value"].apply(lambda v: v.ewm(alpha=WEIGHT, adjust=False).mean())
    return (averaged.to_numpy().reshape(SERIES, BLOCKS + 1)[:, 1:],)


def sums_by_kernels(shop):
    return cusum.sums(shop.deviations, K)


def sums_by_pandas(shop):
    out = np.empty((2, *shop.deviations.shape))
    for i, row in enumerate(shop.deviations):
        high = low = 0.0
        for t, d in enumerate(row.tolist()):
            high, low = max(0.0, high + d - K), max(0.0, low - d - K)
            out[0, i, t], out[1, i, t] = high, low
    return out[0], out[1]


def signals_by_kernels(shop):
    means, centres = rules.whole(shop.means), np.repeat(rules.whole(shop.found.centre), BLOCKS)
    number = np.repeat(np.arange(SERIES), BLOCKS)
    spread = np.repeat(shop.found.spread_of_block_means, BLOCKS)
    return (
        rules.lasting_shift(means, centres, number),
        rules.slow_walk(means, number),
        rules.too_quiet(means, centres, spread, number),
    )


def signals_by_pandas(shop):
    frame = pd.DataFrame({"series": np.repeat(np.arange(SERIES), BLOCKS), "value": shop.means})
    parts = [
        one_signals(v, centre, spread)
        for (_, v), centre, spread in zip(
            frame.groupby("series")["value"], shop.found.centre, shop.found.spread_of_block_means, strict=True
        )
    ]
    return tuple(np.concatenate([part[i] for part in parts]) for i in range(3))


def one_signals(v, centre, spread):
    step, off = v.diff(), v - centre
    return tuple(
        found.to_numpy(dtype=bool)
        for found in (
            ((off > 0).rolling(8).sum() == 8) | ((off < 0).rolling(8).sum() == 8),
            ((step > 0).rolling(5).sum() == 5) | ((step < 0).rolling(5).sum() == 5),
            (off.abs() < spread).rolling(15).sum() == 15,
        )
    )


PARTS = {
    "limits": (limits_by_kernels, limits_by_pandas),
    "moving_averages": (averages_by_kernels, averages_by_pandas),
    "cumulative_sums": (sums_by_kernels, sums_by_pandas),
    "run_signals": (signals_by_kernels, signals_by_pandas),
}


def times_faster(shop):
    cells, together = {}, dict.fromkeys((*MODES, "pandas"), np.zeros(2))
    for name, (kernels, pandas_version) in PARTS.items():
        taken, answers = {}, {}
        for mode, switch in MODES.items():
            os.environ["QC_FAST"] = switch
            kernels(shop)
            taken[mode], answers[mode] = seconds(lambda kernels=kernels: kernels(shop), 7)
        taken["pandas"], plain = seconds(lambda plain=pandas_version: plain(shop), 1)
        for mode in MODES:
            for one, other in zip(answers[mode], plain, strict=True):
                np.testing.assert_allclose(one, other, rtol=1e-9, atol=1e-9)
        assert all(np.any(answer) for answer in answers["fast"])
        cells[name] = ratios(taken)
        together = {who: together[who] + taken[who] for who in together}
        print(name, json.dumps(cells[name], indent=1), flush=True)
    return {"parts": cells, "together": ratios(together)}


def ratios(taken):
    """Seconds of the clock and the processor, and how many times less ours are."""
    less = {mode: taken["pandas"] / taken[mode] for mode in MODES}
    return {
        "seconds": {who: float(pair[0]) for who, pair in taken.items()},
        "processor_seconds": {who: float(pair[1]) for who, pair in taken.items()},
        "times_faster": {mode: float(pair[0]) for mode, pair in less.items()},
        "times_less_of_the_processor": {mode: float(pair[1]) for mode, pair in less.items()},
    }


def plain_run_length(rounds=400, seed=1):
    rng, lengths = np.random.default_rng(seed), []
    for _ in range(rounds):
        high, low, n = 0.0, 0.0, 0
        while max(high, low) <= H:
            d = rng.normal()
            high, low, n = max(0.0, high + d - K), max(0.0, low - d - K), n + 1
        lengths.append(n)
    return float(np.mean(lengths)), float(np.std(lengths) / np.sqrt(rounds))


def run_lengths():
    exact_seconds, exact = seconds(lambda: cusum_run_length(K, H))
    simulated_seconds, (simulated, error) = seconds(plain_run_length, rounds=1)
    assert abs(exact - simulated) < 4 * error
    curve_seconds, _ = seconds(lambda: [ewma_run_length(WEIGHT, 2.814, d) for d in np.linspace(0, 4, 41)])
    return {
        "times_faster_than_400_simulated_runs": float(simulated_seconds[0] / exact_seconds[0]),
        "run_length": exact,
        "run_length_simulated": simulated,
        "run_length_simulation_error": error,
        "curve_of_41_run_lengths_seconds": float(curve_seconds[0]),
    }


def main():
    result = {"series": SERIES, "blocks": SERIES * BLOCKS, "values": SERIES * BLOCKS * BORES}
    result |= times_faster(Shop()) | {"run_lengths": run_lengths()}
    result |= machine_of_pandas()
    print(json.dumps(result, indent=1))
    RESULT.write_text(json.dumps(result, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
