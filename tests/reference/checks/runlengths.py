"""How the cases of `subjects/runlengths.toml` are put to our functions."""

import numpy as np

from qc.charts import attributes, multivariate
from qc.charts.cusum import sums
from qc.charts.ewma import averages, limits
from qc.stats.runlength import cusum_limit, cusum_run_length, ewma_run_length
from qc.stats.runrules import RunRule, run_length


def _cusum_table(case, figures):
    # The row at shift 0 looks to one side only, the others to both.
    data = case["data"]
    for h in data["h"]:
        for shift, expected in zip(data["shift_sigma"], figures[f"ARL_h{h}"], strict=True):
            found = cusum_run_length(data["k"], h, shift, sides=2 if shift else 1)
            yield f"h {h}, shift {shift}", found, expected


def cusum_table(case):
    yield from _cusum_table(case, case["expected"])


def cusum_computed_elsewhere(case):
    yield from _cusum_table(case, case["computed_here"])
    for h in case["data"]["h"]:
        both = case["computed_here"]["two_sided_at_0"][f"h{h}"]
        yield f"h {h}, both sides", cusum_run_length(case["data"]["k"], h, 0.0), both


def single_points(case):
    for shift, expected in zip(case["data"]["shift_sigma"], case["expected"]["ARL_shewhart"], strict=True):
        yield f"shift {shift}", run_length([RunRule(1, 1, 3.0)], shift), expected


def cusum_limits(case):
    for k, expected in zip(case["data"]["k"], case["expected"]["h"], strict=True):
        yield f"k {k}", cusum_limit(k, 370.0), expected


def cusum_limits_computed_elsewhere(case):
    computed, printed = case["computed_here"], case["expected"]["h"]
    for k, h, printed_h, arl in zip(
        case["data"]["k"], computed["h_for_ARL0_370"], printed, computed["ARL0_at_published_h"], strict=True
    ):
        yield f"h at k {k}", cusum_limit(k, 370.0), h
        yield f"run length at k {k}", cusum_run_length(k, printed_h, 0.0), arl


def one_sided_in_print(case):
    expected, k, h = case["expected"], case["data"]["k"], case["data"]["h"]
    for shift, value in zip((0.0, 1.5), expected["brook_evans"], strict=True):
        yield f"Brook and Evans {shift}", cusum_run_length(k, h, shift, sides=1), value
    for shift, value in zip((-0.5, 0.0, 0.5), expected["waldmann"], strict=True):
        yield f"Waldmann {shift}", cusum_run_length(k, h, shift, sides=1), value
    vance = case["data"]["vance"]
    for shift, value in zip(vance["mu"], expected["vance"], strict=True):
        yield f"Vance {shift}", cusum_run_length(vance["k"], vance["h"], shift, sides=1), value


def _schemes(case, figures):
    for weight, width in case["data"]["schemes_lambda_L"]:
        for shift, expected in zip(case["data"]["shift_sigma"], figures[f"{weight},{width}"], strict=True):
            yield f"{weight}, {width}, {shift}", ewma_run_length(weight, width, shift), expected


def weighted_averages(case):
    yield from _schemes(case, case["expected"])


def weighted_averages_computed_elsewhere(case):
    yield from _schemes(case, case["computed_here"])


def _rules(case, figures):
    rules = {
        number: RunRule(hits, window, float(inner), None if outer is None else float(outer))
        for number, (hits, window, inner, outer) in case["data"]["rules"].items()
    }
    for name in case["expected"]:
        chosen = [rules[digit] for digit in name[1:]]
        for shift, value in zip(case["data"]["shift_sigma"], figures[name], strict=True):
            yield f"{name} at {shift}", run_length(chosen, shift), value


def run_rules(case):
    yield from _rules(case, case["expected"])


def run_rules_computed_elsewhere(case):
    yield from _rules(case, case["computed_here"])


def ewma_of_the_handbook(case):
    data, expected = case["data"], case["expected"]
    found = averages(data["x"], data["lambda"], data["EWMA0"])
    for t, value in enumerate(expected["EWMA"]):
        yield f"average {t + 1}", float(found[t]), value
    half = float(limits(data["lambda"], 3.0, len(found), growing=False)[-1]) * data["s"]
    yield "upper", data["EWMA0"] + half, expected["UCL"]
    yield "lower", data["EWMA0"] - half, expected["LCL"]
    yield "signals", float((np.abs(found - data["EWMA0"]) > half).sum()), expected["signals"]


def smoothing_of_the_handbook(case):
    y, expected = case["data"]["y"], case["expected"]["S_from_t2"]
    found = np.append(float(y[0]), averages(y[1:-1], case["data"]["alpha"], y[0]))
    for t, value in enumerate(expected, start=2):
        yield f"forecast for {t}", float(found[t - 2]), value


def cusum_of_the_handbook(case):
    data, expected = case["data"], case["expected"]
    high, low = sums(np.array(data["group_mean"]) - data["target"], data["k"])
    for name, found in (("S_hi", high), ("S_lo", low)):
        for t, value in enumerate(expected[name]):
            yield f"{name} {t + 1}", float(found[t]), value
    beyond = np.flatnonzero((high > data["h"]) | (low > data["h"]))
    yield "first signal", float(beyond[0] + 1), expected["first_signal_group"]


def shares_of_the_handbook(case):
    data, expected = case["data"], case["expected"]
    chart = attributes.shares_three_sigma(
        np.rint(np.array(data["fraction"]) * data["n"]), np.full(len(data["fraction"]), data["n"])
    )
    yield "share", chart.center, expected["pbar"]
    yield "upper", float(chart.upper[0]), expected["UCL"]
    yield "lower", float(chart.lower[0]), expected["LCL"]


def faults_of_the_handbook(case):
    chart, expected = attributes.faults_three_sigma(case["data"]["defects"]), case["expected"]
    yield "mean", chart.center, expected["cbar"]
    yield "upper", float(chart.upper[0]), expected["UCL"]
    yield "lower", float(chart.lower[0]), expected["LCL"]
    # wafer 24 lies beyond, wafer 3 exactly on the limit
    yield "signals", float(chart.signals.sum()), 1.0
    yield "signal at", float(np.flatnonzero(chart.signals)[0] + 1), 24.0


def faults_of_twenty_samples(case):
    chart, expected = attributes.faults_three_sigma(case["data"]["defects"]), case["expected"]
    yield "mean", chart.center, expected["cbar"]
    yield "upper", float(chart.upper[0]), expected["UCL"]
    yield "lower", float(chart.lower[0]), expected["LCL"]


def _gravel(case):
    return np.column_stack((case["data"]["large"], case["data"]["medium"]))


def two_covariances(case):
    x, expected = _gravel(case), case["expected"]
    for name, estimator in (("S1", "sample"), ("S2", "successive")):
        found = multivariate.covariance(x, estimator=estimator)
        for i in (0, 1):
            for j in (0, 1):
                yield f"{name}[{i},{j}]", float(found[i, j]), expected[name][i][j]


def greatest_t2(case):
    x = _gravel(case)
    found = multivariate.t2(x, x.mean(axis=0), multivariate.covariance(x, estimator="successive"))
    yield "greatest", float(found.max()), case["computed_here"]["T2_S2_max"]


def covariance_of_the_handbook(case):
    found, expected = multivariate.covariance(case["data"]["X"]), case["expected"]["S"]
    for i in range(3):
        for j in range(3):
            yield f"S[{i},{j}]", float(found[i, j]), expected[i][j]
