"""Planned against achieved; uncertainties and verdicts by hand."""

from math import sqrt

import pytest

from qc.records import Asked
from qc.reports import build as build_sheet
from qc.reports import clearance
from tests.qc.shopfloor import reading


def part(build, characteristic, feature, value, gauge="g-bore", **more):
    told = {
        "machine": "bench", "operation": "fit", "reading": "size", "unit": "mm", "target": "",
        "state": "caps_torqued", "characteristic": characteristic, "gauge": gauge,
    }  # fmt: skip
    return reading(build, feature, value, **told | more)


def fitted(build, clearance_um, feature="main-1", **more):
    """Shell bore and journal that leave this clearance, one reading each."""
    return [
        part(build, "shell_bore", feature, f"{60 + clearance_um / 1000:.4f}", clock_deg=0, **more),
        part(build, "journal_diameter", feature, "60", more.get("gauge", "g-mic"), operation="journal_grind"),
    ]


def plan(lower=45, target=55, upper=65, **more):
    told = {"lower": lower, "target": target, "upper": upper}
    return (
        {"characteristic": "main_clearance", "reading": "size", "unit": "um", "source": "builder"}
        | told
        | more
    )


def gauge(name, u, common):
    return {"gauge": name, "standard_uncertainty": u, "common_part": common, "unit": "um"}


def builds(floor, **asked):
    return clearance.answer(floor.store, Asked(**asked))["builds"]


def only(floor):
    return builds(floor)[0]["positions"][0]


def test_planned_achieved_and_off_plan(floor):
    floor.take([plan()])
    floor.take(fitted("B1", 52))
    told = only(floor)
    assert (told["planned"], told["lower"], told["upper"]) == (55, 45, 65)
    assert told["achieved"] == pytest.approx(52)
    assert told["off_plan"] == pytest.approx(-3)
    assert told["source"] == "builder"
    assert told["unit"] == "um"


def test_the_tightest_against_its_lower_limit_comes_first(floor):
    floor.take([plan()])
    floor.take([*fitted("B1", 60), *fitted("B1", 58, "main-2")])
    floor.take([*fitted("B2", 64), *fitted("B2", 47, "main-2")])
    floor.take(fitted("B3", 44))
    found = builds(floor)
    assert [b["build"] for b in found] == ["B3", "B2", "B1"]
    assert [p["feature"] for p in found[1]["positions"]] == ["main-2", "main-1"]


def test_a_tight_plan_is_nearer_to_its_limit_than_a_small_clearance(floor):
    floor.take([plan(lower=30, target=40, upper=50, build="B1"), plan(build="B2")])
    floor.take(fitted("B1", 40))  # 10 over its limit
    floor.take(fitted("B2", 50))  # 5 over its limit
    assert [b["build"] for b in builds(floor)] == ["B2", "B1"]


def test_a_position_with_a_part_missing_comes_last_and_names_it(floor):
    floor.take([plan()])
    floor.take([*fitted("B1", 50), *fitted("B1", 50, "main-2")[:1]])
    positions = builds(floor)[0]["positions"]
    assert [p["missing"] for p in positions] == [[], ["journal_diameter main-2"]]
    assert positions[1]["achieved"] is None
    assert positions[1]["verdict"] is None
    assert positions[1]["not_given"]["achieved"] == "not measured: journal_diameter main-2"
    assert "a part not measured" in builds(floor)[0]["sentence"]


def test_uncertainty_of_two_gauges_adds_in_squares(floor):
    floor.take([gauge("g-bore", 1.0, 0.6), gauge("g-mic", 0.8, 0.5)])
    floor.take([plan()])
    floor.take(fitted("B1", 52))
    assert only(floor)["standard_uncertainty"] == pytest.approx(sqrt(1.0**2 + 0.8**2))


