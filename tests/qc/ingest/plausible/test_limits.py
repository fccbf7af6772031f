"""Specification tables as they are printed: each kind of dirt shown once, each with a near miss.

Examples marked so are of the kinds seen in public workshop manuals (domain knowledge of the trade); sizes by
1 in = 25.4 mm.
"""

import pytest

BOOK = {
    "engine": "finch-4", "operation": "plateau_hone", "characteristic": "bore_diameter", "reading": "size",
    "lower": "92.992", "target": "", "upper": "93.008", "unit": "mm", "revision": "1", "source": "book",
}  # fmt: skip


def row(**other):
    return BOOK | other


def one(result, code, severity):
    found = [f for f in result.findings if f["severity"] != "note"]
    assert [(f["severity"], f["code"]) for f in found] == [(severity, code)]
    assert all(found[0][part].strip() for part in ("saw", "doubt", "proposal", "effect"))
    assert (result.held > 0) == (severity == "stop")
    return found[0], {c["row"] for c in found[0]["cells"]}


def test_clean_rows_of_every_form_are_taken_in_unasked(taken, codes):
    result = taken([
        row(), row(reading="deviation", lower="-8", upper="8", unit="um", engine="i4"),
        row(characteristic="ra", lower="", upper="0.6", unit="um"),
        row(characteristic="ra", lower="", upper="25", unit="uin", engine="i6"),
        row(characteristic="main_clearance", lower="0.020", upper="0.052"),
        row(characteristic="piston_clearance", lower="-0.016", upper="0.031"),
        row(characteristic="mr2", lower="75", upper="88", unit="%"),
        row(lower="", upper="", target="93.000", build="N1"),
        row(reading="deviation", lower="5", upper="25", unit="um", state="plate_off"),
    ], "specs.csv")  # fmt: skip
    assert (result.held, codes(result)) == (0, [])


def test_limits_that_rounding_made_equal_are_stopped(taken):
    # of the kind: 104.766-104.784 mm printed as 4.125-4.125 in
    result = taken([row(lower="4.125", upper="4.125", unit="in")], "specs.csv")
    words, rows = one(result, "limits_equal", "stop")
    assert rows == {2}
    assert "4.125 in" in words["saw"]


def test_millimetres_and_inches_that_disagree_are_stopped_together(taken, codes):
    # 92.992-93.008 mm is 3.6611-3.6617 in
    agree = [row(), row(lower="3.6611", upper="3.6617", unit="in")]
    assert codes(taken(agree, "agree.csv")) == []
    other = [r | {"engine": "i6"} for r in (row(), row(lower="3.6611", upper="3.6627", unit="in"))]
    words, rows = one(taken(other, "specs.csv"), "limits_disagree", "stop")
    assert rows == {2, 3}
    assert "93.008 mm" in words["saw"]
    assert "3.6627 in" in words["saw"]


@pytest.mark.parametrize(("target", "stops"), [("93.010", True), ("92.990", True), ("93.008", False)])
def test_a_target_outside_its_limits_is_stopped(taken, codes, target, stops):
    result = taken([row(target=target)], "specs.csv")
    if stops:
        words, _ = one(result, "target_outside", "stop")
        assert f"{float(target):g} mm" in words["saw"]
    else:
        assert codes(result) == []


def test_an_aim_outside_a_window_of_distances_is_asked_about(taken):
    one(taken([row(reading="deviation", lower="-8", target="12", upper="8", unit="um")], "specs.csv"),
        "target_outside", "ask")  # fmt: skip


def test_millimetres_in_an_inch_column_are_no_size_of_an_engine(taken):
    words, _ = one(taken([row(unit="in")], "specs.csv"), "size_implausible", "stop")
    assert "millimetres stand for inches" in words["proposal"]


@pytest.mark.parametrize(
    ("cells", "slip"),
    [
        # a window of half a millimetre, and one of 0.2 um
        ({"lower": "92.5", "upper": "93.0"}, "the point is one place off"),
        ({"reading": "deviation", "unit": "um", "lower": "-0.1", "upper": "0.1"}, "the point"),
        # uin printed as um: Ra 15
        ({"characteristic": "ra", "lower": "", "upper": "15", "unit": "um"}, "uin stand for um"),
        # thou meant, mm written: clearance 1.0 to 2.5
        ({"characteristic": "main_clearance", "lower": "1.0", "upper": "2.5", "unit": "mm"}, ""),
        # a limit that lost a digit: 3.299-3.5505 in
        ({"lower": "3.299", "upper": "3.5505", "unit": "in"}, ""),
    ],
)
def test_a_window_that_nothing_is_held_to_is_stopped_with_the_slip_that_fits(taken, cells, slip):
    words, rows = one(taken([row(**cells)], "specs.csv"), "window_implausible", "stop")
    assert rows == {2}
    assert slip in words["proposal"]


def test_a_window_unlike_all_others_of_the_list_is_asked_about(taken, codes):
    rows = [row(engine=f"e{i}", lower=f"{92 + i}.992", upper=f"{93 + i}.008") for i in range(5)]
    assert codes(taken(rows, "specs.csv")) == []
    wide = row(engine="e9", lower="92.900", upper="93.100")
    words, _ = one(taken([wide], "more.csv"), "window_implausible", "ask")
    assert "16 um" in words["saw"]
    assert codes(taken([row(engine="e8", lower="92.980", upper="93.020")], "like.csv")) == []


def test_what_was_stopped_can_be_accepted_by_name_and_reason(shop, taken):
    from qc.ingest.held import decide

    result = taken([row(target="93.010")], "specs.csv")
    (number,) = [f["id"] for f in result.findings if f["severity"] == "stop"]
    assert shop.specs() == []
    decide(shop, number, "accept", "the builder wants it so", by="test")
    assert [s.issue for s in shop.specs()] == ["1"]


def test_readings_with_the_limits_of_an_older_issue_name_that_issue(taken, bores):
    old = row(engine="", reading="deviation", unit="um", lower="-15", upper="15", operation="")
    new = old | {"lower": "-10", "upper": "10", "revision": "2", "since": "2026-01-01"}
    taken([old, new], "specs.csv")
    result = taken(bores(3, target="96.012", lower="95.997", upper="96.027"))
    (ask,) = [f for f in result.findings if f["code"] == "other_limits"]
    assert "those of issue 1" in ask["saw"]
