"""From the cases of retrieved data to triples (what, figure of ours, expected)."""

from decimal import Decimal

import numpy as np

from qc.stats import constants, segments
from qc.stats.spreads import spreads
from qc.stats.tolerance import howe_factor, one_sided_factor, two_sided_factor
from qc.stats.tolerance_grades import it_grade


def _factors(case, names, sizes):
    columns = case["expected"]["columns"]
    table = next(table for key, table in case["expected"].items() if key.startswith("published"))
    for n in sizes:
        for name in names:
            yield f"{name}({n})", getattr(constants, name)(n), table[str(n)][columns.index(name)]


def factors_seen_in_print(case):
    # D4(3) is 2.57459 and printed 2.574, made of rounded d2 and d3 (the case's "trap"): it is met to one unit
    # below.
    for triple in _factors(case, ("A2", "A3", "B3", "B4", "D3", "D4"), range(2, 11)):
        if triple[0] != "D4(3)":
            yield triple


def factors_recalled(case):
    return _factors(case, ("d2", "d3", "A2", "A3", "B3", "B4", "D3", "D4"), range(2, 26))


def c4_recalled(case):
    return _factors(case, ("c4",), range(2, 26))


def factors_computed_elsewhere(case):
    names = ("d2", "d3", "c4", "A2", "A3", "B3", "B4", "B5", "B6", "D1", "D2", "D3", "D4", "E2")
    for n, row in case["computed_here"].items():
        for name in names:
            yield f"{name}({n})", getattr(constants, name)(int(n)), row[name]


def percentile(case):
    y = np.array(case["data"]["y"])
    yield "90 % point", segments.quantiles(y, [0, y.size], 0.9)[0], case["expected"]["p90"]


def tolerance_factors(case):
    n, p, gamma = (case["data"][key] for key in ("N", "p", "gamma"))
    expected = case["expected"]
    yield "two-sided, Howe", howe_factor(n, p, gamma), expected["k2_howe"]
    yield "one-sided", one_sided_factor(n, p, gamma), expected["k1_noncentral_t"]
    yield "one-sided, N = 6", one_sided_factor(6, p, gamma), expected["k1_noncentral_t_N6"]


def exact_factors(case):
    for n, expected in case["expected"]["iso_16269_6_exact"].items():
        yield f"n = {n}", two_sided_factor(int(n), 0.95, 0.95), expected


def factors_computed_elsewhere_k(case):
    for n, expected in case["computed_here"]["exact"].items():
        yield f"exact, n = {n}", two_sided_factor(int(n), 0.95, 0.95), expected
    for n, expected in case["computed_here"]["howe"].items():
        yield f"Howe, n = {n}", howe_factor(int(n), 0.95, 0.95), expected


def grades(case):
    ranges = case["data"]["size_ranges_over_to_mm"]
    for grade, widths in case["expected"].items():
        for (over, to), width in zip(ranges, widths, strict=True):
            yield f"{grade} at {to} mm", it_grade(to, grade), width
            yield f"{grade} just over {over} mm", it_grade(over + 1e-6, grade), width


def _exact(text):
    return float(str(text).split()[0])


def univariate(case):
    y = np.array(case["data"]["y"])
    # Three segments, one of them empty: the figures must not depend on the neighbours.
    column, offsets = np.concatenate([[7e11, -3.0], y]), [0, 2, 2, 2 + y.size]
    mean = _exact(case["expected"]["mean"])
    yield "mean", segments.means(column, offsets)[2], mean
    yield (
        "sum",
        segments.sums(column, offsets)[2],
        float(Decimal(str(case["computed_here"]["mean"])) * y.size),
    )
    yield "sd", segments.standard_deviations(column, offsets)[2], _exact(case["expected"]["sd"])


def univariate_off_target(case):
    target = Decimal(1000000)
    y = np.array([float(Decimal(repr(value)) - target) for value in case["data"]["y"]])
    mean = float(Decimal(str(case["computed_here"]["mean"])) - target)
    yield "mean off target", segments.means(y, [0, y.size])[0], mean
    yield "sd off target", segments.standard_deviations(y, [0, y.size])[0], _exact(case["expected"]["sd"])


def _of_groups(values, groups):
    starts = [0] + [i for i in range(1, len(groups)) if groups[i] != groups[i - 1]] + [len(groups)]
    blocks = len(starts) - 1
    return spreads(np.array(values, dtype=float), starts, [0, blocks], np.ones(blocks, dtype=bool))


def _table(found, expected):
    m, bores = int(found.blocks[0]), int(found.bores[0])
    between = found.ssb[0] / (m - 1)
    within = found.sse[0] / (bores - m)
    yield "degrees of freedom between", m - 1, expected["df_between"]
    yield "degrees of freedom within", bores - m, expected["df_within"]
    yield "sum of squares between", found.ssb[0], float(expected["SS_between"])
    yield "sum of squares within", found.sse[0], float(expected["SS_within"])
    yield "mean square between", between, float(expected["MS_between"])
    yield "mean square within", within, float(expected["MS_within"])
    yield "F", between / within, float(expected["F"])
    yield "spread in block", found.spread_in_block[0], float(expected["resid_sd"])


def _written_out(data):
    if "y" in data:
        return data["y"], data["group"]
    values, labels = [], []
    for group, rule in data["y_by_group"].items():
        alternating = rule["then_alternating"]
        values += [rule["first"]] + [alternating[i % 2] for i in range(rule["count"] - 1)]
        labels += [group] * rule["count"]
    return values, labels


def analysis_of_variance(case):
    return _table(_of_groups(*_written_out(case["data"])), case["expected"])


def analysis_of_variance_off_target(case):
    # What the product does with sizes: the target is taken off in exact numbers before anything is summed.
    target = Decimal(10**12)
    values = [float(Decimal(text) - target) for text in case["data"]["y"]]
    return _table(_of_groups(values, case["data"]["group"]), case["expected"])


def gear_table(case):
    found = _of_groups(case["data"]["diameter"], case["data"]["batch"])
    expected = case["expected"]
    yield "SS between", found.ssb[0], expected["SS_batch"]
    yield "SS within", found.sse[0], expected["SS_resid"]
    yield "MS between", found.ssb[0] / 9, expected["MS_batch"]
    yield "MS within", found.spread_in_block[0] ** 2, expected["MS_resid"]
    yield "SS of all", found.spread_all[0] ** 2 * 99, expected["SS_total"]


def gear_ratio_and_means(case):
    found = _of_groups(case["data"]["diameter"], case["data"]["batch"])
    expected = case["expected"]
    yield "F", found.ssb[0] / 9 / found.spread_in_block[0] ** 2, expected["F"]
    yield "spread in block", found.spread_in_block[0], expected["residual_sd"]
    for batch, (ours, printed) in enumerate(
        zip(found.block_mean, expected["batch_means"], strict=True), start=1
    ):
        yield f"mean of batch {batch}", ours, printed


def dyestuff(case):
    found = _of_groups(case["data"]["yield"], case["data"]["batch"])
    expected = case["expected"]
    yield "mean", found.mean[0], expected["mean"]
    yield "variance between batches", found.spread_between_blocks[0] ** 2, expected["var_batch"]
    yield "variance within", found.spread_in_block[0] ** 2, expected["var_resid"]
    yield "spread between batches", found.spread_between_blocks[0], expected["sd_batch"]
    yield "spread in batch", found.spread_in_block[0], expected["sd_resid"]
    yield "mean square between", found.ssb[0] / 5, expected["MSB"]
    yield "F", found.ssb[0] / 5 / found.spread_in_block[0] ** 2, expected["F"]
