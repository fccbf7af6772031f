"""Numbers of the figures, against arithmetic done by hand."""

import pytest
from scipy import stats

from qc.reports import picture


def _block(i: int, mean: float, *, stretch: int = 0, n: int = 4, at: str | None = None) -> dict:
    return {
        "build": f"B{i}",
        "at": at or f"2026-05-{i + 1:02d}T12:00:00Z",
        "n": n,
        "mean": mean,
        "spread": 1.0,
        "lowest": mean - 2,
        "highest": mean + 2,
        "stretch": stretch,
        "gauges": ["g"],
        "signals": [],
        "wear": float(n * (i + 1)),
        "readings": [],
    }


def _chart(blocks: list[dict], **more: object) -> dict:
    window = {"lower": -10.0, "target": 0.0, "upper": 10.0, "bounded": "both"}
    return {
        "id": "a/b/c/d/e",
        "unit": "um",
        "coded": True,
        "center": 0.0,
        "lower_limit": -3.0,
        "upper_limit": 3.0,
        "blocks": blocks,
        "window": window,
        "stretches": [],
        "events": [],
        **more,
    }


def _drift(**more: object) -> dict:
    left = {"median": 40.0, "lower": 20.0, "upper": 80.0, "confidence": 0.9, "of": "bores"}
    return {
        "slope": 0.1,
        "slope_per": "bore",
        "toward": "upper",
        "limit": 10.0,
        "bores_to_limit": left,
        **more,
    }


def test_by_bores_a_dot_stands_in_the_middle_of_its_bores_and_a_new_stretch_after_a_gap():
    found = picture.ribbon(_chart([_block(0, 1), _block(1, 1), _block(2, 1, stretch=1)]))
    # 4 bores a block: middles at 2, 6, and 8 + gap + 2; the gap is 2 at least
    assert [d.x for d in found.dots] == [2, 6, 12]
    assert [(p.left, p.right) for p in found.pieces] == [(0, 8), (10, 14)]


def test_by_date_a_dot_stands_at_its_time():
    found = picture.ribbon(_chart([_block(0, 1), _block(1, 1)]), by="date")
    assert found.dots[1].x - found.dots[0].x == 86_400e6


def test_the_fan_starts_at_the_expected_level_and_meets_the_limit_at_its_bores():
    found = picture.ribbon(_chart([_block(0, 5), _block(1, 7)]), _drift())
    fan = found.fan
    # the line: limit 10 is met after 40 bores at 0.1 a bore, so it stands at 10 - 4 = 6 now
    assert fan.level == pytest.approx(6.0)
    assert (fan.x, fan.lower, fan.median, fan.upper) == (6, 26, 46, 86)
    assert fan.words == "meets the upper limit in about 40 bores, 20 to 80"
    # the picture ends before both edges arrive: 0 to 8, and at most 45 % more
    assert found.right == pytest.approx(8 * 1.45)
    (start, early, late) = picture.shape_of_fan(found)
    assert start == (6, 6.0)
    assert early == (pytest.approx(11.6), pytest.approx(6 + 4 * 5.6 / 20))
    assert late == (pytest.approx(11.6), pytest.approx(6 + 4 * 5.6 / 80))


def test_a_fan_without_a_latest_end_stays_open_and_says_so():
    left = {"median": 2.0, "lower": 1.0, "upper": None, "confidence": 0.9, "of": "bores"}
    found = picture.ribbon(
        _chart([_block(i, i + 0.5) for i in range(9)]), _drift(slope=1.0, bores_to_limit=left)
    )
    assert found.fan.words.endswith("1 to no end in sight")
    start, early, corner, late = picture.shape_of_fan(found)
    assert early == (35, 10.0)
    assert corner == (found.right, 10.0)
    assert late == (found.right, start[1])


def test_a_limit_already_passed_has_no_fan_but_words():
    gone = _drift(
        bores_to_limit={"median": 0.0, "lower": 0.0, "upper": 0.0, "confidence": 0.9, "of": "bores"}
    )
    assert picture.ribbon(_chart([_block(0, 11)]), gone).fan is None
    assert picture.fan_words(gone) == "already beyond the upper limit"


def test_by_date_the_fan_runs_at_the_pace_of_the_last_blocks():
    # one block of 4 bores a day: 40 bores are 10 days
    found = picture.ribbon(_chart([_block(i, 1) for i in range(5)]), _drift(), by="date")
    assert found.fan.median - found.fan.x == pytest.approx(10 * 86_400e6)


