"""How the cases of `subjects/proof.toml` are put to our functions."""

import numpy as np

from qc.capability.nested import capability
from qc.charts.first_phase import standing_apart


def _needed(values, blocks):
    joined = np.concatenate(([False], np.ones(len(blocks) - 2, dtype=bool)))
    found = capability(values, blocks, joined, lower=None, upper=50.0, bounded="above", family="normal")
    return found.to_prove.needed


def single(case):
    draw = np.random.default_rng(1)
    for n, expected in case["single"].items():
        yield n, _needed(draw.normal(0, 1, int(n)), np.arange(int(n) + 1)), expected


def nested(case):
    for at, one in enumerate(case["nested"]):
        values = np.array(one["values"])
        blocks = np.arange(len(values) + 1) * values.shape[1]
        yield str(at), _needed(values.ravel(), blocks), one["needed"]


def apart(case):
    found = standing_apart(case["data"]["y"], level=0.05, most=10)
    yield "number", len(found.places), case["expected"]["n_outliers"]
    for name, ours in (("R", found.statistic), ("lambda", found.limit)):
        for step, (one, expected) in enumerate(zip(ours, case["expected"][name], strict=True), start=1):
            yield f"{name}{step}", one, expected
