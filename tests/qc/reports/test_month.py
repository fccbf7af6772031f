"""The month against scipy and statsmodels on the numbers that went into the files."""

import numpy as np
import pandas as pd
import pytest
from scipy import special, stats
from statsmodels.stats.multitest import multipletests

from qc.errors import QuestionError
from qc.records import Asked
from qc.reports import month
from tests.qc.shopfloor import block, event, ra, window


def days(start: str, n: int) -> list[str]:
    return [(pd.Timestamp(start) + pd.Timedelta(days=3 * i, hours=8)).isoformat() for i in range(n)]


def drawn(seed: int, blocks: int, bores: int, level=0.0, spread=1.5) -> np.ndarray:
    draw = np.random.default_rng(seed)
    return np.round(level + draw.normal(0, 1, (blocks, 1)) + draw.normal(0, spread, (blocks, bores)), 1)


LAST, NOW, YEAR = drawn(1, 8, 6), drawn(2, 7, 6, 2.0, 2.9), drawn(3, 3, 6)
RA_LAST, RA_NOW = (np.round(0.3 * np.exp(0.1 * drawn(s, 8, 4, spread=w)), 4) for s, w in ((4, 1), (5, 1)))


def blocks(values, start, prefix, make=block, **more):
    return [r for d, (i, v) in zip(days(start, len(values)), enumerate(values), strict=True)
            for r in make(f"{prefix}{i}", d, v, **more)]  # fmt: skip


@pytest.fixture(scope="module")
def shop(shop_of):
    gauges = [{"gauge": "bg-1", "resolution": "0.1", "unit": "um"}]
    events = [event("stones_changed", "2026-05-10T06:00"), event("stones_changed", "2026-04-10T06:00"),
              event("stones_changed", "2026-05-11T06:00", "hone-2")]  # fmt: skip
    return shop_of(
        [window(-6, 6)], gauges, events, blocks(LAST, "2026-04-02", "L"), blocks(NOW, "2026-05-02", "N"),
        blocks(YEAR, "2025-05-02", "Y"), blocks(RA_LAST, "2026-04-02", "L", ra),
        blocks(RA_NOW[:7], "2026-05-02", "N", ra),
    )  # fmt: skip


def row(shop, **asked):
    rows = month.answer(shop.store, "2026-05", Asked(**asked))["rows"]
    assert len(rows) == 1
    return rows[0]


def figure(shop, characteristic="bore_diameter"):
    return next(f for f in row(shop)["figures"] if f["characteristic"] == characteristic)


def test_a_row_counts_what_worked_in_the_month(shop):
    found = row(shop)
    assert (found["machine"], found["operation"], found["state"]) == ("hone-1", "plateau_hone", "plate_on")
    assert (found["builds"], found["bores"], found["held"]) == (7, 42, 0)
    assert [e["at"] for e in found["events"]] == ["2026-05-10T06:00:00Z"]


def test_figures_of_the_month_itself(shop):
    found = figure(shop)
    assert (found["blocks"], found["unit"]) == (7, "um")
    assert found["mean"] == pytest.approx(NOW.mean())
    in_block = np.sqrt(NOW.var(axis=1, ddof=1).mean())
    assert found["spread_in_block"] == pytest.approx(in_block)
    between = np.sqrt(max(0, NOW.mean(axis=1).var(ddof=1) - in_block**2 / 6))
    assert found["spread_between_blocks"] == pytest.approx(between)


def test_the_level_is_compared_by_welch_on_block_means(shop):
    told = figure(shop)["against"]["last_month"]
    a, b = NOW.mean(axis=1), LAST.mean(axis=1)
    expected = stats.ttest_ind(a, b, equal_var=False)
    ends = expected.confidence_interval(0.95)
    assert told["blocks"] == 8
    assert told["mean_difference"] == pytest.approx(a.mean() - b.mean())
    assert told["interval"]["lower"] == pytest.approx(ends.low)
    assert told["interval"]["upper"] == pytest.approx(ends.high)


def log_spreads(values):
    v = values.shape[1] - 1
    return np.log(values.std(axis=1, ddof=1)) - (special.digamma(v / 2) - np.log(v / 2)) / 2


def test_the_spread_in_a_block_is_compared_by_welch_on_its_logarithms(shop):
    told = figure(shop)["against"]["last_month"]
    a, b = log_spreads(NOW), log_spreads(LAST)  # equal bores: equal weights
    expected = stats.ttest_ind(a, b, equal_var=False)
    ends = expected.confidence_interval(0.95)
    assert told["spread_ratio"] == pytest.approx(np.exp(a.mean() - b.mean()))
    assert told["interval_ratio"]["lower"] == pytest.approx(np.exp(ends.low))
    assert told["interval_ratio"]["upper"] == pytest.approx(np.exp(ends.high))
    assert told["p_spread"] == pytest.approx(expected.pvalue)


def test_block_to_block_is_compared_by_brown_and_forsythe(shop):
    told = figure(shop)["against"]["last_month"]["block_to_block"]
    expected = stats.levene(NOW.mean(axis=1), LAST.mean(axis=1), center="median")
    assert told["p"] == pytest.approx(expected.pvalue)


