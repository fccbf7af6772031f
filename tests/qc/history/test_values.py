"""One value a bore and state; numbers worked out by hand beside each test."""

import numpy as np
import pytest

from tests.qc.shopfloor import ra, reading, window

PLACES = [(20, 0), (20, 90), (60, 0), (60, 90), (110, 0), (110, 90)]


def places(values, feature="cyl-1", at=PLACES, **more):
    return [
        reading(feature=feature, value=v, station_mm=s, clock_deg=c, **more)
        for v, (s, c) in zip(values, at, strict=True)
    ]


def plan(*at, **more):
    told = {"engine": "v8", "characteristic": "bore_diameter", "feature": ""} | more
    return [{**told, "station_mm": s, "clock_deg": c} for s, c in at or PLACES]


def value(floor, characteristic="bore_diameter", **where):
    found = floor.history().values
    found = found[found["characteristic"] == characteristic]
    for name, wanted in where.items():
        found = found[found[name] == wanted]
    assert len(found) == 1
    return found.iloc[0]


def test_depths_and_directions_make_one_value_their_mean(floor):
    floor.take([window(-5, 8)])
    floor.take(places([1, 2, 3, 4, 5, 9]))
    found = value(floor)
    assert (found["value"], found["least"], found["greatest"]) == (4.0, 1.0, 9.0)
    assert found["complete"]
    assert found["conforms"] is False  # 9 > 8, though the mean is inside
    assert len(found["rows"]) == 6


def test_a_missing_planned_position_leaves_no_value_and_says_why(floor):
    floor.take(plan())
    floor.take([window(-5, 8)])
    floor.take(places([1, 2, 3, 4, 5], at=PLACES[:5]))
    found = value(floor)
    assert np.isnan(found["value"])
    assert not found["complete"]
    assert found["reason"] == "1 of 6 planned positions not read"


def test_a_bore_read_in_part_conforms_to_nothing_but_may_fail(floor):
    floor.take(plan())
    floor.take([window(-5, 8)])
    floor.take([*places([1, 2, 3, 4, 5], at=PLACES[:5]),
                *places([1, 2, 3, 4, 9], "cyl-2", at=PLACES[:5])])  # fmt: skip
    assert value(floor, feature="cyl-1")["conforms"] is None
    assert value(floor, feature="cyl-2")["conforms"] is False


def test_without_a_plan_the_reason_says_what_completeness_rests_on(floor):
    floor.take(
        [r for i in range(1, 4) for r in places([0] * 6, f"cyl-{i}")] + places([0] * 4, "cyl-4", PLACES[:4])
    )
    found = value(floor, feature="cyl-4")
    assert found["reason"] == "2 of 6 positions usually read on this engine not read"


def test_a_position_beyond_the_plan_is_judged_but_not_averaged(floor):
    floor.take(plan(*PLACES[:2]))
    floor.take([window(-5, 8)])
    floor.take(places([2, 4, 30], at=PLACES[:3]))
    found = value(floor)
    assert (found["value"], found["greatest"]) == (3.0, 30.0)
    assert found["conforms"] is False


def test_trials_at_one_place_are_averaged_and_are_no_new_value(floor):
    rows = places([1, 2, 3, 4, 5, 9]) + places([3, 4, 5, 6, 7, 11], trial=2)
    floor.take([r | {"trial": r.get("trial", 1)} for r in rows])
    found = value(floor)
    assert found["value"] == 5.0  # means 2, 3, 4, 5, 6, 10
    assert (found["least"], found["greatest"]) == (2.0, 10.0)
    assert len(found["rows"]) == 12


def test_trials_that_a_logger_stamps_one_by_one_are_averaged_too(floor):
    for trial, v in ((1, 1), (2, 3), (3, 8)):
        floor.take(places([v], at=PLACES[:1], trial=trial, measured_at=f"2026-05-04T08:0{trial}"))
    assert value(floor)["value"] == 4.0
    assert not floor.history().passed_over.any()
    # Honed again and read twice: trials that begin anew replace what was read before.
    for trial, v in ((1, 5), (2, 6)):
        floor.take(places([v], at=PLACES[:1], trial=trial, measured_at=f"2026-05-04T09:0{trial}"))
    assert value(floor)["value"] == 5.5
    assert floor.history().passed_over.sum() == 3


def test_of_several_times_at_one_place_the_last_counts_where_the_catalogue_says_so(floor):
    floor.take(places([1], at=PLACES[:1]))
    floor.take(places([7], at=PLACES[:1], measured_at="2026-05-05T08:00"))
    found = floor.history()
    assert value(floor)["value"] == 7.0
    assert found.passed_over.sum() == 1
    assert found.readings[found.passed_over]["shown"].tolist() == [1.0]


def test_of_several_times_at_one_place_texture_is_averaged(floor):
    floor.take(ra("B1", "2026-05-04T08:00", ["0.3"]))
    floor.take(ra("B1", "2026-05-05T08:00", ["0.5"]))
    assert value(floor, "ra")["value"] == pytest.approx(0.4)
    assert not floor.history().passed_over.any()


def test_traces_at_several_depths_make_one_texture_value(floor):
    rows = [
        reading(characteristic="ra", reading="", target="", value=v, station_mm=s)
        for v, s in (("0.30", 20), ("0.36", 60), ("0.42", 110))
    ]
    floor.take(rows)
    assert value(floor, "ra")["value"] == pytest.approx(0.36)


def test_each_pass_is_a_value_of_its_own(floor):
    floor.take(
        [reading(value=12, **{"pass": 1}), reading(value=3, measured_at="2026-05-04T10:00", **{"pass": 2})]
    )
    assert value(floor, pass_no=1)["value"] == 12.0
    assert value(floor, pass_no=2)["value"] == 3.0
    assert not floor.history().passed_over.any()


def test_states_are_never_pooled(floor):
    floor.take([reading(value=12), reading(value=3, state="plate_off")])
    assert value(floor, state="plate_on")["value"] == 12.0
    assert value(floor, state="plate_off")["value"] == 3.0


def test_a_reading_without_target_has_no_value_no_verdict_and_its_reason(floor):
    floor.take([window(-10, 10)])
    floor.take([reading(reading="size", unit="mm", value="96.012", target="")])
    found = value(floor)
    assert np.isnan(found["value"])
    assert found["reason"] == "no target is known"
    assert found["conforms"] is None


def test_without_limits_there_is_no_verdict(floor):
    floor.take([reading(value=12)])
    assert value(floor)["conforms"] is None


def test_places_with_limits_of_their_own_are_judged_by_those(floor):
    floor.take([window(-10, 10), window(-2, 2, station_mm=110)])
    floor.take(places([5, 5, 5, 5, 3, 1]))
    found = value(floor)
    assert found["conforms"] is False  # 3 um at 110 mm, where 2 um are allowed
    assert np.isnan(found["upper_limit"])  # no one window for the bore


def test_gauges_sizing_gauge_and_order_are_kept_with_the_value(floor):
    floor.take([*places([0] * 5, at=PLACES[:5], sized_with="bg-9", order=3),
                *places([0], at=PLACES[5:], gauge="bg-2", order=3)])  # fmt: skip
    found = value(floor)
    assert found["gauges"] == ("bg-1", "bg-2")
    assert found["sized_with"] == ("bg-9",)
    assert found["order"] == 3


def test_the_value_is_exact_where_all_readings_are_equal(floor):
    floor.take(places(["0.1"] * 6))
    assert value(floor)["value"] == 0.1


def test_an_empty_store_has_values_of_no_rows(floor):
    found = floor.history()
    assert len(found.values) == len(found.blocks) == len(found.clearances) == 0
