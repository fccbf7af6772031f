"""The segment kernels against plain pandas, in the same run: python tests/benchmarks/kernels.py

Ten million bores in 2,000 series of blocks of eight: all figures of `qc.stats.spreads` and three quantiles,
by numpy and by the extra `fast`, where readings stand on one gauge step and where no two are equal. The
plain version is what a practitioner writes: groupby, apply, and scipy for what pandas lacks. Read the
ratios; absolute times are the machine's.
"""

import json
import os
import subprocess
import sys
import time
from functools import lru_cache
from pathlib import Path

import numpy as np
import pandas as pd
from scipy import stats
from scipy.stats import mstats

sys.path.insert(0, str(Path(__file__).parents[2]))

from qc.stats import segments
from qc.stats.spreads import spreads
from tests.benchmarks.machine import machine_of_pandas

RESULT = Path(__file__).with_suffix(".json")
SERIES, BLOCKS, BORES = 2000, 625, 8
STRETCH = 25
"""Blocks from one change of stones to the next: no moving range goes across one."""
FRACTIONS = (0.00135, 0.5, 0.99865)
MODES = {"numpy": "0", "fast": "1"}
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


def bores(step, seed=1):
    rng = np.random.default_rng(seed)
    values = rng.normal(0, 3, (SERIES, 1, 1)) + rng.normal(0, 1.5, (SERIES, BLOCKS, 1))
    values = values + rng.normal(0, 2, (SERIES, BLOCKS, BORES))
    return (np.round(values / step) * step if step else values).ravel()


@lru_cache(maxsize=2)
def layout(series):
    """Offsets of blocks and of rows, which blocks are joined, and offsets of the rows into the values."""
    blocks, rows = np.arange(series * BLOCKS + 1) * BORES, np.arange(series + 1) * BLOCKS
    return blocks, rows, np.tile(np.arange(BLOCKS) % STRETCH > 0, series), blocks[rows]


def by_kernels(values, mode):
    os.environ["QC_FAST"] = MODES[mode]
    blocks, rows, joined, ends = layout(SERIES)
    return spreads(values, blocks, rows, joined), segments.quantiles(values, ends, FRACTIONS)


def plain(group):
    blocks = group.groupby("block")["value"].agg(["mean", "var", "count"])
    m, n = len(blocks), len(group)
    h = stats.hmean(blocks["count"])
    centre = blocks["mean"].mean()
    sse = ((blocks["count"] - 1) * blocks["var"]).sum()
    ssb = h * ((blocks["mean"] - centre) ** 2).sum()
    within = sse / (n - m)
    stretches = blocks["mean"].groupby(blocks.index // STRETCH)
    moving = (stretches.diff().abs().mean() / 1.1283791670955126) ** 2
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
    start, worked = time.perf_counter(), time.process_time()
    found = frame.groupby("series")[["block", "value"]].apply(plain)
    return found, (time.perf_counter() - start, time.process_time() - worked)


def seconds(work, rounds):
    """The least time of the clock, and of the processor, all threads together."""
    taken = []
    for _ in range(rounds):
        start, worked = time.perf_counter(), time.process_time()
        work()
        taken.append((time.perf_counter() - start, time.process_time() - worked))
    return tuple(min(side) for side in zip(*taken, strict=True))


def peak_of(mode):
    """Megabytes that a process grows by at its most over what its column and the loaded kernels take."""
    code = (
        "import sys; from pathlib import Path\n"
        f"sys.path.insert(0, {str(Path(__file__).parent)!r})\n"
        "import kernels\n"
        f"kernels.SERIES = 2; kernels.by_kernels(kernels.bores(0.1), {mode!r}); kernels.SERIES = {SERIES}\n"
        "values = kernels.in_steps(0.1)\n"
        "Path('/proc/self/clear_refs').write_text('5')\n"
        "before = kernels.most_kilobytes()\n"
        f"kernels.by_kernels(values, {mode!r})\n"
        "print((kernels.most_kilobytes() - before) * 1024 / 1e6)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    return float(done.stdout) if done.returncode == 0 else None  # Linux only


def most_kilobytes():
    """The most memory this process has held."""
    status = Path("/proc/self/status").read_text(encoding="utf-8")
    return int(next(line for line in status.splitlines() if line.startswith("VmHWM")).split()[1])


def in_steps(step):
    """As `bores`, series by series: making them must not be what takes most memory."""
    out = np.empty((SERIES, BLOCKS * BORES))
    rng = np.random.default_rng(1)
    for row in out:
        row[:] = np.round((rng.normal(0, 3) + rng.normal(0, 2.5, row.size)) / step) * step
    return out.ravel()


def main():
    result = {"values": SERIES * BLOCKS * BORES, "series": SERIES, "blocks": SERIES * BLOCKS, "cases": {}}
    for case, step in (("on one gauge step", 0.1), ("no two equal", None)):
        values = bores(step)
        result["cases"][case] = one_case(values)
        print(case, json.dumps(result["cases"][case], indent=1), flush=True)
    result |= {
        "column_megabytes": values.nbytes / 1e6,
        "peak_megabytes": {mode: peak_of(mode) for mode in MODES},
        "seconds_of_one_pass_over_the_column": seconds(values.sum, 9)[0],
        **machine_of_pandas(),
    }
    print(json.dumps(result, indent=1))
    RESULT.write_text(json.dumps(result, indent=1) + "\n", encoding="utf-8")


def one_case(values):
    ours = {}
    for mode, rounds in (("fast", 25), ("numpy", 5)):
        by_kernels(values, mode)
        ours[mode] = seconds(lambda mode=mode: by_kernels(values, mode), rounds)
    theirs, plain_seconds = by_pandas(values)
    # the machine's load may have changed meanwhile
    again = seconds(lambda: by_kernels(values, "fast"), 25)
    ours["fast"] = tuple(min(pair) for pair in zip(ours["fast"], again, strict=True))
    for mode in MODES:
        found, quantiles = by_kernels(values, mode)
        for name in COMPARED:
            np.testing.assert_allclose(getattr(found, name), theirs[name], rtol=1e-9, atol=1e-9)
        np.testing.assert_allclose(quantiles, theirs[["low", "middle", "high"]], rtol=1e-12, atol=1e-12)
    taken = {"pandas": plain_seconds, **ours}
    return {
        "seconds": {who: clock for who, (clock, _) in taken.items()},
        "processor_seconds": {who: worked for who, (_, worked) in taken.items()},
        "times_faster": {mode: plain_seconds[0] / ours[mode][0] for mode in MODES},
        "times_less_of_the_processor": {mode: plain_seconds[1] / ours[mode][1] for mode in MODES},
    }


if __name__ == "__main__":
    main()
