"""Targets and limits in force as a new file meets them; sizes by hand (1 mm = 1e8 ticks)."""

from dataclasses import replace

import pytest

from qc.ingest.specified import said
from qc.records import Build, Reading, Source, Spec

MM = 100_000_000
UM = 100_000
PLAIN = Reading(
    Source("ab" * 32, 2, "value", "96.012"), "hone-1", "finish_bore", "bore_diameter", "two_point",
    "unstated", "cyl-1", 9_601_200_000, "mm", 0, 0, build="B-104",
)  # fmt: skip
WINDOW = Spec("bore_diameter", "deviation", "um", -10 * UM, None, 10 * UM, said_by="book", issue="C")


def test_a_target_is_the_rows_own_else_that_of_the_specification_in_force():
    plan = Spec("bore_diameter", "size", "mm", target=96 * MM, build="B-104")
    family = Spec("bore_diameter", "size", "mm", target=86 * MM, engine="i4")
    readings = [
        replace(PLAIN, target=90 * MM), PLAIN, replace(PLAIN, build="B-7"), replace(PLAIN, build="B-8"),
        replace(PLAIN, build="B-9", engine="i4"), replace(PLAIN, characteristic="ra"),
    ]  # fmt: skip
    found = said(readings, [family, plan], {"B-7": Build("B-7", engine="i4")})
    assert [s.target for s in found] == [90 * MM, 96 * MM, 86 * MM, None, 86 * MM, None]
    assert [s.target for s in said(readings[:2], [], {})] == [90 * MM, None]


@pytest.mark.parametrize(
    ("lower", "upper", "words"),
    [
        (95_990_000 * 100, 96_010_000 * 100, ""),
        (None, None, ""),
        (95_990_000 * 100, None, ""),
        (95_980_000 * 100, 96_010_000 * 100, "95.99 mm to 96.01 mm (book, issue C)"),
        (None, 96_020_000 * 100, "95.99 mm to 96.01 mm (book, issue C)"),
    ],
)
def test_limits_of_a_row_that_differ_from_the_window_in_force_are_told(lower, upper, words):
    reading = replace(PLAIN, target=96 * MM, lower=lower, upper=upper)
    assert said([reading], [WINDOW], {})[0].other_limits == words


def test_a_size_window_that_does_not_hold_the_target_is_told():
    window = Spec("bore_diameter", "size", "mm", 86 * MM, None, 87 * MM)
    found = said([replace(PLAIN, target=96 * MM), replace(PLAIN, target=86 * MM)], [window], {})
    assert [s.passed_over for s in found] == [True, False]


def test_disagreements_are_asked_about_and_the_readings_count(shop, taken, bores, codes):
    spec = {"characteristic": "bore_diameter", "reading": "deviation", "lower": "-10", "upper": "10",
            "unit": "um", "source": "book"}  # fmt: skip
    taken([spec, spec | {"engine": "i4", "reading": "size", "lower": "86000", "upper": "87000"}], "specs.csv")
    result = taken(bores(3, target="96.000", lower="95.980", upper="96.010"))
    assert (result.kept, codes(result)) == (3, [("ask", "other_limits")])
    (ask,) = [f for f in result.findings if f["severity"] == "ask"]
    assert "Bores 1, 2, 3 of B-104 (rows 2-4)" in ask["saw"]
    assert "95.99 mm to 96.01 mm (book)" in ask["saw"]
    result = taken(bores(3, build="B-9", target="96.000", lower="95.990", upper="96.010"), "good.csv")
    assert codes(result) == []


def test_a_window_passed_over_is_asked_about(shop, taken, bores, codes):
    taken(
        [{"characteristic": "bore_diameter", "reading": "size", "lower": "86", "upper": "86.04",
          "unit": "mm"}],
        "s.csv",
    )
    result = taken(bores(3, target="96.000"))
    assert (result.kept, codes(result)) == (3, [("ask", "window_passed_over")])
