"""Limits being learned and limits set are two things; what stands apart; the alarm budget; chosen kinds."""

import random

import numpy as np
import pytest

from qc.errors import QuestionError
from qc.records import Asked
from qc.reports import chart, charts_by_kind, choosing
from tests.qc.shopfloor import block, ra, window

SIZE = ("hone-1", "plateau_hone", "bore_diameter", "two_point", "plate_on")
BAD = {6: 14.0, 13: 13.0}


def blocks(bad=BAD, seed=5, n=24):
    draw, rows = random.Random(seed), []
    for i in range(n):
        level = draw.gauss(0, 1.0) + bad.get(i, 0.0)
        day = f"2026-{2 + i // 12:02d}-{2 + 2 * (i % 12):02d}"
        rows += block(f"B{i:02d}", f"{day}T09:00", [round(level + draw.gauss(0, 1.0), 1) for _ in range(4)])
    return rows


@pytest.fixture
def shop(shop_of):
    return shop_of(blocks(), [window(-20, 20)])


def row(shop, **options):
    return charts_by_kind.answer(shop.store, Asked(), **options)["series"][0]


def note(shop, name, value, reason="chipped stone found"):
    choosing.note(shop.store, SIZE, name, value, reason=reason, by="ann", command="test")


def test_bad_blocks_that_widen_the_limits_are_named_and_nothing_is_left_out_unasked(shop):
    found = row(shop)
    assert set(found["limits"]["standing_apart"]) == {"B06", "B13"}
    off = [b["build"] for b in found["blocks"] if any(s["signal"] == "one_block_off" for s in b["signals"])]
    assert off == ["B06", "B13"]
    assert found["methods"]["blocks_learned"] == 24
    left = found["limits"]["if_left_out"]
    assert left["upper_limit"] - left["lower_limit"] < 0.6 * (found["upper_limit"] - found["lower_limit"])
    assert "Without a cause nothing is left out" in found["limits"]["words"]


def test_limits_are_learned_without_blocks_whose_cause_is_said_and_these_are_still_judged(shop):
    before = row(shop)["limits"]["if_left_out"]
    note(shop, "learn_without", "B06, B13")
    found = row(shop)
    assert found["methods"]["blocks_learned"] == 22
    means = [b["mean"] for b in found["blocks"] if b["build"] not in ("B06", "B13")]
    assert found["center"] == pytest.approx(np.mean(means))
    assert (found["lower_limit"], found["upper_limit"]) == pytest.approx(
        (before["lower_limit"], before["upper_limit"]), rel=0.02
    )  # the pooled correlation of so short a series is had anew without them
    assert [w["build"] for w in found["limits"]["learned_without"]] == ["B06", "B13"]
    assert "chipped stone found (ann)" in found["limits"]["words"]
    off = [b["build"] for b in found["blocks"] if b["signals"]]
    assert {"B06", "B13"} <= set(off)


def test_bad_blocks_in_a_row_whose_cause_is_known_do_not_pass_for_leaning(shop_of):
    shop = shop_of(blocks(bad={30: 9.0, 31: 9.0, 32: 9.0}, n=56), [window(-20, 20)])
    before = row(shop)
    assert before["lag1"] > 0.3
    note(shop, "learn_without", "B30, B31, B32")
    after = row(shop)
    means = np.array([b["mean"] for b in after["blocks"] if b["build"] not in ("B30", "B31", "B32")])
    own = np.corrcoef(means[1:], means[:-1])[0, 1]
    assert after["lag1"] == pytest.approx(max(0.0, own), abs=0.1)
    assert (after["lower_limit"], after["upper_limit"]) == pytest.approx(
        (before["limits"]["if_left_out"]["lower_limit"], before["limits"]["if_left_out"]["upper_limit"])
    )


def test_limits_set_say_when_by_whom_and_why_and_show_the_learned_ones_beside(shop):
    learned = row(shop)
    with shop.store.write(by="ann", command="limits set") as write:
        write.set_limits(SIZE, 0.5, -4.0, 5.0, "three months were quiet")
    found = row(shop)
    assert (found["center"], found["lower_limit"], found["upper_limit"]) == (0.5, -4.0, 5.0)
    told = found["limits"]
    assert (told["phase"], told["by"], told["reason"]) == ("set", "ann", "three months were quiet")
    assert told["revision"] == shop.store.revision()
    assert told["learned"]["upper_limit"] == learned["upper_limit"]
    assert "by ann because three months were quiet" in told["words"]
    assert told["words"].startswith("Limits set on ")
    assert "how often they alarm is not known" in found["questions"][0]["run_length"]
    assert learned["limits"]["words"].startswith("Limits are being learned from 24 blocks")


