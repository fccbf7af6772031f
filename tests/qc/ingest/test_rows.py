"""What a row becomes. Ticks by hand: 1 tick = 1e-5 um, 1 mm = 1e8, 1 in = 2.54e9 (25.4 mm exactly)."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.ingest import delimited
from qc.ingest.line import Shop
from qc.ingest.rows import tables, typed
from qc.records import Build, Event, Gauge, Machine, PlanRow, Reading, Spec

MM = 100_000_000
INCH = 2_540_000_000
DAY = 86_400_000_000
APRIL_3 = 20_546 * DAY


@pytest.fixture
def read(table):
    """Rows of a file made from rows."""

    def rows_of(*rows, shop=None):
        found, _ = tables(delimited.cells(table(rows).encode()))
        return typed(found[0], shop or Shop(), "ab" * 32)

    return rows_of


@pytest.fixture
def reading(read, bore):
    """The reading of one bore row; what is named differs from a plain one."""

    def one(**other):
        (row,) = read(bore(**other))
        assert not row.doubts, row.doubts
        assert isinstance(row.record, Reading)
        return row.record

    return one


@pytest.fixture
def doubts(read, bore):
    """Code and column of each doubt of one bore row."""
    return lambda **other: [(d.code, d.column) for d in read(bore(**other))[0].doubts]


def test_a_plain_row_is_a_reading_with_its_place_in_the_file(reading):
    r = reading()
    assert (r.build, r.machine, r.operation, r.characteristic, r.feature) == (
        "B-104", "hone-1", "finish_bore", "bore_diameter", "cyl-1",
    )  # fmt: skip
    assert r.value == 9_601_200_000
    assert (r.method, r.state, r.trial, r.pass_, r.relative) == ("two_point", "unstated", 1, None, False)
    assert r.measured_at == r.made_at == APRIL_3 + 8 * 3_600_000_000 + 15 * 60_000_000
    assert r.source.place == "abababababab:2:value"
    assert r.source.text == "96.012"


@pytest.mark.parametrize(
    ("value", "unit", "ticks"),
    [
        ("96.012", "mm", 9_601_200_000),
        ("96,012", "mm", 9_601_200_000),
        ("3.78", "in", 9_601_200_000),
        ("3780", "thou", 9_601_200_000),
        ("37800", "tenth", 9_601_200_000),
        ("96012", "um", 9_601_200_000),
        ("1", "uin", 2_540),
        ("1", "inch", INCH),
        ("-3", "tenth", -762_000),
        ("\N{MINUS SIGN}3", "tenth", -762_000),
        ("5", "\N{MICRO SIGN}m", 500_000),
    ],
)
def test_every_length_unit_is_exact(reading, value, unit, ticks):
    assert reading(value=value, unit=unit).value == ticks


@given(st.integers(-2_000_000, 200_000_000))
def test_inch_and_millimetre_files_store_the_same_ticks(tenths):
    tenth_thou = Fraction(tenths, 100)  # hundredths of a tenth: 1 uin
    inch, mm = tenth_thou / 10_000, tenth_thou / 10_000 * Fraction(254, 10)
    texts = [
        (f"{Decimal(value.numerator) / Decimal(value.denominator):f}", unit)
        for value, unit in ((inch, "in"), (mm, "mm"))
    ]
    stored = []
    for text, unit in texts:
        data = (
            "build,machine,operation,characteristic,feature,value,unit,measured_at,target,lower,upper\n"
            f"B,m,o,bore_diameter,cyl-1,{text},{unit},2026-04-03,{text},{text},{text}\n"
        )
        found, _passed = tables(delimited.cells(data.encode()))
        (row,) = typed(found[0], Shop(), "00")
        stored.append((row.record.value, row.record.target, row.record.lower, row.record.upper))
    assert stored[0] == stored[1] == (tenths * 2_540,) * 4


@pytest.mark.parametrize(
    ("unit", "value", "target", "size", "lower"),
    [
        ("um", "12", "96.000", 9_601_200_000, 9_599_500_000),
        ("mm", "0.012", "96.000", 9_601_200_000, 9_100_000_000),
        ("tenth", "3", "3.7800", 9_601_200_000 + 762_000, 9_601_200_000 - 1_270_000),
        ("thou", "3", "3.7800", 9_601_200_000 + 7_620_000, 9_601_200_000 - 12_700_000),
        ("in", "0.0003", "3.7800", 9_601_200_000 + 762_000, 9_601_200_000 - 5 * INCH),
    ],
)
def test_a_deviation_counts_from_its_target_in_mm_or_inches(reading, unit, value, target, size, lower):
    r = reading(reading="deviation", unit=unit, value=value, target=target, lower="-5", upper="5")
    assert (r.value, r.relative, r.lower) == (size, False, lower)
    assert r.target == {"um": 96 * MM, "mm": 96 * MM}.get(unit, 9_601_200_000)


def test_a_deviation_without_target_stays_a_distance(reading):
    r = reading(reading="deviation", unit="um", value="12", lower="-5", upper="20")
    assert (r.value, r.relative, r.target, r.lower, r.upper) == (1_200_000, True, None, -500_000, 2_000_000)


@pytest.mark.parametrize(
    ("text", "characteristic", "clock"),
    [
        ("90", "bore_diameter", 9_000_000), ("thrust", "bore_diameter", 9_000_000), ("crank",
        "bore_diameter", 0),
        ("180", "bore_diameter", 0), ("270", "bore_diameter", 9_000_000), ("360", "tunnel_diameter", 0),
        ("22.5", "bore_diameter", 2_250_000), ("270", "tunnel_offset", 27_000_000), ("360",
        "tunnel_offset", 0),
    ],
)  # fmt: skip
def test_a_direction_is_read_in_degrees_and_a_diameter_repeats_after_half_a_turn(
    reading, text, characteristic, clock
):
    unit, value = ("mm", "96") if characteristic != "tunnel_offset" else ("um", "3")
    assert reading(characteristic=characteristic, clock_deg=text, unit=unit, value=value).clock == clock


@pytest.mark.parametrize(
    ("written", "feature"),
    [("cyl-3", "cyl-3"), ("CYL 03", "cyl-3"), ("Main_2", "main-2"), ("rod5", "rod-5"), ("main-2-Upper",
    "main-2-upper"),
     ("Deck Left", "deck-left"), ("WHOLE", "whole")],
)  # fmt: skip
def test_a_feature_is_read_however_it_is_spaced(reading, written, feature):
    assert reading(feature=written).feature == feature


@pytest.mark.parametrize(
    ("characteristic", "unit", "written", "method"),
    [
        ("bore_taper", "um", "", "typed"), ("bore_taper", "um", "range", "typed-range"),
        ("bore_taper", "um", "ends", "typed"), ("bore_out_of_round", "um", "2x3", "typed"),
        ("bore_barrel", "um", "", "typed"), ("tunnel_offset", "um", "best_fit", "typed"),
        ("tunnel_offset", "um", "vertical", "typed-vertical"),
        ("tunnel_offset", "um", "Horizontal", "typed-horizontal"),
        ("tunnel_offset", "um", "overall-vertical", "typed-overall-vertical"),
        ("bore_taper", "um", "typed-range", "typed-range"), ("bore_taper", "um", "vertical", "typed"),
        ("main_clearance", "um", "installed", "typed"), ("piston_clearance", "um", "", "typed"),
        ("ra", "um", "", "gauss-0.8"), ("ra", "um", "gauss-2.5", "gauss-2.5"), ("ra", "um", "Gauss 0.8",
        "gauss-0.8"),
        ("bore_diameter", "mm", "", "two_point"), ("bore_diameter", "mm", "three_point", "three_point"),
    ],
)  # fmt: skip
def test_a_blank_method_is_the_catalogues_first_and_what_could_be_computed_stands_apart(
    reading, characteristic, unit, written, method
):
    assert reading(characteristic=characteristic, unit=unit, value="1.5", method=written).method == method


def test_a_masters_check_has_no_build_and_is_a_series_of_its_gauge(reading, doubts):
    master = {"build": "", "machine": "bore-gauge-2", "operation": "check", "characteristic": "master_check",
              "feature": "master", "target": "96.000"}  # fmt: skip
    r = reading(**master)
    assert (r.build, r.gauge, r.feature, r.target) == (None, "bore-gauge-2", "master", 96 * MM)
    assert doubts(**master | {"build": "B-1"}) == [("master_check", "build")]
    assert doubts(**master | {"feature": "cyl-1"}) == [("master_check", "feature")]
    assert doubts(feature="master") == [("master_check", "feature")]


@pytest.mark.parametrize(
    ("other", "code", "column"),
    [
        ({"build": ""}, "missing_value", "build"),
        ({"machine": " "}, "missing_value", "machine"),
        ({"value": ""}, "missing_value", "value"),
        ({"unit": ""}, "missing_value", "unit"),
        ({"measured_at": ""}, "missing_value", "measured_at"),
        ({"feature": ""}, "missing_value", "feature"),
        ({"value": "OK"}, "not_a_number", "value"),
        ({"value": "30/64"}, "not_a_number", "value"),
        ({"value": "1.234.5"}, "not_a_number", "value"),
        ({"value": "nan"}, "not_a_number", "value"),
        ({"value": "inf"}, "not_a_number", "value"),
        ({"value": "9e12"}, "not_a_number", "value"),
        ({"target": "see note"}, "not_a_number", "target"),
        ({"part_c": "warm"}, "not_a_number", "part_c"),
        ({"unit": "furlong"}, "unknown_unit", "unit"),
        ({"unit": "deg"}, "unit_kind", "unit"),
        ({"characteristic": "bore_size"}, "unknown_characteristic", "characteristic"),
        ({"feature": "hole A"}, "unknown_feature", "feature"),
        ({"feature": "cyl-0"}, "unknown_feature", "feature"),
        ({"state": "hot"}, "unknown_state", "state"),
        ({"reading": "radius"}, "unknown_reading", "reading"),
        ({"clock_deg": "north"}, "not_a_direction", "clock_deg"),
        ({"clock_deg": "400"}, "not_a_direction", "clock_deg"),
        ({"trial": "0"}, "not_whole", "trial"),
        ({"pass": "1.5"}, "not_whole", "pass"),
        ({"measured_at": "2026-02-30"}, "impossible_date", "measured_at"),
        ({"made_at": "tomorrow"}, "impossible_date", "made_at"),
        ({"measured_at": "03/04/2026"}, "date_order", "measured_at"),
        ({"measured_at": "45321"}, "serial_date", "measured_at"),
        ({"lower": "96.02", "upper": "95.99"}, "limits_reversed", "lower"),
        (
            {"characteristic": "ra", "unit": "um", "value": "0.4", "reading": "deviation"},
            "not_coded",
            "reading",
        ),
    ],
)
def test_a_cell_that_cannot_be_read_is_a_doubt_and_no_exception(doubts, other, code, column):
    assert doubts(**other) == [(code, column)]


def test_every_bad_cell_of_a_row_is_told(doubts):
    assert sorted(doubts(value="?", unit="??", measured_at="2026-02-30", feature="x")) == [
        ("impossible_date", "measured_at"), ("unknown_feature", "feature"), ("unknown_unit", "unit"),
    ]  # fmt: skip


def test_the_nearest_key_is_proposed(read, bore):
    (row,) = read(bore(characteristic="bore diametre"))
    assert row.doubts[0].proposal == "bore_diameter"
    (row,) = read(bore(feature="Cylinder 3"))
    assert row.doubts[0].proposal == "cyl-3"


def test_limits_on_the_target_and_on_each_other_are_fine(reading):
    r = reading(lower="96.012", target="96.012", upper="96.012")
    assert r.lower == r.target == r.upper == 9_601_200_000


def test_rows_of_the_other_kinds_become_their_records(read):
    (row,) = read({"characteristic": "bore_diameter", "reading": "deviation", "lower": "-10",
                    "upper": "10", "unit": "um",
                   "engine": "v8-iron-96", "since": "2026-04-03", "revision": "C",
                   "source": "sheet 4"})  # fmt: skip
    assert row.record == Spec(
        "bore_diameter", "deviation", "um", -1_000_000, None, 1_000_000, engine="v8-iron-96", since=APRIL_3,
        issue="C", said_by="sheet 4", source=row.record.source,
    )  # fmt: skip
    (row,) = read({"machine": "hone-1", "at": "2026-04-03", "event": "Stones changed", "note": "set 14"})
    assert row.record == Event(
        "stones_changed", APRIL_3, "hone-1", at_is_date=True, note="set 14", source=row.record.source
    )
    (row,) = read(
        {"gauge": "bg-2", "kind": "bore gauge", "resolution": "1", "unit": "tenth", "due_on": "2026-04-03"}
    )
    assert row.record == Gauge(
        "bg-2", "bore gauge", 254_000, unit="tenth", due_on=APRIL_3, source=row.record.source
    )
    (row,) = read({"build": "B-1", "engine": "v8", "received_on": "2026-04-03"})
    assert row.record == Build("B-1", "v8", received_on=APRIL_3, source=row.record.source)
    (row,) = read({"machine": "hone-1", "kind": "hone", "since": ""})
    assert row.record == Machine("hone-1", "hone", source=row.record.source)
    (row,) = read({"characteristic": "bore_diameter", "station_mm": "20", "clock_deg": "270", "engine": "v8"})
    assert row.record == PlanRow("bore_diameter", "v8", None, 20 * MM, 9_000_000, source=row.record.source)


@pytest.mark.parametrize(
    ("row", "code"),
    [
        ({"characteristic": "bore_diameter", "lower": "10", "upper": "-10", "unit": "um"}, "limits_reversed"),
        ({"characteristic": "bore_diameter", "lower": "-10", "upper": "10", "unit": "um"}, "reading_unsaid"),
        ({"characteristic": "bore_diameter", "lower": "", "upper": "", "unit": "um"}, "no_limit"),
        ({"characteristic": "mr1", "lower": "", "upper": "10", "unit": "um"}, "unit_kind"),
        (
            {"characteristic": "ra", "lower": "", "upper": "1", "unit": "um", "reading": "deviation"},
            "not_coded",
        ),
        ({"machine": "", "gauge": "", "at": "2026-04-03", "event": "stones_changed"}, "missing_value"),
        ({"machine": "hone-1", "at": "2026-04-03", "event": "stones eaten"}, "unknown_event"),
        ({"gauge": "bg-2", "resolution": "1", "unit": ""}, "missing_value"),
        ({"build": "", "engine": "v8"}, "missing_value"),
        ({"machine": "hone-1", "kind": "hone", "since": "2026-02-30"}, "impossible_date"),
        ({"characteristic": "bore_bore_bore", "feature": "cyl-1"}, "unknown_characteristic"),
    ],
)
def test_bad_rows_of_the_other_kinds_are_doubted_too(read, row, code):
    assert [d.code for d in read(row)[0].doubts] == [code]


def test_example_rows_and_blank_rows_are_no_rows(read, bore):
    rows = read(bore(build="Example: this row is not read", value="?"), bore(), dict.fromkeys(bore(), ""))
    assert [r.number for r in rows] == [3]


def test_a_row_with_more_cells_than_the_header_is_doubted():
    header = "build,machine,operation,characteristic,feature,unit,measured_at,value\n"
    start = "B-1,m,o,bore_diameter,cyl-{},mm,2026-04-03,{}\n"
    data = header + start.format(1, "96,012") + start.format(2, "96.012,,")
    (table_,), _ = tables(delimited.cells(data.encode()))
    split, whole = typed(table_, Shop(), "00")
    assert [(d.code, d.text) for d in split.doubts] == [("too_many_cells", "012")]
    assert split.record is None
    assert whole.doubts == ()
