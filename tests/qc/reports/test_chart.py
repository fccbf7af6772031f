"""The chart: prediction limits by hand, limits set for good, what lies behind each block."""

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from qc.records import Asked
from qc.reports import chart
from tests.qc.shopfloor import block, event, window

LEVEL = 0.00073  # figures 4: where no number of false alarms is set


def day(i: int) -> str:
    return (pd.Timestamp("2026-01-05T08:00") + pd.Timedelta(days=i)).isoformat()


def of_blocks(values) -> list[dict]:
    return [r for i, v in enumerate(values) for r in block(f"B{i}", day(i), v)]


def drawn(blocks: int, bores: int, seed: int) -> np.ndarray:
    draw = np.random.default_rng(seed)
    return np.round(draw.normal(0, 1, (blocks, 1)) + draw.normal(0, 1.5, (blocks, bores)), 1)


def row(shop, **asked):
    return chart.answer(shop.store, Asked(characteristic=("bore_diameter",), **asked))["series"][0]


VALUES = drawn(20, 4, 3)


@pytest.fixture(scope="module")
def shop(shop_of):
    events = [event("stones_changed", "2026-01-15T06:00"), event("coolant_changed", "2026-01-20T06:00"),
              event("stones_changed", "2026-01-15T06:00", "hone-2")]  # fmt: skip
    return shop_of([window(-10, 10)], events, of_blocks(VALUES))


def test_limits_are_those_of_the_next_block_mean(shop):
    found = row(shop)
    means = VALUES.mean(axis=1)
    assert found["center"] == pytest.approx(means.mean())
    # the correlation of this one series, taken inside stretches and joints only, is what the row says
    m, lag = found["methods"]["effective_blocks"], found["lag1"]
    assert (found["limits"]["phase"], found["limits"]["by"]) == ("being_learned", None)
    assert found["methods"]["level"] == pytest.approx(LEVEL)
    assert 0 <= lag < 1
    s = found["methods"]["spread_of_a_block_mean"]
    half = stats.t.ppf(1 - LEVEL / 2, m - 1) * s * np.sqrt(1 + 1 / m)
    assert found["upper_limit"] == pytest.approx(means.mean() + half)
    assert found["lower_limit"] == pytest.approx(means.mean() - half)
    if lag == 0:
        assert s == pytest.approx(means.std(ddof=1))
        assert m == 20


def test_without_correlation_the_limits_are_the_plain_prediction_interval(shop_of):
    # block means that go up and down by turns: lag-1 is negative, nought is taken
    values = np.array([[1, -1, 2, -2][i % 4] + np.array([-1.0, 0.0, 1.0]) for i in range(16)])
    found = row(shop_of(of_blocks(values)))
    means = values.mean(axis=1)
    assert found["lag1"] == 0
    half = stats.t.ppf(1 - LEVEL / 2, 15) * means.std(ddof=1) * np.sqrt(1 + 1 / 16)
    assert found["upper_limit"] == pytest.approx(means.mean() + half)


def test_every_block_stands_with_its_numbers_and_readings(shop):
    found = row(shop)["blocks"]
    assert [b["build"] for b in found] == [f"B{i}" for i in range(20)]
    np.testing.assert_allclose([b["mean"] for b in found], VALUES.mean(axis=1))
    np.testing.assert_allclose([b["spread"] for b in found], VALUES.std(axis=1, ddof=1))
    assert [b["lowest"] for b in found] == VALUES.min(axis=1).tolist()
    assert [b["highest"] for b in found] == VALUES.max(axis=1).tolist()
    assert {b["n"] for b in found} == {4}
    assert all(len(b["readings"]) == 4 for b in found)


def test_stretches_and_events_are_those_of_the_machine(shop):
    found = row(shop)
    assert [(s["number"], s["blocks"], s["event"]) for s in found["stretches"]] == [
        (0, 10, None), (1, 10, "stones_changed"),
    ]  # fmt: skip
    assert found["stretches"][1]["began_at"] == "2026-01-15T06:00:00Z"
    assert [(e["event"], e["effect"]) for e in found["events"]] == [
        ("stones_changed", "renews"), ("coolant_changed", "joint"),
    ]  # fmt: skip


def test_the_band_is_the_window_of_the_latest_block(shop):
    told = row(shop)["window"]
    assert (told["lower"], told["target"], told["upper"], told["bounded"]) == (-10, 0, 10, "both")


def test_one_block_apart_is_marked_and_named(shop_of):
    values = drawn(20, 4, 3)
    values[12] += 15
    found = row(shop_of(of_blocks(values)))
    off = [b["build"] for b in found["blocks"] if any(s["signal"] == "one_block_off" for s in b["signals"])]
    assert "B12" in off
    assert "apart" in found["sentence"]


def test_limits_that_a_person_set_stay_and_say_who_set_them(shop_of):
    shop = shop_of(of_blocks(VALUES))
    key = ("hone-1", "plateau_hone", "bore_diameter", "two_point", "plate_on")
    with shop.store.write(by="ann", command="set limits", reason="learned") as write:
        write.set_limits(key, 0.0, -0.5, None, "learned")
    found = row(shop)
    assert (found["center"], found["lower_limit"], found["upper_limit"]) == (0.0, -0.5, None)
    assert found["limits"]["phase"] == "set"
    assert found["limits"]["by"] == "ann"
    assert found["limits"]["set_at"].endswith("Z")
    assert found["not_given"] == {"upper_limit": "none was set on this side"}
    beyond = {
        b["build"] for b in found["blocks"] if any(s["signal"] == "one_block_off" for s in b["signals"])
    }
    assert {f"B{i}" for i in np.flatnonzero(VALUES.mean(axis=1) < -0.5)} <= beyond


def test_two_few_blocks_have_no_limits_and_say_how_many_are_needed(shop_of):
    found = row(shop_of(of_blocks(VALUES[:1])))
    assert found["center"] is None
    for name in ("center", "lower_limit", "upper_limit"):
        assert "block" in found["not_given"][name]
    assert len(found["blocks"]) == 1


def test_a_master_read_each_morning_is_a_chart_of_its_own(floor):
    floor.take([
        {"build": "", "machine": "bg-1", "operation": "check", "characteristic": "master_check",
         "feature": "master", "value": f"50.00{v}", "target": "50", "unit": "mm", "measured_at": day(i)}
        for i, v in enumerate((1, 2, 1, 3, 2, 1, 2, 3, 2, 1))
    ])  # fmt: skip
    found = chart.answer(floor.store, Asked())["series"][0]
    assert [b["build"] for b in found["blocks"]] == [None] * 10
    assert found["unit"] == "um"
    assert found["center"] == pytest.approx(1.8)
