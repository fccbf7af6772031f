"""Capability rows against pandas and scipy on the very numbers that went into the files."""

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from qc.records import Asked
from qc.reports import capability
from tests.qc.shopfloor import block, event, ra, reading, window

DRAWS = 4000


def day(i: int) -> str:
    return (pd.Timestamp("2026-01-05T08:00") + pd.Timedelta(days=i)).isoformat()


def sizes(blocks: int, bores: int, seed: int, spread: float = 1.5) -> np.ndarray:
    """Deviations rounded to 0.1 um: blocks differ by 1 um, bores by `spread`."""
    draw = np.random.default_rng(seed)
    return np.round(draw.normal(0.5, 1.0, (blocks, 1)) + draw.normal(0, spread, (blocks, bores)), 1)


def of_blocks(values: np.ndarray, start: int = 0, **more) -> list[dict]:
    return [r for i, v in enumerate(values) for r in block(f"B{start + i}", day(start + i), v, **more)]


def answer(shop, **asked):
    return capability.answer(shop.store, Asked(**asked), draws=DRAWS)["series"]


def rows(shop, characteristic="bore_diameter", **asked):
    return answer(shop, characteristic=(characteristic,), **asked)


STEADY = sizes(24, 4, 1)


@pytest.fixture(scope="module")
def steady(shop_of):
    gauge = {"gauge": "bg-1", "standard_uncertainty": "0.5", "common_part": "0.3", "unit": "um"}
    return shop_of([window(-10, 10)], [gauge], of_blocks(STEADY))


def test_spreads_of_a_row_are_those_of_the_definitions(steady):
    row = rows(steady)[0]
    means, within = STEADY.mean(axis=1), STEADY.std(axis=1, ddof=1)
    in_block = np.sqrt((within**2).mean())  # equal numbers of bores: pooled is the mean variance
    assert row["mean"] == pytest.approx(STEADY.mean())
    assert row["spread_all"] == pytest.approx(STEADY.std(ddof=1))
    assert row["spread_in_block"] == pytest.approx(in_block)
    assert row["spread_of_block_means"] == pytest.approx(means.std(ddof=1))
    between = np.sqrt(max(0, means.var(ddof=1) - in_block**2 / 4))
    assert row["spread_between_blocks"] == pytest.approx(between)
    moving = np.abs(np.diff(means)).mean() / 1.1284
    short = np.sqrt(max(0, moving**2 - in_block**2 / 4) + in_block**2)
    assert row["spread_short"] == pytest.approx(short, rel=1e-4)  # 1.1284 is printed to four decimals


def test_performance_is_what_an_auditor_gets_with_a_calculator(steady):
    row = rows(steady)[0]
    mean, sd = STEADY.mean(), STEADY.std(ddof=1)
    assert row["pp"] == pytest.approx(20 / (6 * sd))
    assert row["ppk"] == pytest.approx(min(10 - mean, mean + 10) / (3 * sd))


def test_counts_are_the_rows_own(steady):
    row = rows(steady)[0]
    assert (row["blocks"], row["bores"], row["features"], row["readings"]) == (24, 96, 96, 96)
    assert row["gauges"] == ["bg-1"]
    assert row["first_at"] == "2026-01-05T08:00:00Z"
    assert row["last_at"] == "2026-01-28T08:00:00Z"


def test_a_steady_series_of_20_blocks_or_more_has_cp(steady):
    row = rows(steady)[0]
    assert row["condition"] == "steady"
    assert row["cp"] == pytest.approx(20 / (6 * row["spread_short"]))
    mean = STEADY.mean()
    assert row["cpk"] == pytest.approx(min(10 - mean, mean + 10) / (3 * row["spread_short"]))


def test_the_gauges_variance_is_taken_out_beside(steady):
    free = rows(steady)[0]["gauge_free"]
    # one reading a bore: u = 0.5 um
    assert free["standard_uncertainty"] == pytest.approx(0.5)
    assert free["spread_all"] == pytest.approx(np.sqrt(STEADY.var(ddof=1) - 0.25))