def test_a_common_part_cancels_where_one_gauge_reads_both(floor):
    floor.take([gauge("g-mic", 1.0, 0.8)])
    floor.take([plan()])
    floor.take(fitted("B1", 52, gauge="g-mic"))
    # bore +0.8, journal -0.8: nought is left of it; random sqrt(1 - 0.64) = 0.6 twice
    assert only(floor)["standard_uncertainty"] == pytest.approx(sqrt(2) * 0.6)


def test_a_common_part_counts_twice_in_two_walls_by_one_micrometer(floor):
    floor.take([gauge("g-bore", 1.0, 0.0), gauge("g-mic", 1.0, 0.8), gauge("g-wall", 0.5, 0.3)])
    told = {"operation": "receive", "state": "received"}
    floor.take([
        part("B1", "tunnel_diameter", "main-1", "64.952", clock_deg=0), *fitted("B1", 50)[1:],
        part("B1", "shell_wall", "main-1-upper", "2.45", "g-wall", **told),
        part("B1", "shell_wall", "main-1-lower", "2.45", "g-wall", **told),
    ])  # fmt: skip
    u = only(floor)["standard_uncertainty"]
    # bore 1; journal 1; walls: common 2 x 0.3, random 0.4 twice
    assert u == pytest.approx(sqrt(1 + 1 + 0.6**2 + 2 * 0.4**2))


def test_the_random_part_is_averaged_over_the_stations_of_a_bore_and_not_over_a_largest(floor):
    floor.take([gauge("g-bore", 1.0, 0.6), gauge("g-mic", 0.5, 0.3)])
    bores = [part("B1", "shell_bore", "main-1", "60.05", clock_deg=0, station_mm=s) for s in (0, 10, 20, 30)]
    journals = [part("B1", "journal_diameter", "main-1", v, "g-mic", station_mm=s)
                for v, s in (("60.001", 0), ("60.002", 10))]  # fmt: skip
    floor.take([*bores, *journals])
    u = only(floor)["standard_uncertainty"]
    assert u == pytest.approx(sqrt(0.6**2 + 0.8**2 / 4 + 0.5**2))


def test_a_gauge_without_uncertainty_leaves_it_open_and_the_verdict_as_read(floor):
    floor.take([plan()])
    floor.take(fitted("B1", 45))
    told = only(floor)
    assert told["standard_uncertainty"] is None
    assert told["not_given"]["standard_uncertainty"]
    assert told["verdict"] == "conforms"  # on the limit
    assert "as read" in told["words"]


@pytest.mark.parametrize(
    ("achieved", "verdict"),
    # u = sqrt(0.8) um, g = 1.645 u = 1.47 um about 45 and 65
    [(43.5, "does_not_conform"), (43.6, "undecided"), (46.4, "undecided"), (46.5, "conforms"),
     (63.5, "conforms"), (63.6, "undecided"), (66.4, "undecided"), (66.5, "does_not_conform")],
)  # fmt: skip
def test_within_the_guard_band_of_a_limit_the_gauge_cannot_tell(floor, achieved, verdict):
    floor.take([gauge("g-bore", 0.8, 0.0), gauge("g-mic", 0.4, 0.0)])
    floor.take([plan()])
    floor.take(fitted("B1", achieved))
    assert only(floor)["verdict"] == verdict


def test_a_gauge_that_can_never_show_conformity_says_so(floor):
    floor.take([gauge("g-bore", 8, 0), gauge("g-mic", 0.1, 0)])
    floor.take([plan()])
    floor.take(fitted("B1", 55))
    assert only(floor)["verdict"] == "undecided"
    assert "can never show" in only(floor)["words"]
    assert "can never show it" in builds(floor)[0]["sentence"]


def test_without_a_plan_the_clearance_is_still_told(floor):
    floor.take(fitted("B1", 52))
    told = only(floor)
    assert told["achieved"] == pytest.approx(52)
    assert (told["planned"], told["off_plan"], told["verdict"]) == (None, None, None)
    assert "size specification" in told["not_given"]["planned"]