def test_events_stand_between_the_blocks_around_them_and_only_renewals_leave_a_gap():
    events = [
        {
            "at": "2026-05-02T18:00:00Z",
            "event": "stones_changed",
            "words": "stones changed",
            "effect": "renews",
        },
        {
            "at": "2026-05-01T18:00:00Z",
            "event": "coolant_changed",
            "words": "coolant changed",
            "effect": "joint",
        },
        {"at": "2026-04-01T18:00:00Z", "event": "bar_set_up", "words": "bar set up", "effect": "renews"},
    ]
    found = picture.ribbon(_chart([_block(0, 1), _block(1, 1), _block(2, 1, stretch=1)], events=events))
    assert [(n.words, n.renews, n.x) for n in found.notches] == [
        ("coolant changed", False, 4),
        ("stones changed", True, 9),
    ]


def test_the_soft_edge_is_the_one_sided_95_percent_of_the_gauge():
    found = picture.ribbon(_chart([_block(0, 1)]), uncertainty=2.0)
    # ISO 14253-1 guard band at 95 % one-sided; 1.645 is the normal's 95 % point to the third decimal
    assert found.guard / 2.0 == pytest.approx(stats.norm.ppf(0.95), abs=5e-4)


def test_a_magnitude_with_an_upper_limit_sits_on_the_floor():
    window = {"lower": None, "target": None, "upper": 20.0, "bounded": "above"}
    found = picture.ribbon(_chart([_block(0, 5)], coded=False, window=window, lower_limit=None))
    assert found.bottom == 0
    assert {line.kind for line in found.lines} == {"upper", "block_upper", "centre"}


def test_a_pile_has_one_dot_a_block_and_no_two_in_one_place():
    blocks = [_block(i, mean) for i, mean in enumerate([1.0, 1.0, 1.01, 5.0, -4.0])]
    found = picture.ribbon(_chart(blocks))
    places = picture.pile(found)
    assert sorted(index for _, index in places) == [0, 1, 2, 3, 4]
    assert [under for under, _ in places] == [0, 1, 2, 0, 0]


def test_a_block_of_no_build_is_called_by_its_time():
    block = _block(0, 1) | {"build": None}
    assert picture.ribbon(_chart([block])).dots[0].key == "2026-05-01T12:00:00Z"


def test_clearances_share_one_scale_that_holds_zero():
    found = picture.clearances(
        [
            {
                "lower": 20.0,
                "planned": 30.0,
                "upper": 40.0,
                "achieved": 45.0,
                "standard_uncertainty": 2.0,
                "verdict": None,
            },
            {
                "lower": None,
                "planned": None,
                "upper": None,
                "achieved": None,
                "standard_uncertainty": None,
                "verdict": None,
            },
        ]
    )
    assert found.left == 0
    assert found.rows[0].guard == pytest.approx(3.29)
    assert found.right == pytest.approx(48.29 * 1.04)
    assert found.rows[1].achieved is None


def test_bores_left_share_one_scale():
    rows = [
        _drift(id="one"),
        _drift(id="two", bores_to_limit=None),
        _drift(id="three", bores_to_limit={"median": 100.0, "lower": 1.0, "upper": None, "of": "blocks"}),
    ]
    found = picture.lefts(rows)
    assert set(found) == {"one", "three"}
    assert found["one"].scale == found["three"].scale == pytest.approx(130)
    assert found["three"].upper is None


def test_a_spread_in_two_parts_is_shared_by_variance():
    # 3^2 : 4^2 of 25
    assert picture.spread_parts({"spread_in_block": 3.0, "spread_between_blocks": 4.0}) == pytest.approx(
        (0.36, 0.64)
    )
    assert picture.spread_parts({"spread_in_block": None, "spread_between_blocks": 4.0}) is None


def test_an_index_brings_its_interval_and_a_scale_from_nought():
    row = {"ppk": 1.34, "ppk_interval": {"lower": 1.1, "upper": 2.5, "confidence": 0.95}}
    found = picture.index(row, "ppk")
    assert (found.value, found.lower, found.upper, found.left) == (1.34, 1.1, 2.5, 0)
    assert found.right == pytest.approx(2.7)
    assert picture.index(row, "cpk") is None


def test_a_fan_whose_line_misses_the_last_blocks_starts_at_their_mean():
    found = picture.ribbon(_chart([_block(i, mean) for i, mean in enumerate([9, 1, 2, 3, 4, 5])]), _drift())
    assert found.fan.level == pytest.approx(3.0)


def test_a_bore_to_come_is_as_wide_as_the_measured_part_of_those_made():
    # 4 bores read of 8 made a block: 40 to come are as wide as 20 read
    blocks = [_block(i, mean) | {"wear": 8.0 * (i + 1)} for i, mean in enumerate([5, 7])]
    found = picture.ribbon(_chart(blocks), _drift())
    assert found.fan.median - found.fan.x == pytest.approx(20)