def test_the_intervals_hold_their_index(steady):
    row = rows(steady)[0]
    for name in ("pp", "ppk", "cp", "cpk"):
        assert row[f"{name}_interval"]["lower"] < row[name] < row[f"{name}_interval"]["upper"]
        assert row[f"{name}_interval"]["confidence"] == 0.95


def test_under_20_blocks_there_is_no_cp_and_the_answer_leads_with_the_tolerance_interval(steady):
    row = rows(steady, until=pd.Timestamp("2026-01-20", tz="UTC").value // 1000)[0]
    assert row["blocks"] == 15
    assert row["cp"] is None
    assert row["cpk"] is None
    assert "15 blocks" in row["not_given"]["cp"]
    assert row["ppk"] is not None
    assert "95 % of bores lie in" in row["sentence"]
    assert "too few blocks for an index" in row["sentence"]
    held = row["tolerance_interval"]
    assert (held["content"], held["confidence"]) == (0.95, 0.95)
    # blocks are the sample: wider than the interval that takes every bore as new
    part = STEADY[:15].ravel()
    naive = stats.norm.ppf(0.975) * part.std(ddof=1)
    assert held["upper"] - held["lower"] > 2 * naive


def test_a_series_that_is_not_steady_has_no_cp_with_its_reason(shop_of):
    values = np.concatenate((sizes(30, 4, 3), sizes(10, 4, 4) + 30))
    row = rows(shop_of([window(-50, 50)], of_blocks(values)))[0]
    assert row["condition"] == "stepped"
    assert row["cp"] is None
    assert "stepped" in row["not_given"]["cp"]
    assert row["ppk"] is not None


def test_no_moving_range_is_taken_across_an_event(shop_of):
    values = sizes(20, 2, 5)
    values[10:] += 8
    shop = shop_of([window(-30, 30)], [event("stones_changed", "2026-01-15T07:00")], of_blocks(values))
    row = rows(shop)[0]
    means = values.mean(axis=1)
    inside = np.abs(np.concatenate((np.diff(means[:10]), np.diff(means[10:])))).mean() / 1.1284
    in_block = np.sqrt((values.std(axis=1, ddof=1) ** 2).mean())
    short = np.sqrt(max(0, inside**2 - in_block**2 / 2) + in_block**2)
    assert row["spread_short"] == pytest.approx(short, rel=1e-4)


UNLIKE = sizes(9, 3, 6)


@pytest.fixture(scope="module")
def unlike(shop_of):
    """Three windows: +-10 of v8, +-10.04 of i6 (equal to 0.1 um), +-20 of v12."""
    windows = [
        window(-10, 10, engine="v8"),
        window("-10.04", "10.04", engine="i6"),
        window(-20, 20, engine="v12"),
    ]
    engines, targets = ("v8", "i6", "v12"), ("96", "80", "110")
    files = [of_blocks(UNLIKE[i : i + 1], i, engine=engines[i % 3], target=targets[i % 3]) for i in range(9)]
    return shop_of(windows, *files)


def test_windows_equal_to_a_tenth_of_a_um_share_a_row_and_unlike_ones_never(unlike):
    found = rows(unlike)
    assert [(r["window"]["upper"], r["blocks"]) for r in found if not r["window"]["scaled"]] == [
        (20, 3),
        (10, 6),
    ]
    of_ten = UNLIKE[[0, 1, 3, 4, 6, 7]]
    ten = next(r for r in found if r["window"]["upper"] == 10)
    assert ten["spread_all"] == pytest.approx(of_ten.std(ddof=1))
    assert ten["window"] == {
        "lower": -10.0, "target": 0.0, "upper": 10.0, "bounded": "both", "scaled": False, "sources": ["book"],
    }  # fmt: skip


def test_over_windows_only_shares_of_the_tolerance_are_pooled(unlike):
    shared = rows(unlike)[-1]
    assert shared["window"]["scaled"]
    assert (shared["window"]["lower"], shared["window"]["upper"], shared["unit"]) == (-1, 1, "share")
    half = np.array([10, 10.04, 20] * 3)[:, None]
    shares = UNLIKE / half
    assert shared["bores"] == 27
    # windows that share a row share its limits: 10.04 counts as 10
    assert shared["spread_all"] == pytest.approx(shares.std(ddof=1), rel=5e-3)
    assert shared["pp"] == pytest.approx(2 / (6 * shares.std(ddof=1)), rel=5e-3)


def test_an_upper_limit_only_is_scaled_by_the_limit(shop_of):
    limit = {"characteristic": "ra", "reading": "size", "unit": "um", "source": "book"}
    values = {"v8": ["0.30", "0.34"], "i6": ["0.60", "0.66"]}
    files = [ra(f"{e}{i}", day(i), v, engine=e) for i in range(3) for e, v in values.items()]
    shop = shop_of([limit | {"upper": "0.5", "engine": "v8"}, limit | {"upper": "1", "engine": "i6"}],
                   [r for f in files for r in f])  # fmt: skip
    shared = rows(shop, "ra")[-1]
    assert (shared["window"]["lower"], shared["window"]["upper"]) == (None, 1)
    assert shared["mean"] == pytest.approx(np.mean([0.60, 0.68, 0.60, 0.66]))
    assert shared["pp"] is None
    assert shared["not_given"]["pp"]


def test_texture_limits_that_differ_by_little_are_two_windows(shop_of):
    limit = {"characteristic": "ra", "reading": "size", "unit": "um"}
    files = [ra(f"{e}{i}", day(i), [f"0.3{i}", "0.34"], engine=e) for i in range(3) for e in ("v8", "i6")]
    shop = shop_of([limit | {"upper": "0.46", "engine": "v8"}, limit | {"upper": "0.5", "engine": "i6"}],
                   [r for f in files for r in f])  # fmt: skip
    assert sorted(r["window"]["upper"] for r in rows(shop, "ra")) == [0.46, 0.5, 1]


def test_a_lower_limit_only_is_never_scaled(shop_of):
    windows = [window(-10, "", engine="v8"), window(-20, "", engine="i6")]
    files = [r for i in range(6) for r in of_blocks(UNLIKE[i : i + 1], i, engine=("v8", "i6")[i % 2])]
    found = rows(shop_of(windows, files))
    assert [(r["window"]["lower"], r["window"]["scaled"]) for r in found] == [(-20, False), (-10, False)]
    assert {r["window"]["bounded"] for r in found} == {"below"}
    mean, sd = UNLIKE[:6][::2].mean(), UNLIKE[:6][::2].std(ddof=1)
    assert found[1]["ppk"] == pytest.approx((mean + 10) / (3 * sd))


def test_a_physical_zero_is_never_a_limit(shop_of):
    limit = {"characteristic": "ra", "reading": "size", "unit": "um", "lower": "0", "upper": "0.5"}
    shop = shop_of([limit], [r for i in range(3) for r in ra(f"B{i}", day(i), [f"0.3{i}", "0.34"])])
    row = rows(shop, "ra")[0]
    assert (row["window"]["lower"], row["window"]["bounded"]) == (None, "above")


def test_the_first_pass_alone_is_judged_and_the_reworked_are_counted(shop_of):
    rows_ = of_blocks(UNLIKE, **{"pass": 1})
    again = [
        reading("B0", f"cyl-{i}", 0, measured_at="2026-02-20T08:00", **{"pass": 2}) for i in (1, 2)
    ] + [reading("B1", "cyl-1", 0, measured_at="2026-02-20T09:00", **{"pass": 2})]  # fmt: skip
    row = rows(shop_of([window(-10, 10)], rows_, again))[0]
    assert row["reworked"] == 3
    assert row["spread_all"] == pytest.approx(UNLIKE.std(ddof=1))
    assert row["readings"] == 27
    assert row["left_out"]["superseded"] == 3


def places(build, values, at, **more):
    return [reading(build, f"cyl-{i + 1}", v, station_mm=20 + 40 * j, measured_at=at, order=i + 1, **more)
            for i, bore in enumerate(values) for j, v in enumerate(bore)]  # fmt: skip


def test_bores_are_judged_by_their_local_sizes_and_counted_outside_by_their_values(shop_of):
    gauge = {"gauge": "bg-1", "standard_uncertainty": "1", "unit": "um"}
    values = [
        [(0, 0), (11, 5), (9, -9)],  # inside; a local size beyond, the mean inside; 9 is within 1.645 of 10
        [(12, 12), (0, 1), (-9.5, 9.5)],  # clearly beyond; inside; within the guard band
    ]
    shop = shop_of([window(-10, 10)], [gauge],
                   [r for i, v in enumerate(values) for r in places(f"B{i}", v, day(i))])  # fmt: skip
    row = rows(shop)[0]
    assert row["bores_not_conforming"] == 2
    counted = row["outside"]["counted"]
    assert (counted["n"], counted["of"]) == (1, 6)
    # g = 1.645: 11 lies within 10 +- g, 9 and +-9.5 too; 12 and the two inner bores are decided
    assert row["bores_undecided"] == 3


def test_exclusions_are_shown_with_and_without(shop_of):
    values = sizes(6, 3, 7)
    values[2, 1] = 25
    shop = shop_of([window(-30, 30)], of_blocks(values))
    shop.exclude(build=["B2"], feature=["cyl-2"])
    row = rows(shop)[0]
    left = np.delete(values.ravel(), 7)
    assert row["spread_all"] == pytest.approx(left.std(ddof=1))
    assert row["with_excluded"]["spread_all"] == pytest.approx(values.std(ddof=1))
    assert row["with_excluded"]["bores"] == 18
    assert row["left_out"]["excluded"] == 1


def test_an_index_is_never_told_without_the_one_that_counts_what_was_kept_out(shop_of):
    values = sizes(24, 3, 7)
    values[2, 1] = 25
    shop = shop_of([window(-30, 30)], of_blocks(values))
    shop.exclude(build=["B2"], feature=["cyl-2"])
    row = rows(shop)[0]
    mean, sd = values.mean(), values.std(ddof=1)
    other = min(30 - mean, mean + 30) / (3 * sd)
    assert row["with_excluded"]["ppk"] == pytest.approx(other)
    assert f"; {other:.2f} with the 1 reading that a person kept out" in row["sentence"]


def test_a_series_all_of_which_is_excluded_is_not_forgotten(shop_of):
    shop = shop_of([window(-30, 30)], of_blocks(sizes(3, 2, 8)))
    shop.exclude(machine=["hone-1"])
    row = rows(shop)[0]
    assert row["window"] is None
    assert row["not_given"]["window"] == "no complete bore of the first pass has a value yet"
    assert row["left_out"]["excluded"] == 6


def test_without_limits_there_is_one_row_that_says_so(shop_of):
    found = rows(shop_of(of_blocks(sizes(3, 2, 8))))
    assert len(found) == 1
    assert found[0]["window"] is None
    assert "qc spec add" in found[0]["not_given"]["window"]
    assert found[0]["left_out"]["without_limits"] == 6


def test_one_block_has_no_index_no_interval_and_both_reasons(shop_of):
    row = rows(shop_of([window(-10, 10)], of_blocks(sizes(1, 4, 9))))[0]
    for name in ("ppk", "ppk_interval", "tolerance_interval"):
        assert row[name] is None
        assert row["not_given"][name]


def test_materials_that_share_a_row_are_said(shop_of):
    files = [r for i, m in enumerate(["iron", "aluminium"])
             for r in of_blocks(UNLIKE[i : i + 1], i, material=m)]  # fmt: skip
    row = rows(shop_of([window(-10, 10)], files))[0]
    assert row["methods"]["pooled"] == "materials together: aluminium, iron"


def test_the_number_of_draws_and_the_seed_are_printed(steady):
    methods = rows(steady)[0]["methods"]
    assert methods["draws"] == DRAWS
    assert "seed" in methods
