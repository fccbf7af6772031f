"""How the cases of `subjects/charts_of_blocks.toml` are put to our functions."""

import numpy as np

from qc.capability import fit
from qc.capability.general import Limits
from qc.capability.proof import inside_one_block
from qc.capability.row import row_of
from qc.charts import cusum, ewma, many, rules, shewhart
from qc.charts.learned import learned
from qc.charts.learned import run_length_here as of_learned
from qc.charts.regression import regression
from qc.stats import segments
from qc.stats.families import FAMILIES
from qc.stats.lag import lag1
from qc.stats.pivotal import interval, pivots
from qc.stats.runlength import simulated
from qc.stats.spreads import spreads

EIGHT = {"spread_in_block": None, "spread_between_blocks": None}


def _each(what, ours, expected):
    assert len(ours) == len(expected)
    for place, (one, other) in enumerate(zip(ours, expected, strict=True)):
        yield f"{what}[{place}]", float(one), float(other)


def _blocks(case):
    means = np.array(case["data"]["means"])
    return means, np.full(means.size, 8)


def averages_of_blocks(case):
    data, expected = case["data"], case["expected"]
    means, bores = _blocks(case)
    design = ewma.Design(data["weight"], data["width"], 500.0, 1.0, 10.0, growing=True)
    chart = ewma.chart(means, bores, **EIGHT, lag1=data["lag1"], wanted=design)
    for what, ours in (("averages", chart.statistic), ("upper", chart.upper), ("lower", chart.lower)):
        yield from _each(what, ours, expected[what])


def sums_of_blocks(case):
    data, expected = case["data"], case["expected"]
    means, bores = _blocks(case)
    design = cusum.Design(data["k"], data["h"], data["head_start"], 500.0, 1.0, 10.0)
    chart = cusum.chart(means, bores, **EIGHT, wanted=design)
    yield "limit", chart.upper_limit, expected["reach"]
    yield from _each("high", chart.high, expected["high"])
    yield from _each("low", chart.low, expected["low"])


def learned_from_blocks(case):
    means, bores = _blocks(case)
    found, expected = learned(means, bores, **EIGHT, lag1=case["data"]["lag1"]), case["expected"]
    yield "centre", found.center, expected["center"]
    yield "spread", found.s, expected["s"]
    scores = (means - expected["center"]) / expected["s"]
    yield from _each("deviations", found.deviations, scores)


def run_rules_of_blocks(case):
    expected, means = case["expected"], np.array(case["data"]["means"])
    whole = rules.whole(means)
    yield from _each("whole", whole, expected["whole"])
    yield from _each("runs", rules.runs(case["data"]["hits"], case["data"]["breaks"]), expected["runs"])
    yield from _each("lasting shift", rules.lasting_shift(whole, 0), expected["lasting_shift"])
    yield from _each("slow walk", rules.slow_walk(whole), expected["slow_walk"])
    yield from _each("too quiet", rules.too_quiet(whole, 0, np.ones(means.size)), expected["too_quiet"])


def run_lengths_of_rules(case):
    for question in ("lasting_shift", "too_quiet"):
        known, _ = rules.false_alarms(question, 30, 0.0)
        yield question, known, case["expected"][f"run_length_{question}"]


def run_lengths_when_learned(case):
    data, expected = case["data"], case["expected"]
    average = ewma.Design(data["weight"], data["width"], 370.0, 1.0, 10.0, growing=False)
    total = cusum.Design(data["k"], data["h"], data["head_start"], 370.0, 1.0, 10.0)
    for i, m in enumerate(data["m"]):
        yield f"EWMA, {m}", ewma.run_length_here(average, m, 0.0), expected["ewma"][i]
        yield f"CUSUM, {m}", cusum.run_length_here(total, m, 0.0), expected["cusum"][i]


def three_sigma_when_learned(case):
    def length_at(error, ratio):
        beyond = FAMILIES["normal"].above
        return 1 / (beyond(3 * ratio, error, 1.0) + beyond(3 * ratio, -error, 1.0))

    for m, expected in zip(case["data"]["m"], case["expected"]["three_sigma"], strict=True):
        yield f"{m} blocks", of_learned(length_at, m, 0.0), expected


def single_points_simulated(case):
    found = simulated(lambda state, u: (u, np.abs(u) > 3), charts=4000)
    expected = case["expected"]["ARL_shewhart"][0]
    yield "run length", found.average, expected
    # runs of independent points are geometric: their standard deviation is the average less one half
    yield "its error", found.standard_error, expected / np.sqrt(4000)


def error_of_a_simulated_run_length(case):
    yield "slow walk", rules.simulation_error("slow_walk", 0.0), case["data"]["error_of_400_geometric_runs"]


def gap_to_a_normal(case):
    found = fit.largest_gap(np.array(case["data"]["means"]), FAMILIES["normal"])
    yield "gap", found, case["expected"]["largest_gap"]


