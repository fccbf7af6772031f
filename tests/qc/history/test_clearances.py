"""Clearances from the parts: which readings count, which parts are missing. Sizes in mm, results by hand."""

import numpy as np
import pytest

from tests.qc.shopfloor import reading

AT = "2026-05-04T08:00"


def part(characteristic, feature, value, **more):
    told = {
        "machine": "bench", "operation": "check", "reading": "size", "unit": "mm", "target": "",
        "state": "caps_torqued", "gauge": "m-1",
    }  # fmt: skip
    return reading(characteristic=characteristic, feature=feature, value=value, **told | more)


def housing(*sizes, feature="main-1", clock=0):
    told = {"machine": "line-hone-1", "operation": "line_hone"}
    return [part("tunnel_diameter", feature, s, station_mm=10 * i, clock_deg=clock, **told)
            for i, s in enumerate(sizes)]  # fmt: skip


def walls(upper="2.450", lower="2.448", feature="main-1"):
    told = {"operation": "receive", "state": "received"}
    return [part("shell_wall", f"{feature}-upper", upper, **told),
            part("shell_wall", f"{feature}-lower", lower, **told)]  # fmt: skip


def journal(*sizes, feature="main-1", **more):
    told = {"machine": "grinder-1", "operation": "journal_grind", "state": "free"} | more
    return [part("journal_diameter", feature, s, station_mm=5 * i, **told) for i, s in enumerate(sizes)]


def shell_bore(*sizes, feature="main-1", clock=0):
    return [part("shell_bore", feature, s, station_mm=10 * i, clock_deg=clock, operation="fit")
            for i, s in enumerate(sizes)]  # fmt: skip


def clearance_window(**more):
    return {"characteristic": "main_clearance", "reading": "size", "unit": "mm", "source": "builder"} | more


def rows(floor):
    found = floor.history().clearances
    return found.set_index("method") if len(found) else found


def clearances(floor):
    """Route -> clearance [um]; without a plan, from the parts."""
    from qc.records import Asked
    from qc.reports import clearance

    found = clearance.answer(floor.store, Asked())["builds"]
    return {(p["feature"], p["method"]): p["achieved"] for b in found for p in b["positions"]}


def test_both_routes_of_a_main_bearing(floor):
    floor.take([*housing("65.000", "65.004"), *walls(), *journal("60.050", "60.054"),
                *shell_bore("60.110", "60.114")])  # fmt: skip
    found = clearances(floor)
    # housing mean 65.002 - 2.450 - 2.448 - largest journal 60.054 = 0.050 mm
    assert found["main-1", "by_parts"] == pytest.approx(50)
    # installed mean 60.112 - 60.054 = 0.058 mm: the housing's crush is in it
    assert found["main-1", "installed"] == pytest.approx(58)


def test_only_the_bore_square_to_the_joint_counts(floor):
    floor.take([*shell_bore("60.110"), *shell_bore("60.300", clock=90), *journal("60.050")])
    assert clearances(floor)["main-1", "installed"] == pytest.approx(60)


def test_the_largest_journal_diameter_counts_wherever_it_is(floor):
    floor.take([*shell_bore("60.110"), *journal("60.050", "60.061", "60.040")])
    assert clearances(floor)["main-1", "installed"] == pytest.approx(49)


def test_a_missing_part_is_named_and_leaves_no_clearance(floor):
    floor.take([*housing("65.0"), *walls()[:1], *journal("60.05")])
    found = rows(floor)
    assert found.loc["by_parts", "missing"] == ("shell_wall main-1-lower",)
    assert np.isnan(found.loc["by_parts", "value"])
    assert found.loc["by_parts", "reason"] == "not measured: shell_wall main-1-lower"
    values = floor.history().values
    assert "main_clearance" not in set(values["characteristic"])


def test_of_two_incomplete_routes_the_one_that_lacks_least_is_named(floor):
    floor.take(
        [*journal("60.05"), *journal("60.05", feature="main-2"), *shell_bore("60.11", feature="main-2")]
    )
    found = floor.history().clearances.set_index("feature")
    assert found.loc["main-1", "missing"] == ("shell_bore main-1",)


def test_a_block_without_its_crank_lacks_no_clearance(floor):
    floor.take(housing("65.0"))
    assert len(floor.history().clearances) == 0


def test_where_there_is_a_plan_the_missing_crank_is_told(floor):
    floor.take([clearance_window(target="0.050", lower="0.040", upper="0.060", engine="v8")])
    floor.take(housing("65.0"))
    assert floor.history().clearances["missing"].tolist() == [
        ("shell_wall main-1-upper", "shell_wall main-1-lower", "journal_diameter main-1")
    ]


