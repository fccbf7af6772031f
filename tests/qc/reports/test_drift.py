"""Order of urgency, forecasts and causes, on series whose course is written into the files."""

from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest

from qc.records import Asked
from qc.reports import drift
from qc.reports.shifts import Shift
from qc.stats.intervals import Interval
from tests.qc.shopfloor import block, event, window


def day(i: int) -> str:
    return (pd.Timestamp("2025-01-05T08:00") + pd.Timedelta(days=4 * i)).isoformat()


def of_blocks(values, machine="hone-1", **more) -> list[dict]:
    return [r for i, v in enumerate(values)
            for r in block(f"{machine[-1]}B{i}", day(i), np.round(v, 2), machine=machine,
            **more)]  # fmt: skip


def drawn(seed: int, blocks: int = 40, bores: int = 4) -> np.ndarray:
    draw = np.random.default_rng(seed)
    return draw.normal(0, 0.8, (blocks, 1)) + draw.normal(0, 1, (blocks, bores))


@pytest.fixture(scope="module")
def shop(shop_of):
    """hone-1 steady; hone-2 steps by 8 um; hone-3 wears, three times as fast in its last stretch."""
    stepped, worn = drawn(2), drawn(3) / 2 - 4
    stepped[32:] += 8
    for i in range(40):
        slope = 0.04 if i < 24 else 0.12
        worn[i] += slope * (4 * (i % 8 if i < 24 else i - 24) + 2)
    few = drawn(4, blocks=3)
    return shop_of(
        [window(-10, 10)], of_blocks(drawn(1)), of_blocks(stepped, "hone-2"), of_blocks(worn, "hone-3"),
        of_blocks(few, "hone-4"),
        [event("stones_changed", day(i)[:10], "hone-3") for i in (8, 16, 24)],
    )  # fmt: skip


@pytest.fixture(scope="module")
def answer(shop):
    return drift.answer(shop.store, Asked(characteristic=("bore_diameter",)))


def row(answer, machine):
    return next(r for r in answer["series"] if r["machine"] == machine)


def test_the_most_urgent_comes_first_and_the_thin_last(answer):
    order = [(r["machine"], r["condition"]) for r in answer["series"]]
    assert order[-1] == ("hone-4", "thin")
    assert order[-2] == ("hone-1", "steady")
    assert {m for m, _ in order[:2]} == {"hone-2", "hone-3"}


def test_a_step_is_found_where_it_was_put(answer):
    found = row(answer, "hone-2")
    assert found["condition"] == "stepped"
    step = next(s for s in found["signals"] if s["signal"] == "step")
    assert step["build"] in {f"2B{i}" for i in (31, 32, 33)}
    assert step["cause"]["kind"] in {"machine", "unknown"}


def test_wear_has_its_slope_and_its_crossing_in_bores(answer):
    found = row(answer, "hone-3")
    ends = found["slope_interval"]
    assert found["slope_per"] == "bore"
    assert found["condition"] == "drifting"
    assert ends["lower"] < 0.12 < ends["upper"]
    assert (found["toward"], found["limit"]) == ("upper", 10)
    left = found["bores_to_limit"]
    # the line -4 + 0.12 n meets 10 um at 117 bores, 53 after the 64 made
    assert left["of"] == "bores"
    assert left["lower"] < 53 < (left["upper"] or np.inf)
    assert left["confidence"] == 0.9


def test_the_stretch_began_with_the_stones(answer):
    told = row(answer, "hone-3")["stretch"]
    assert (told["event"], told["blocks"], told["bores"]) == ("stones_changed", 16, 64)


def test_a_steady_series_says_so_in_words(answer):
    assert ": steady, " in row(answer, "hone-1")["sentence"]


def test_a_thin_series_is_no_alarm_and_says_how_many_blocks_it_has(answer):
    found = row(answer, "hone-4")
    assert found["condition"] == "thin"
    assert found["blocks"] == 3


def test_the_level_is_spread_over_all_charted_series(answer):
    told = answer["alarm_level"]
    assert told["level"] == pytest.approx(0.00073)  # no number of false alarms is set
    # 3 series of 40 blocks, one block in 4 days over 156 days: all of it inside the last 12 months
    months = 156 / 365.25 * 12
    assert told["blocks_a_month"] == pytest.approx(120 / months, rel=0.02)


def test_accepted_false_alarms_set_the_level(shop_of):
    shop = shop_of([window(-10, 10)], of_blocks(drawn(1)))
    with shop.store.write(by="test", command="set") as write:
        write.set("false_alarms_a_month", "0.1")
    told = drift.answer(shop.store, Asked())["alarm_level"]
    assert told["level"] == pytest.approx(0.1 / told["blocks_a_month"], rel=1e-6)


def test_a_filter_does_not_change_a_condition(shop, answer):
    late = drift.answer(shop.store, Asked(machine=("hone-2",), since=pd.Timestamp(day(36)).value // 1000))
    assert [r["condition"] for r in late["series"]] == [row(answer, "hone-2")["condition"]]
    assert late["series"][0]["why"] == row(answer, "hone-2")["why"]


def test_every_series_that_wears_and_has_a_limit_has_a_forecast(answer):
    for machine in ("hone-1", "hone-2", "hone-3"):
        found = row(answer, machine)
        assert found["bores_to_limit"] is not None or found["not_given"]["bores_to_limit"]
    assert row(answer, "hone-1")["bores_to_limit"] is not None


@pytest.mark.parametrize(("to_at", "told"), [
    (None, "What bg-1 reads is 3.6 um smaller since 8 January 2026: gauge or machine: read the master."),
    (2_000_000_000_000_000, "What bg-1 reads is 3.6 um smaller from 8 January 2026 to 18 May 2033: gauge"),
])  # fmt: skip
def test_a_shift_that_may_be_the_machines_is_not_told_as_the_gauges(to_at, told):
    at = 1_767_830_400_000_000  # 2026-01-08
    shift = Shift(
        "bg-1", False, at, to_at, -3.6, Interval(-5, -2, 0.95), "gauge or machine: read the master", "scan",
        ("hone-1",), False, frozenset(),
    )  # fmt: skip
    document = drift._gauge(shift, ZoneInfo("UTC"))
    assert document["sentence"].startswith(told)
    assert document["cause"] == {"kind": "unknown", "id": "bg-1"}
