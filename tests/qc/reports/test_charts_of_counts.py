"""First-pass yield and bores left outside, month by month, counted by hand and held against exact chances."""

import pytest
from scipy import stats

from qc.records import Asked
from qc.reports import charts_by_kind
from tests.qc.shopfloor import block, reading, window

# month -> builds; of each build the sizes of its bores; limits -5 to 5
MADE = {
    "2026-01": [[0, 1], [2, -1], [3, 0]],
    "2026-02": [[0, 9], [7, 1], [8, -7]],
    "2026-03": [[1, 1], [0, 0], [-2, 4]],
}


@pytest.fixture(scope="module")
def shop(shop_of):
    rows = [
        r for month, builds in MADE.items() for i, sizes in enumerate(builds)
        for r in block(f"{month}-{i}", f"{month}-{5 + 3 * i:02d}T08:00", sizes)
    ]  # fmt: skip
    again = [reading("2026-02-1", "cyl-1", 0, measured_at="2026-02-08T10:00", **{"pass": 2})]
    return shop_of([window(-5, 5)], rows, again)


def row(shop, kind):
    return charts_by_kind.answer(shop.store, Asked(), kind=kind)["series"][0]


def test_builds_right_first_time_are_counted_by_month(shop):
    found = row(shop, "first_pass")
    assert [(b["month"], b["count"], b["n"]) for b in found["blocks"]] == [
        ("2026-01", 3, 3), ("2026-02", 0, 3), ("2026-03", 3, 3),
    ]  # fmt: skip
    assert found["center"] == pytest.approx(6 / 9)


def test_bores_left_outside_are_counted_after_their_last_pass(shop):
    found = row(shop, "scrap")
    # 9, 8 and -7 stayed; the 7 was honed again and passed
    assert [(b["count"], b["n"]) for b in found["blocks"]] == [(0, 6), (3, 6), (0, 6)]
    exact = stats.binomtest(3, 18).proportion_ci(0.95, "exact")
    assert f"{100 * exact.low:.1f} to {100 * exact.high:.1f} %" in found["sentence"]


def test_a_month_is_held_against_the_others_by_exact_chances(shop):
    found = row(shop, "first_pass")
    level = found["methods"]["level"]
    # none of 3 where the others have 6 of 6: hypergeometric chance 1/84
    chance = stats.hypergeom(9, 6, 3).pmf(0)
    assert chance == pytest.approx(1 / 84)
    signalled = bool(found["blocks"][1]["signals"])
    assert signalled is bool(chance <= level / 2)


def test_each_month_carries_its_own_interval(shop):
    at = row(shop, "scrap")["blocks"][1]["interval"]
    exact = stats.binomtest(3, 6).proportion_ci(0.95, "exact")
    assert (at["lower"], at["upper"]) == pytest.approx((exact.low, exact.high))


def test_one_month_has_no_limits_and_says_why(shop_of):
    found = row(shop_of([window(-5, 5)], block("B1", "2026-01-05T08:00", [0, 1])), "first_pass")
    assert found["center"] == 1.0
    assert "2 periods" in found["not_given"]["upper_limit"]


def test_without_limits_there_is_nothing_to_count(shop_of):
    shop = shop_of(block("B1", "2026-01-05T08:00", [0, 1]))
    assert charts_by_kind.answer(shop.store, Asked(), kind="scrap")["series"] == []