def test_a_clearance_is_coded_by_the_builds_own_plan_and_judged(floor):
    floor.take([clearance_window(target="0.055", lower="0.045", upper="0.065", build="B1")])
    floor.take([*shell_bore("60.110"), *journal("60.071")])
    found = rows(floor).loc["installed"]
    np.testing.assert_allclose([found["value"], found["lower_limit"], found["upper_limit"]], [-16, -10, 10])
    assert found["conforms"] is False
    assert (found["machine"], found["operation"], found["state"]) == ("bench", "fit", "caps_torqued")


def test_its_time_is_that_of_the_latest_part(floor):
    floor.take([*shell_bore("60.110"), *journal("60.05", measured_at="2026-05-06T09:00")])
    from qc.history.zone import iso

    assert iso(rows(floor).loc["installed", "made_at"]) == "2026-05-06T09:00:00Z"


def test_each_part_counts_by_its_last_pass(floor):
    floor.take([*shell_bore("60.110"), *journal("60.070", **{"pass": 1}),
                *journal("60.050", measured_at="2026-05-04T09:00", **{"pass": 2})])  # fmt: skip
    assert clearances(floor)["main-1", "installed"] == pytest.approx(60)


def bore(value, feature="cyl-1", **more):
    told = {"machine": "hone-1", "operation": "plateau_hone", "state": "plate_on", "clock_deg": 90}
    return part("bore_diameter", feature, value, **told | more)


def piston(value, feature="cyl-1"):
    return part("piston_diameter", feature, value, operation="receive", state="received")


def bored(value, feature="cyl-1"):
    return bore(value, feature, machine="bar-1", operation="finish_bore", state="plate_off",
                measured_at="2026-05-03T08:00")  # fmt: skip


def test_piston_clearance_is_bore_across_the_thrust_axis_minus_skirt(floor):
    floor.take([bore("96.050"), bore("96.070", clock_deg=0), piston("95.985")])
    assert clearances(floor)["cyl-1", "by_parts"] == pytest.approx(65)
    found = rows(floor).loc["by_parts"]
    assert found["state"] == "plate_on"


def test_a_bore_whose_honed_size_is_missing_is_not_taken_as_it_was_bored(floor):
    floor.take([bored("95.950"), bored("95.950", "cyl-2"), bore("96.050", "cyl-2"), piston("95.985"),
                piston("95.985", "cyl-2")])  # fmt: skip
    found = floor.history().clearances.set_index("feature")
    assert found.loc["cyl-1", "missing"] == ("bore_diameter cyl-1",)
    assert found.loc["cyl-1", "state"] == "plate_on"  # as the build's bores were finished
    assert found.loc["cyl-2", "missing"] == ()


def test_builds_are_never_mixed(floor):
    floor.take(
        [bore("96.050"), piston("95.985"), *[r | {"build": "B2"} for r in (bore("96.1"), piston("96"))]]
    )
    found = floor.history().clearances.set_index("build")
    assert set(found.index) == {"B1", "B2"}
    assert clearances(floor)  # both complete
    assert all(m == () for m in found["missing"])


def test_rod_bearings_have_their_own_parts(floor):
    rod = part(
        "rod_bore_diameter", "rod-2", "53.004", clock_deg=0, machine="rod-hone-1", operation="rod_hone"
    )
    pin = part(
        "pin_diameter", "rod-2", "50.000", machine="grinder-1", operation="journal_grind", state="free"
    )
    floor.take([rod, pin, *walls("1.480", "1.478", "rod-2")])
    # 53.004 - 1.480 - 1.478 - 50.000 = 0.046 mm
    assert clearances(floor) == {("rod-2", "by_parts"): pytest.approx(46)}


def test_a_part_whose_last_sizes_all_wait_is_missing_and_not_taken_as_it_was_before(floor):
    def bored(operation, state, *sizes):
        told = {"clock_deg": 90, "operation": operation, "state": state}
        return [part("bore_diameter", "cyl-1", s, station_mm=10 * i, **told) for i, s in enumerate(sizes)]

    piston = part("piston_diameter", "cyl-1", "95.940", operation="receive", state="received")
    floor.take([piston, *bored("finish_bore", "plate_off", "95.935", "95.937")])
    assert clearances(floor) == {("cyl-1", "by_parts"): pytest.approx(-4)}
    # honed, and every size of it mistyped so that it waits
    floor.take(bored("plateau_hone", "plate_on", "ninety-six", "ninety-six and two"), held=2)
    assert set(clearances(floor).values()) == {None}
