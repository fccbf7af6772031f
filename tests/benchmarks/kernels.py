"""The segment kernels against plain pandas, in the same run: python tests/benchmarks/kernels.py

Ten million bores in 2,000 series of blocks of eight: all figures of `qc.stats.spreads` and three quantiles.
The plain version is what a practitioner writes: groupby, apply, and scipy for what pandas lacks. Read the
ratios; absolute times are the machine's.
"""

import json
import os
import platform
import sys
import time
import tracemalloc
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pandas as pd
from scipy import stats
from scipy.stats import mstats

sys.path.insert(0, str(Path(__file__).parents[2]))

from qc.stats import segments
from qc.stats.spreads import spreads

RESULT = Path(__file__).with_suffix(".json")
SERIES, BLOCKS, BORES = 2000, 625, 8
FRACTIONS = (0.00135, 0.5, 0.99865)
COMPARED = (
    "mean",
    "centre",
    "spread_in_block",
    "spread_between_blocks",
    "spread_short",
    "spread_all",
    "ssb",
    "sse",
)


def bores(seed=1):
    rng = np.random.default_rng(seed)
    values = rng.normal(0, 3, (SERIES, 1, 1)) + rng.normal(0, 1.5, (SERIES, BLOCKS, 1))
    return np.round(values + rng.normal(0, 2, (SERIES, BLOCKS, BORES)), 1).ravel()


def by_kernels(values):
    blocks = np.arange(SERIES * BLOCKS + 1) * BORES
    rows = np.arange(SERIES + 1) * BLOCKS
    found = spreads(values, blocks, rows, np.ones(SERIES * BLOCKS, dtype=bool))
    return found, segments.quantiles(values, blocks[rows], FRACTIONS)


def plain(group):
    blocks = group.groupby("block")["value"].agg(["mean", "var", "count"])
    m, n = len(blocks), len(group)
    h = stats.hmean(blocks["count"])
    centre = blocks["mean"].mean()
    sse = ((blocks["count"] - 1) * blocks["var"]).sum()
    ssb = h * ((blocks["mean"] - centre) ** 2).sum()
    within = sse / (n - m)
    moving = (blocks["mean"].diff().abs().mean() / 1.1283791670955126) ** 2
    low, middle, high = mstats.mquantiles(group["value"], FRACTIONS, alphap=0, betap=0)
    return pd.Series(
        {
            "mean": group["value"].mean(),
            "centre": centre,
            "spread_in_block": np.sqrt(within),
            "spread_between_blocks": np.sqrt(max(0.0, ssb / h / (m - 1) - within / h)),
            "spread_short": np.sqrt(max(0.0, moving - within / h) + within),
            "spread_all": group["value"].std(),
            "ssb": ssb,
            "sse": sse,
            "lowest": group["value"].min(),
            "highest": group["value"].max(),
            "low": low,
            "middle": middle,
            "high": high,
        }
    )


def by_pandas(values):
    frame = pd.DataFrame(
        {
            "series": np.repeat(np.arange(SERIES), BLOCKS * BORES),
            "block": np.repeat(np.tile(np.arange(BLOCKS), SERIES), BORES),
            "value": values,
        }
    )
    start = time.perf_counter()
    return frame.groupby("series")[["block", "value"]].apply(plain), time.perf_counter() - start


def seconds(work, rounds=3):
    taken = []
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return min(taken)


def peak_of(work):
    tracemalloc.start()
    work()
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak


def main():
    values = bores()
    ours = seconds(lambda: by_kernels(values))
    one_pass = seconds(lambda: values.sum(), rounds=9)
    peak = peak_of(lambda: by_kernels(values))
    theirs, pandas_seconds = by_pandas(values)
    found, quantiles = by_kernels(values)
    for name in COMPARED:
        np.testing.assert_allclose(getattr(found, name), theirs[name], rtol=1e-9, atol=1e-9)
    np.testing.assert_allclose(quantiles, theirs[["low", "middle", "high"]], rtol=1e-12, atol=1e-12)
    result = {
        "values": values.size,
        "series": SERIES,
        "blocks": SERIES * BLOCKS,
        "kernels_seconds": ours,
        "pandas_seconds": pandas_seconds,
        "times_faster": pandas_seconds / ours,
        "passes_over_the_column": ours / one_pass,
        "peak_megabytes": peak / 1e6,
        "column_megabytes": values.nbytes / 1e6,
        "at": datetime.now(UTC).date().isoformat(),
        "cores": os.cpu_count(),
        "python": platform.python_version(),
        "numpy": np.__version__,
        "pandas": pd.__version__,
    }
    for key, figure in result.items():
        print(f"{key:24} {figure}")
    RESULT.write_text(json.dumps(result, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
