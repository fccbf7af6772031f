"""Back-test and what lies ahead, on a small shop whose course is written into its files."""

import numpy as np
import pandas as pd
import pytest

from qc.drift import BoresToLimit, Judgement
from qc.records import Asked
from qc.reports import drift, forecasts
from qc.reports.backtest import Backtest
from tests.qc.reports.test_drift import day, drawn, of_blocks
from tests.qc.shopfloor import event, window


@pytest.fixture(scope="module")
def shop(shop_of):
    """hone-1 is quiet; hone-2 steps by 8 um at block 26 and is repaired, and right again, at block 34."""
    moved = drawn(2)
    moved[26:34] += 8
    return shop_of(
        [window(-10, 10)], of_blocks(drawn(1)), of_blocks(moved, "hone-2"),
        [event("machine_repaired", day(34)[:10], "hone-2")],
    )  # fmt: skip


def test_a_repair_was_seen_before_it_and_nothing_rang_for_nothing(shop):
    run = Backtest(shop.store, Asked())
    assert [done for done, _ in run.steps()] == list(range(1, run.total + 1))
    told = run.document()
    now = told["settings"][0]
    (repair,) = now["events"]
    assert told["complete"]
    assert repair["seen"]
    assert repair["series"].startswith("hone-2/")
    # Found within 6 blocks of block 26, the repair before block 34: 2 to 7 blocks ahead, 4 days each.
    assert 2 <= repair["blocks_before"] <= 7
    assert repair["days_before"] == pytest.approx(4 * repair["blocks_before"], abs=0.5)
    assert now["before_an_event"] >= 1
    assert now["for_nothing"] == 0
    # Exact Poisson end for no event: -ln(0.025) = 3.689 over the months.
    assert now["for_nothing_a_month"]["interval"]["upper"] == pytest.approx(3.6889 / now["months"], rel=1e-4)


def test_a_stopped_back_test_says_what_is_done(shop):
    run = Backtest(shop.store, Asked())
    next(run.steps())
    told = run.document()
    assert not told["complete"]
    assert (told["replayed"], len(told["settings"])) == (1, 1)


def judgement(**more) -> Judgement:
    left = BoresToLimit(80.0, 40.0, None, 0.9, "bores")
    told = {
        "key": ("hone-1",), "condition": "steady", "why": "", "since": None, "slope": 0.1,
        "slope_interval": None, "slope_per": "bore", "usual_slope": None, "usual_stretch": None,
        "toward": "upper", "limit": 10.0, "bores_to_limit": left, "change_early": False, "lag1": 0.0,
        "level": 0.00073, "ahead": (0.0, 40.0, 80.0, 160.0), "chance": (0.0, 0.05, 0.5, 0.9),
    }  # fmt: skip
    return Judgement(**(told | more))


def blocks(every_days=2.0, n=12):
    at = (np.arange(n) * every_days * 86_400e6).astype("int64") + 1_780_000_000_000_000
    return pd.DataFrame({"at": at, "made": 8.0, "bores": 8.0, "wear": 8 * (np.arange(n) + 0.5)})


def test_bores_become_blocks_and_a_date_at_the_machines_pace():
    found = forecasts.forecast(judgement(), blocks())
    assert found["blocks_to_limit"]["median"] == 10.0  # 80 bores at 8 a block
    assert found["blocks_to_limit"]["upper"] is None
    last = pd.Timestamp(int(blocks()["at"].iloc[-1]), unit="us", tz="UTC")
    # 10 blocks at one in two days are 20 days.
    assert pd.Timestamp(found["date_at_limit"]["median"]) == last + pd.Timedelta(days=20)
    assert found["date_at_limit"]["upper"] is None


def test_the_chance_is_told_for_what_is_asked_else_to_the_usual_change_else_for_a_block():
    assert forecasts.forecast(judgement(), blocks(), 60)["chance_within"]["chance"] == pytest.approx(0.275)
    usual = forecasts.forecast(judgement(usual_stretch=136.0), blocks())["chance_within"]
    assert (usual["n"], usual["chance"]) == (40, 0.05)  # 136 less the 96 made
    assert forecasts.forecast(judgement(), blocks())["chance_within"]["n"] == 8


def test_what_is_beyond_says_so_and_nothing_ahead_says_nothing():
    beyond = judgement(bores_to_limit=BoresToLimit(0.0, 0.0, 0.0, 0.9, "bores"))
    assert forecasts.forecast(beyond, blocks())["forecast"] == "Already beyond the upper limit."
    assert (
        forecasts.forecast(judgement(bores_to_limit=None, ahead=(), chance=()), blocks())["forecast"] is None
    )


def test_rows_of_drift_carry_what_lies_ahead_and_level_changes(shop):
    rows = drift.answer(shop.store, Asked(), within=30)["series"]
    for row in rows:
        assert row["chance_within"]["n"] == 30
        for name in ("blocks_to_limit", "date_at_limit", "bores_to_fraction_outside", "evidence"):
            assert row[name] is not None or row["not_given"][name]
    moved = next(r for r in rows if r["machine"] == "hone-2" and r["characteristic"] == "bore_diameter")
    assert [round(c["amount"]) for c in moved["level_changes"]] in ([8], [7], [9])
