"""How the retrieved cases of `subjects/charts.toml` are put to our functions."""

import numpy as np

from qc.charts import shewhart
from qc.compare import equal_spreads, spread
from qc.derived import materials, temperature, tunnel
from qc.drift import changepoint, trend


def _tunnel(case):
    points = np.array(case["data"]["points"])
    return points[:, 0], 1000.0 * points[None, :, 1]


def tunnel_lines(case):
    z, centres = _tunnel(case)
    expected = case["expected"]
    ends = expected.get("end_point", expected.get("end_point_line_range"))
    yield "least squares", tunnel.overall(tunnel.offsets(centres, z))[0], 1000 * expected["LS_range"]
    yield "ends", tunnel.overall(tunnel.offsets(centres, z, line="end_line"))[0], 1000 * ends


def tunnel_zone(case):
    z, centres = _tunnel(case)
    yield "zone", tunnel.spatial(centres, np.zeros_like(centres), z)[0], 1000 * case["expected"]["MZ"]


def tunnel_zone_square_to_its_line(case):
    z, centres = _tunnel(case)
    slope = case["expected"]["slope"]
    along_the_offset = case["expected"]["MZ_perp"] * np.hypot(1.0, slope)
    yield "zone", tunnel.spatial(centres, np.zeros_like(centres), z)[0] / 1000, along_the_offset


def size_at_20(case):
    alpha = case["expected"]
    read = 100_000.0
    found = temperature.at_20(
        read, 1e-6 * alpha["aluminium_356"], 26.0, 1e-6 * alpha["gauge_block_steel"], 26.0
    )
    yield "too large by", float(read - found), 1000 * case["computed_here"]["example_mm"]


def coefficients(case):
    words = {
        "grey iron": "grey_cast_iron", "Ductile iron": "ductile_iron_60_40_18",
        "aluminium 356": "aluminium_356", "aluminum 6061": "aluminium_6061", "steel 1020": "steel_1020",
        "steel 4140": "steel_4140", "master steel": "gauge_block_steel",
    }  # fmt: skip
    for word, name in words.items():
        yield word, 1e6 * materials.expansion(word), case["expected"][name]


def welch(case):
    found, expected = spread.level(case["data"]["us"], case["data"]["japan"]), case["expected"]
    yield "t", found.t, expected["T_welch"]
    yield "degrees of freedom", found.df, expected["df_welch"]


def _gears(case):
    diameter, batch = np.array(case["data"]["diameter"]), np.array(case["data"]["batch"])
    return [diameter[batch == b] for b in np.unique(batch)]


def equal_spreads_by_median(case):
    found, expected = equal_spreads.brown_forsythe(*_gears(case)), case["expected"]
    yield "W", found.statistic, expected["W"]
    yield "df between", found.df[0], expected["df1"]
    yield "df within", found.df[1], expected["df2"]


def equal_spreads_by_logarithms(case):
    found = equal_spreads.bartlett(*_gears(case))
    yield "T", found.statistic, case["expected"]["T"]
    yield "df", found.df[0], case["expected"]["df"]


def means_and_ranges(case):
    chart, expected = shewhart.xbar_r(case["data"]["phase1_25x5"]), case["expected"]
    yield "grand mean", chart.location.center, expected["grand_mean_6dp"]
    yield "mean range", chart.spread.center, expected["Rbar"]
    yield "upper", chart.location.upper, expected["xbar_UCL_R"]
    yield "lower", chart.location.lower, expected["xbar_LCL_R"]


def means_and_standard_deviations(case):
    chart, expected = shewhart.xbar_s(case["data"]["phase1_25x5"]), case["expected"]
    yield "mean s", chart.spread.center, expected["sbar"]
    yield "upper", chart.location.upper, expected["xbar_UCL_s"]
    yield "lower", chart.location.lower, expected["xbar_LCL_s"]
    yield "upper of s", chart.spread.upper, expected["s_UCL"]


def gears_on_charts(case):
    groups, expected = np.array(case["data"]["diameter"]).reshape(10, 10), case["expected"]
    by_r, by_s = shewhart.xbar_r(groups), shewhart.xbar_s(groups)
    yield "sigma by ranges", by_r.sigma, expected["sigma_R"]
    yield "sigma by standard deviations", by_s.sigma, expected["sigma_S"]
    yield "upper by ranges", by_r.location.upper, expected["xbar_UCL_R"]
    yield "lower by ranges", by_r.location.lower, expected["xbar_LCL_R"]
    yield "upper by standard deviations", by_s.location.upper, expected["xbar_UCL_S"]
    yield "lower by standard deviations", by_s.location.lower, expected["xbar_LCL_S"]


def single_values(case):
    chart, expected = shewhart.individuals(case["data"]["x"]), case["expected"]
    yield "mean", chart.location.center, expected["mean"]
    yield "mean moving range", chart.spread.center, expected["MRbar"]
    yield "upper", chart.location.upper, expected["UCL"]
    yield "lower", chart.location.lower, expected["LCL"]
    yield "range", float(np.nanmean(shewhart.moving_ranges(case["data"]["x"]))), expected["MRbar"]


def slope(case):
    found, certified = trend.slope(case["data"]["x"], case["data"]["y"]), case["expected"]
    yield "B0", found.intercept, float(certified["B0"])
    yield "B1", found.slope, float(certified["B1"])
    yield "error of B1", found.standard_error, float(certified["seB1"])
    yield "residual sd", found.sigma, float(certified["resid_sd"])


def median_of_slopes(case):
    found = trend.theil_sen(case["data"]["x"], case["data"]["y"])
    yield "slope", found, case["expected"]["slope_computed"]


def one_change(case):
    found, expected = changepoint.best_split(case["data"]["y"]), case["expected"]
    yield "values before", found.index, expected["k"]
    yield "mean before", found.mean_before, expected["mean_before"]
    yield "mean after", found.mean_after, expected["mean_after"]
