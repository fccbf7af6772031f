"""Capability of a series with and without its intervals: python tests/benchmarks/intervals.py

100,000 draws a series; series of equal numbers of blocks and bores share the chi-squares and the normals, so
the first of its size pays for them.
"""

import json
import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))

from qc.capability.general import indices, limits_that_count
from qc.capability.nested import capability
from qc.capability.row import row_of
from qc.stats.families import family
from qc.stats.pivotal import DRAWS, SEED
from tests.benchmarks.machine import machine

RESULT = Path(__file__).with_suffix(".json")
BLOCKS, BORES, SERIES = 50, 8, 40
FAMILIES = {"normal": (-12.0, 12.0), "lognormal": (None, 4.0), "folded_normal": (None, 12.0)}


def drawn(name, rng):
    latent = rng.normal(0, 0.7, (BLOCKS, 1)) + rng.normal(0, 0.7, (BLOCKS, BORES))
    return {
        "normal": 3 * latent,
        "lognormal": np.exp(0.3 * latent),
        "folded_normal": np.abs(2 + 3 * latent),
    }[name].ravel()


def with_intervals(values, name, lower, upper):
    bounded = "above" if lower is None else "both"
    capability(
        values, np.arange(BLOCKS + 1) * BORES, np.ones(BLOCKS, dtype=bool), lower=lower, upper=upper,
        bounded=bounded, family=name, condition="steady",
    )  # fmt: skip


def without(values, name, lower, upper):
    chosen, bounded = family(name), "above" if lower is None else "both"
    limits = limits_that_count(lower, upper, bounded)
    joined = np.ones(BLOCKS, dtype=bool)
    row = row_of(values, np.arange(BLOCKS + 1) * BORES, joined, chosen, limits, 0.95, SEED, DRAWS)
    indices(chosen, *chosen.parameters(row.seen.mean[0], row.seen.spread_all[0]), limits)


def milliseconds(work, series, *asked):
    taken = []
    for values in series:
        start = time.perf_counter()
        work(values, *asked)
        taken.append(1e3 * (time.perf_counter() - start))
    return taken


def main():
    result = {"blocks": BLOCKS, "bores_a_block": BORES, "draws": DRAWS, "milliseconds_a_series": {}}
    for name, limits in FAMILIES.items():
        rng = np.random.default_rng(1)
        series = [drawn(name, rng) for _ in range(SERIES)]
        taken = milliseconds(with_intervals, series, name, *limits)
        result["milliseconds_a_series"][name] = {
            "without_intervals": float(np.median(milliseconds(without, series, name, *limits))),
            "with_intervals": float(np.median(taken[1:])),
            "first_series_of_its_size": taken[0],
        }
    result |= machine()
    print(json.dumps(result, indent=1))
    RESULT.write_text(json.dumps(result, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
