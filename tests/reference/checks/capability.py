"""From the cases of retrieved data to triples (what, figure of ours, expected)."""

import numpy as np

from qc.capability.allowed import allowed
from qc.capability.general import Limits, indices
from qc.capability.nested import capability
from qc.capability.normal import index, index_interval, nearer_index, nearer_index_interval
from qc.capability.one_sided import lower_index, upper_index
from qc.capability.tolerance import tolerance_interval
from qc.stats.families import FAMILIES
from qc.stats.pivotal import half_width, interval, pivots


def indices_(case):
    low, high, mean, s = (case["data"][key] for key in ("LSL", "USL", "mean", "s"))
    expected = case["expected"]
    yield "Cp", index(low, high, s), expected["Cp"]
    yield "Cpk", nearer_index(low, high, mean, s), expected["Cpk"]
    yield "Cpu", upper_index(high, mean, 3 * s), expected["Cpu"]
    yield "Cpl", lower_index(low, mean, 3 * s), expected["Cpl"]
    found = indices(FAMILIES["normal"], mean, s, Limits(low, high))
    yield "Cp, any family", found.both, expected["Cp"]
    yield "Cpu, any family", found.to_upper, expected["Cpu"]
    yield "Cpl, any family", found.to_lower, expected["Cpl"]


def indices_of_a_series(case):
    low, high, mean, s = (case["data"][key] for key in ("LSL", "USL", "mean", "s"))
    # Three blocks of two bores with exactly that mean and standard deviation.
    standard = np.array([-1.0, 1.0, -1.0, 1.0, -1.0, 1.0])
    bores = mean + s * standard / standard.std(ddof=1)
    found = capability(
        bores, [0, 2, 4, 6], [False, True, True], lower=low, upper=high, bounded="both", family="normal"
    )
    yield "Pp", found.pp, case["expected"]["Cp"]
    yield "Ppk", found.ppk, case["expected"]["Cpk"]


def interval_of_pp(case):
    low, high, n, s = (case["data"][key] for key in ("LSL", "USL", "n", "s"))
    found = index_interval(index(low, high, s), n)
    yield "Cp", index(low, high, s), case["expected"]["Cp"]
    yield "lower", found.lower, case["expected"]["ci95"][0]
    yield "upper", found.upper, case["expected"]["ci95"][1]


def interval_of_ppk(case):
    found = nearer_index_interval(case["data"]["Cpk_hat"], case["data"]["n"])
    yield "lower", found.lower, case["expected"]["ci95_by_formula"][0]
    yield "upper", found.upper, case["expected"]["ci95_by_formula"][1]


def lower_bounds(case):
    for n, factor in case["expected"]["Cp_lower95_factor"].items():
        yield f"Cp factor, n = {n}", index_interval(1.0, int(n), 0.90).lower, factor
    for value, bounds in case["expected"]["Cpk_lower95"].items():
        for n, bound in bounds.items():
            yield f"{value}, n = {n}", nearer_index_interval(float(value), int(n), 0.90).lower, bound


def lower_bounds_from_draws(case):
    for n, factor in case["expected"]["Cp_lower95_factor"].items():
        m = int(n)
        found = pivots(0.0, float(m - 1), 0.0, m, m, 1.0)
        yield f"Cp factor, n = {n}", interval(1 / found.spread, 0.90).lower, factor


def tolerance_interval_from_draws(case):
    for n, k in case["computed_here"]["exact"].items():
        m = int(n)
        if m < 5:
            continue
        found = pivots(10.0, 4.0 * (m - 1), 0.0, m, m, 1.0)
        normal = FAMILIES["normal"]
        held = tolerance_interval(found, allowed(normal, found, 10.0, 2.0, m, m), 10.0, normal, "both")
        yield f"half width, n = {n}", half_width(found, 10.0) / 2, k
        yield f"upper end, n = {n}", (held.upper - 10) / 2, k
        yield f"lower end, n = {n}", (10 - held.lower) / 2, k