def test_texture_is_compared_as_logarithms(shop):
    told = figure(shop, "ra")["against"]["last_month"]
    a, b = np.log(RA_NOW[:7]).mean(axis=1), np.log(RA_LAST).mean(axis=1)
    ends = stats.ttest_ind(a, b, equal_var=False).confidence_interval(0.95)
    level = np.exp(b.mean())  # of last month: the ratio in um at that level
    assert told["mean_difference"] == pytest.approx(level * (np.exp(a.mean() - b.mean()) - 1))
    assert told["interval"]["lower"] == pytest.approx(level * (np.exp(ends.low) - 1))
    assert told["interval"]["upper"] == pytest.approx(level * (np.exp(ends.high) - 1))
    spreads = [np.log(x).std(axis=1, ddof=1) for x in (RA_NOW[:7], RA_LAST)]
    ratio = np.exp(np.log(spreads[0]).mean() - np.log(spreads[1]).mean())
    assert told["spread_ratio"] == pytest.approx(ratio)


def test_words_hold_after_holms_correction_over_the_whole_report(shop):
    against = [a for f in row(shop)["figures"] for a in f["against"].values()]
    known = [a for a in against if a["p_spread"] is not None]
    corrected = multipletests([a["p_spread"] for a in known], method="holm")[1]
    assert len(known) > 1
    for told, p in zip(known, corrected, strict=True):
        if told["words"] in ("less even", "more even"):
            assert p < 0.05
            assert (told["words"] == "less even") == (told["spread_ratio"] > 1)
        elif told["words"] is not None:
            assert told["words"] == "the same" or told["words"].startswith("cannot tell from")
            assert p >= 0.05
    assert figure(shop)["against"]["last_month"]["words"] == "less even"  # three times the spread


def test_the_sentence_names_what_became_less_even(shop):
    assert "bore size (" in row(shop)["sentence"]
    assert "less even than last month" in row(shop)["sentence"]


def test_under_5_blocks_in_one_month_there_are_no_words(shop):
    told = figure(shop)["against"]["last_year"]
    assert told["blocks"] == 3
    assert told["words"] is None
    assert "fewer than 5 blocks" in told["not_given"]["words"]


def test_first_pass_yield_is_of_builds_with_its_exact_interval(shop):
    told = row(shop)["first_pass"]
    good = int((np.abs(NOW) <= 6).all(axis=1).sum())
    ends = stats.binomtest(good, 7).proportion_ci(0.95, method="exact")
    assert 0 < good < 7
    assert (told["n"], told["of"]) == (good, 7)
    assert told["fraction"] == pytest.approx(good / 7)
    assert told["interval"] == {
        "lower": pytest.approx(ends.low), "upper": pytest.approx(ends.high), "confidence": 0.95,
    }  # fmt: skip


def test_rework_does_not_mend_the_first_pass(floor):
    floor.take([window(-6, 6)])
    floor.take(block("B1", "2026-05-02T08:00", [9, 0], **{"pass": 1}))
    floor.take(block("B1", "2026-05-02T10:00", [0, 0], **{"pass": 2}))
    told = month.answer(floor.store, "2026-05", Asked())["rows"][0]["first_pass"]
    assert (told["n"], told["of"]) == (0, 1)


def test_a_build_read_in_part_with_nothing_outside_is_not_yet_judged(floor):
    plan = [{"engine": "v8", "characteristic": "bore_diameter", "station_mm": s} for s in (20, 110)]
    floor.take(plan)
    floor.take([window(-6, 6)])
    for build, values in (("B1", (0, 0)), ("B2", (0, None)), ("B3", (9, None))):
        floor.take([r for s, v in zip((20, 110), values, strict=True) if v is not None
                    for r in block(build, "2026-05-02T08:00", [v], station_mm=s)])  # fmt: skip
    told = month.answer(floor.store, "2026-05", Asked())["rows"][0]["first_pass"]
    assert (told["n"], told["of"]) == (1, 2)  # B1 good, B3 not, B2 open


def test_without_limits_there_is_no_first_pass_yield(floor):
    floor.take(block("B1", "2026-05-02T08:00", [0, 1]))
    assert month.answer(floor.store, "2026-05", Asked())["rows"][0]["first_pass"] is None


def test_a_block_is_of_the_month_of_its_last_bore(floor):
    rows = block("B1", "2026-04-30T20:00", [0, 1, 2])
    rows[2]["measured_at"] = "2026-05-01T06:00"
    floor.take(rows)
    assert month.answer(floor.store, "2026-04", Asked())["rows"] == []
    assert month.answer(floor.store, "2026-05", Asked())["rows"][0]["bores"] == 3


def test_january_is_held_against_december_and_the_january_before():
    assert month.others("2026-01") == {"last_month": "2025-12", "last_year": "2025-01"}


@pytest.mark.parametrize("text", ["2026-13", "2026", "May", "2026-5"])
def test_what_is_no_month_is_refused(shop, text):
    with pytest.raises(QuestionError, match="write it like 2026-05"):
        month.answer(shop.store, text, Asked())


def test_a_month_without_work_has_no_rows(shop):
    assert month.answer(shop.store, "2024-01", Asked())["rows"] == []
