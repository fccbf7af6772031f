"""Which positions a complete bore has."""

from collections.abc import Sequence

import numpy as np
import pandas as pd

from qc.history.plan import NONE, MeasuringPlan, grid, planned
from qc.records import PlanRow

MM = 100_000_000
TOP, LOW = (20.0, 0.0), (110.0, 0.0)


def rule(*places, **filled):
    return [PlanRow("bore_diameter", station=round(s), clock=round(c), **filled) for s, c in places]


def asked(plan, **more):
    told = {
        "characteristic": "bore_diameter",
        "engine": "v8",
        "feature": "cyl-1",
        "state": "plate_on",
        "at": 50,
    }
    return MeasuringPlan(plan).positions(**told | more)


def test_without_a_plan_nothing_is_planned():
    assert asked([]) == ()
    assert asked(rule(TOP, engine="i6")) == ()
    assert asked(rule(TOP), characteristic="ra") == ()


def test_positions_come_in_order_of_depth_and_direction():
    assert asked(rule(LOW, (20, 90), TOP)) == (TOP, (20.0, 90.0), LOW)


def test_rows_that_name_feature_state_or_engine_win_over_blank_ones():
    general = rule(TOP)
    assert asked([*general, *rule(LOW, engine="v8")]) == (LOW,)
    assert asked([*rule(LOW, state="plate_on"), *rule(TOP, engine="v8")]) == (LOW,)
    assert asked([*rule(LOW, feature="cyl-1"), *rule(TOP, engine="v8", state="plate_on")]) == (LOW,)


def test_the_latest_date_not_after_the_work_holds():
    rules = [*rule(TOP), *rule(TOP, LOW, since=40), *rule(LOW, since=60)]
    assert asked(rules, at=39) == (TOP,)
    assert asked(rules, at=40) == (TOP, LOW)
    assert asked(rules, at=60) == (LOW,)


def test_before_a_more_specific_plan_begins_the_general_one_holds():
    rules = [*rule(TOP), *rule(LOW, engine="v8", since=40)]
    assert asked(rules, at=39) == (TOP,)
    assert asked(rules, at=41) == (LOW,)


def test_a_blank_place_is_one_place():
    assert asked([PlanRow("bore_diameter")]) == ((NONE, NONE),)


def bores(*engines: str | None, characteristic="bore_diameter"):
    return pd.DataFrame({
        "machine": "hone-1", "operation": "hone", "characteristic": characteristic, "method": "m",
        "state": "plate_on", "engine": pd.Series(engines, dtype=object), "feature": "cyl-1", "made_at": 50,
    })  # fmt: skip


def wanted(table: pd.DataFrame, measured: Sequence[tuple], plan: Sequence[PlanRow] = ()):
    return planned(table, list(measured), MeasuringPlan(plan))


def test_without_a_plan_what_was_read_most_often_on_that_engine_serves():
    found, by_plan = wanted(bores("v8", "v8", "v8", "i6"), [(TOP, LOW), (TOP, LOW), (TOP,), (TOP,)])
    assert found == [(TOP, LOW)] * 3 + [(TOP,)]
    assert by_plan == [False] * 4


def test_of_equally_frequent_sets_the_larger_serves_whichever_came_first():
    for order in (1, -1):
        found, _ = wanted(bores("v8", "v8"), [(TOP, LOW), (TOP,)][::order])
        assert found == [(TOP, LOW)] * 2


def test_a_plan_serves_before_what_was_read():
    found, by_plan = wanted(bores("v8", "i6"), [(TOP,), (TOP,)], rule(TOP, LOW, engine="v8"))
    assert found == [(TOP, LOW), (TOP,)]
    assert by_plan == [True, False]


def test_builds_of_unknown_engine_are_alike():
    found, _ = wanted(bores(None, None, None), [(TOP, LOW), (TOP, LOW), (TOP,)])
    assert found == [(TOP, LOW)] * 3


def test_what_is_read_per_feature_is_complete_as_it_was_read():
    found, by_plan = wanted(bores("v8", characteristic="ra"), [(TOP,)], rule(TOP, LOW))
    assert found == [(TOP,)]
    assert by_plan == [False]


def test_a_full_grid_is_told_from_one_with_holes():
    stations, clocks = grid(((20.0, 0.0), (20.0, 90.0), (60.0, 0.0), (60.0, 90.0)))
    np.testing.assert_array_equal(stations, [20, 60])
    np.testing.assert_array_equal(clocks, [0, 90])
    assert grid(((20.0, 0.0), (20.0, 90.0), (60.0, 0.0))) is None