def single_values_of_many(case):
    x, expected = np.array(case["data"]["x"]), case["expected"]
    n = np.arange(x.size + 1)
    found = spreads(np.append(x, x), np.append(n, n[1:] + x.size), [0, x.size, 2 * x.size],
                    np.arange(2 * x.size) % x.size > 0)  # fmt: skip
    limits = many.of_single_values(found)
    for i in (0, 1):
        yield f"mean of {i}", limits.center[i], expected["mean"]
        yield f"upper of {i}", limits.upper[i], expected["UCL"]
        yield f"lower of {i}", limits.lower[i], expected["LCL"]
    outside = many.beyond(np.append(x + 6, x - 6), limits, [0, x.size, 2 * x.size])
    yield "beyond", outside.sum(), sum(v + 6 > expected["UCL"] for v in x) + sum(
        v - 6 < expected["LCL"] for v in x
    )


def ranges_of_many(case):
    x, expected = np.array(case["data"]["phase1_25x5"]), case["expected"]
    limits = many.of_means_and_ranges(x.ravel(), np.arange(len(x) + 1) * x.shape[1], [0, len(x)])
    alone = shewhart.means_and_ranges(x.mean(axis=1), np.ptp(x, axis=1), x.shape[1])
    yield "mean", limits.center[0], expected["grand_mean_6dp"]
    for lower, upper in ((limits.lower[0], limits.upper[0]), (alone.location.lower, alone.location.upper)):
        yield "upper", upper, expected["xbar_UCL_R"]
        yield "lower", lower, expected["xbar_LCL_R"]


def means_with_spreads(case):
    x, expected = np.array(case["data"]["phase1_25x5"]), case["expected"]
    chart = shewhart.means_and_spreads(x.mean(axis=1), x.std(axis=1, ddof=1), x.shape[1])
    yield "mean s", chart.spread.center, expected["sbar"]
    yield "upper", chart.location.upper, expected["xbar_UCL_s"]
    yield "lower", chart.location.lower, expected["xbar_LCL_s"]


def line_of_one_stretch(case):
    x, y, certified = case["data"]["x"], case["data"]["y"], case["expected"]
    chart = regression(y, x, np.zeros(len(x)))
    yield "slope", chart.slope, float(certified["B1"])
    yield "its error", chart.slope_error, float(certified["seB1"])
    yield "residual sd", chart.s, float(certified["resid_sd"])


def interval_of_a_mean(case):
    y, expected = np.array(case["data"]["y"]), case["expected"]
    n, mean, s = y.size, y.mean(), y.std(ddof=1)
    found = interval(pivots(mean, (n - 1) * s * s, 0.0, n, n, 1.0).mean)
    # in standard errors of the mean, so that draws are held to what they promise
    error = expected["sd"] / np.sqrt(n)
    ends = zip((found.lower, found.upper), expected["ci95"], strict=True)
    for what, (ours, printed) in zip(("lower", "upper"), ends, strict=True):
        yield what, (ours - expected["mean"]) / error, (printed - expected["mean"]) / error


def standard_deviation_of_gears(case):
    data, expected = case["data"], case["expected"]
    x = np.array(next(v for v in data.values() if len(v) == expected["N"] and isinstance(v[0], float)))
    yield "mean", segments.means(x, [0, x.size])[0], expected["mean"]
    yield "sd", segments.standard_deviations(x, [0, x.size])[0], expected["sd"]


def index_of_exact_bores(case):
    low, high, mean, s = (case["data"][key] for key in ("LSL", "USL", "mean", "s"))
    standard = np.array([-1.0, 1.0, -1.0, 1.0, -1.0, 1.0])
    bores = mean + s * standard / standard.std(ddof=1)
    found = fit.index_under(bores, Limits(low, high), FAMILIES["normal"])
    yield "Ppk", found, case["expected"]["Cpk"]
    # blocks of two bores s apart from their mean: spread in block s again, and no block differs from another
    pairs = mean + s * np.array([-1.0, 1.0] * 3) / np.sqrt(2)
    joined = np.array([False, True, True])
    row = row_of(pairs, [0, 2, 4, 6], joined, FAMILIES["normal"], Limits(low, high), 0.95, 1, 1000)
    inside, _ = inside_one_block(row)
    yield "inside one block", inside.index, case["expected"]["Cp"]
    yield "its nearer side", inside.nearer, case["expected"]["Cpk"]


def lag_one_of_a_quiet_process(case):
    y = case["data"]["y"]
    rho = lag1([y]).rho
    # the printed ratio is what it would be on average at rho: rho - (1 + 4 rho)/m (Kendall 1954)
    yield "r1", rho - (1 + 4 * rho) / len(y), case["expected"]["autocorrelation_lag1"]