def test_limits_without_a_target_judge_all_the_same(floor):
    floor.take([plan(target="")])
    floor.take([*fitted("B1", 44), *fitted("B1", 50, "main-2")])
    found = builds(floor)[0]["positions"]
    assert [(p["lower"], p["upper"], p["verdict"]) for p in found] == [
        (45, 65, "does_not_conform"), (45, 65, "conforms"),
    ]  # fmt: skip
    assert "1 position outside plan" in builds(floor)[0]["sentence"]


def test_parts_are_told_with_their_sizes_gauges_and_readings(floor):
    floor.take(fitted("B1", 52))
    parts = {p["characteristic"]: p for p in only(floor)["parts"]}
    assert parts["shell_bore"]["value"] == pytest.approx(60.052)
    assert parts["journal_diameter"]["value"] == pytest.approx(60)
    assert parts["journal_diameter"]["gauge"] == "g-mic"
    assert [len(p["readings"]) for p in parts.values()] == [1, 1]


def test_an_engine_that_nobody_named_is_null(floor):
    floor.take([r | {"engine": ""} for r in fitted("B1", 52)])
    assert builds(floor)[0]["engine"] is None
    assert build_sheet.answer(floor.store, "B1", Asked())["engine"] is None


def test_the_build_sheet_says_of_a_clearance_what_this_answer_says(floor):
    floor.take([gauge("g-bore", 0.8, 0.0), gauge("g-mic", 0.4, 0.0)])
    floor.take([plan()])
    floor.take([*fitted("B1", 46), *fitted("B1", 50, "main-2")[:1]])
    sheet = build_sheet.answer(floor.store, "B1", Asked())
    told = {q["feature"]: q for q in sheet["quantities"] if q["characteristic"] == "main_clearance"}
    assert told["main-1"]["verdict"] == "undecided"
    assert told["main-1"]["value"] == pytest.approx(46)
    assert told["main-2"]["value"] is None
    assert told["main-2"]["not_given"]["value"] == "not measured: journal_diameter main-2"
    assert not sheet["complete"]
    assert sheet["missing"] == ["journal_diameter main-2"]


def test_the_usual_cautions_are_shown(floor):
    floor.take(fitted("B1", 52))
    cautions = clearance.answer(floor.store, Asked())["cautions"]
    assert any("destroys an engine" in c for c in cautions)
    assert any("responsible machinist" in c for c in cautions)


@pytest.mark.parametrize(("degrees", "warned"), [("20.5", False), ("27", True), ("12", True)])
def test_parts_read_warm_or_cold_are_told_of(floor, degrees, warned):
    floor.take([*fitted("B1", 52, part_c=degrees), *fitted("B2", 52)])
    for document in (
        clearance.answer(floor.store, Asked()),
        build_sheet.answer(floor.store, "B1", Asked()),
    ):
        assert any("away from 20 degC" in caution for caution in document["cautions"]) == warned
    others = build_sheet.answer(floor.store, "B2", Asked())["cautions"]
    assert not any("away from 20 degC" in caution for caution in others)


def test_a_build_is_shown_whole_or_not_at_all(floor):
    early = fitted("B1", 52)
    late = [r | {"measured_at": "2026-06-02T08:00"} for r in fitted("B1", 50, "main-2")]
    floor.take([*early, *late])
    june = 1_780_272_000_000_000  # 2026-06-01T00:00Z
    assert [len(b["positions"]) for b in builds(floor, since=june)] == [2]
    assert builds(floor, until=june) == []


def test_the_two_routes_of_a_clearance_do_not_read_alike(floor):
    walls = [
        part("B1", "shell_wall", f"main-1-{half}", "2.0", "g-ball", operation="receive", state="received")
        for half in ("upper", "lower")
    ]
    housing = part("B1", "tunnel_diameter", "main-1", "64.052", clock_deg=0)
    floor.take([plan()])
    floor.take([*fitted("B1", 52), housing, *walls])
    told = [e["sentence"] for e in clearance.answer(floor.store, Asked())["engines"]]
    assert len(told) == len(set(told)) == 2
    assert any("(installed)" in sentence for sentence in told)
    assert any("(by parts)" in sentence for sentence in told)