def test_spreads_behind_limits_learned_from_the_first_blocks_are_those_blocks_own(shop):
    found = row(shop, learn=6)
    first = np.array([b["mean"] for b in found["blocks"][:6]])
    inside = np.sqrt(np.mean([b["spread"] ** 2 for b in found["blocks"][:6]]))
    assert found["spread_in_block"] == pytest.approx(inside)
    assert found["spread_between_blocks"] == pytest.approx(
        np.sqrt(max(0.0, first.var(ddof=1) - inside**2 / 4))
    )
    assert found["limits"]["standing_apart"] == []


def test_the_alarm_budget_sets_the_level_of_the_charts_and_says_how_many_that_is(shop):
    plain = chart.answer(shop.store, Asked())["alarm_level"]
    assert plain["level"] == 0.00073
    assert plain["accepted_a_month"] is None
    assert plain["false_alarms_a_month"] == pytest.approx(0.00073 * plain["blocks_a_month"])
    with shop.store.write(by="test", command="set") as write:
        write.set("false_alarms_a_month", "0.1")
    told = chart.answer(shop.store, Asked())
    level = 0.1 / plain["blocks_a_month"]
    assert told["alarm_level"]["level"] == pytest.approx(level)
    assert told["alarm_level"]["false_alarms_a_month"] == pytest.approx(0.1)
    assert "accepts 0.1 a month" in told["alarm_level"]["words"]
    assert told["series"][0]["methods"]["level"] == pytest.approx(level)
    for kind in ("spread", "short_run"):
        assert row(shop, kind=kind)["methods"]["level"] == pytest.approx(level)
    assert row(shop, kind="ewma")["methods"]["run_length_known"] == pytest.approx(1 / level)


def test_the_five_questions_have_a_rule_a_source_and_a_run_length_or_say_why_not(shop):
    asked = row(shop)["questions"]
    names = ["one_block_off", "lasting_shift", "slow_walk", "too_quiet", "spread_grown"]
    assert [q["question"] for q in asked] == names
    for q in asked:
        assert q["off"] or ("false alarm" in q["run_length"] and q["source"] and q["rule"] and q["tie"])
    assert asked[0]["blocks"] == ["B06", "B13"]
    assert "wear slope" in asked[2]["off"]
    assert asked[4]["charts"] == ["spread"]


def test_a_series_is_charted_in_the_kind_that_was_chosen_for_it_with_who_and_why(shop_of):
    shop = shop_of(blocks(), ra("B00", "2026-02-02T10:00", [0.4, 0.5]), [window(-20, 20)])
    note(shop, "chart", "ewma", reason="small shifts matter")
    rows = {r["characteristic"]: r for r in charts_by_kind.answer(shop.store, Asked())["series"]}
    assert rows["bore_diameter"]["kind"] == "ewma"
    assert rows["bore_diameter"]["chosen"]["by"] == "ann"
    assert "small shifts matter" in rows["bore_diameter"]["explained"][-1]
    assert (rows["ra"]["kind"], rows["ra"]["chosen"]) == ("block_means", None)
    asked_for = charts_by_kind.answer(shop.store, Asked(), kind="block_means")["series"]
    assert {r["kind"] for r in asked_for} == {"block_means"}


def test_a_running_average_is_designed_from_the_wanted_shift_and_run_length(shop):
    told = row(shop, kind="ewma", shift=0.5, run_length=370.0)["methods"]
    assert (told["shift"], told["run_length_known"]) == (0.5, 370.0)
    usual = row(shop, kind="ewma")["methods"]
    assert told["weight"] < usual["weight"]
    summed = row(shop, kind="cusum", shift=2.0, run_length=370.0)["methods"]
    assert summed["k"] == 1.0
    with pytest.raises(QuestionError, match="shift to be seen"):
        row(shop, kind="ewma", shift=9.0)
    with pytest.raises(QuestionError, match="run length is from 20"):
        row(shop, kind="ewma", run_length=3.0)


@pytest.mark.parametrize("kind", ["ewma", "cusum", "individuals", "mean_range", "spread", "acceptance"])
def test_every_kind_says_what_leaning_blocks_did_to_it(shop, kind):
    found = row(shop, kind=kind)
    assert "lag-1 correlation" in found["autocorrelation"]["words"]
    assert found["autocorrelation"]["words"] in found["explained"]
