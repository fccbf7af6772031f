"""Charts of many series against plain pandas and scipy, in the same run: python tests/benchmarks/charts.py

Moving averages and running sums of 2,000 series of 625 blocks, and run lengths of designs. The plain
version is what a practitioner writes: pandas' ewm by series, a loop over values for the sums, and a
simulation for the run lengths. Read the ratios; absolute times are the machine's.
"""

import json
import os
import platform
import sys
import time
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pandas as pd

sys.path.insert(0, str(Path(__file__).parents[2]))

from qc.charts import cusum, ewma
from qc.stats.runlength import cusum_run_length, ewma_run_length

RESULT = Path(__file__).with_suffix(".json")
SERIES, BLOCKS, WEIGHT, K, H = 2000, 625, 0.1, 0.5, 5.0


def seconds(work, rounds=3):
    taken = []
    for _ in range(rounds):
        start = time.perf_counter()
        found = work()
        taken.append(time.perf_counter() - start)
    return min(taken), found


def plain_averages(x):
    frame = pd.DataFrame({"series": np.repeat(np.arange(SERIES), BLOCKS + 1)})
    frame["value"] = np.column_stack((np.zeros(SERIES), x)).ravel()
    averaged = frame.groupby("series")["value"].apply(lambda v: v.ewm(alpha=WEIGHT, adjust=False).mean())
    return averaged.to_numpy().reshape(SERIES, BLOCKS + 1)[:, 1:]


def plain_sums(x):
    out = np.empty((2, *x.shape))
    for i, row in enumerate(x):
        high = low = 0.0
        for t, d in enumerate(row.tolist()):
            high, low = max(0.0, high + d - K), max(0.0, low - d - K)
            out[0, i, t], out[1, i, t] = high, low
    return out


def plain_run_length(rounds=400, seed=1):
    rng, lengths = np.random.default_rng(seed), []
    for _ in range(rounds):
        high, low, n = 0.0, 0.0, 0
        while max(high, low) <= H:
            d = rng.normal()
            high, low, n = max(0.0, high + d - K), max(0.0, low - d - K), n + 1
        lengths.append(n)
    return float(np.mean(lengths)), float(np.std(lengths) / np.sqrt(rounds))


def main():
    x = np.random.default_rng(1).normal(size=(SERIES, BLOCKS))
    ours, averages = seconds(lambda: ewma.averages(x, WEIGHT, 0.0))
    pandas_seconds, theirs = seconds(lambda: plain_averages(x), rounds=1)
    np.testing.assert_allclose(averages, theirs, rtol=1e-9, atol=1e-12)
    sum_seconds, sums = seconds(lambda: cusum.sums(x, K))
    loop_seconds, plain = seconds(lambda: plain_sums(x), rounds=1)
    np.testing.assert_array_equal(np.stack(sums), plain)
    exact_seconds, exact = seconds(lambda: cusum_run_length(K, H))
    simulated_seconds, (simulated, error) = seconds(plain_run_length, rounds=1)
    assert abs(exact - simulated) < 4 * error
    curve_seconds, _ = seconds(lambda: [ewma_run_length(WEIGHT, 2.814, d) for d in np.linspace(0, 4, 41)])
    result = {
        "series": SERIES,
        "blocks": SERIES * BLOCKS,
        "averages_times_faster_than_pandas": pandas_seconds / ours,
        "sums_times_faster_than_a_loop": loop_seconds / sum_seconds,
        "run_length_times_faster_than_400_simulated_runs": simulated_seconds / exact_seconds,
        "run_length": exact,
        "run_length_simulated": simulated,
        "run_length_simulation_error": error,
        "curve_of_41_run_lengths_seconds": curve_seconds,
        "at": datetime.now(UTC).date().isoformat(),
        "cores": os.cpu_count(),
        "python": platform.python_version(),
        "numpy": np.__version__,
        "pandas": pd.__version__,
    }
    for key, figure in result.items():
        print(f"{key:50} {figure}")
    RESULT.write_text(json.dumps(result, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
