"""Text to number and unit to unit: exact, or refused with the cure.

1 in = 25.4 mm exactly: international yard and pound agreement, 1959 (NIST SP 811, appendix B.8).
"""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc import units
from qc.errors import InputError, NumberError, UnitError

# one of each unit in units of 1e-5 um, deg, % and min, worked out from 25.4 mm by hand
TICKS = {
    "mm": 10**8, "um": 10**5, "in": 2_540_000_000, "thou": 2_540_000, "tenth": 254_000, "uin": 2_540,
    "deg": 10**5, "%": 10**5, "min": 10**5,
}  # fmt: skip


def test_every_unit_of_the_file_contract_is_a_whole_number_of_ticks():
    assert {key: units.ticks(Decimal(1), key) for key in units.UNITS} == TICKS


@pytest.mark.parametrize(
    ("text", "unit", "ticks"),
    [
        ("93.008", "mm", 9_300_800_000),
        ("3.6617", "in", 9_300_718_000),  # 3.6617 x 25.4 = 93.00718
        ("3661.7", "thou", 9_300_718_000),
        ("36617", "tenth", 9_300_718_000),
        ("3661700", "uin", 9_300_718_000),
        ("0.4", "um", 40_000),
        ("16", "uin", 40_640),
        ("-12.5", "um", -1_250_000),
    ],
)
def test_a_text_becomes_its_exact_whole_number_of_ticks(text, unit, ticks):
    assert units.ticks(units.number(text), unit) == ticks


@pytest.mark.parametrize(
    ("text", "ticks"),
    # a tick is 1e-5 um: 0.000005 um lies half-way and goes to the even neighbour
    [("0.000005", 0), ("0.000015", 2), ("0.000025", 2), ("0.000026", 3), ("-0.000015", -2)],
)
def test_digits_finer_than_a_tick_are_rounded_half_to_even(text, ticks):
    assert units.ticks(units.number(text), "um") == ticks


@pytest.mark.parametrize(
    "text",
    ["-0.012", "\N{MINUS SIGN}0.012", "\N{EN DASH}0.012", "\N{HYPHEN}0.012", "\N{NON-BREAKING HYPHEN}0.012"],
)
def test_any_dash_that_people_type_is_a_minus(text):
    assert units.number(text) == Decimal("-0.012")


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("93,008", "93.008"),
        (" 93.008\N{NO-BREAK SPACE}", "93.008"),
        ("+0.5", "0.5"),
        (",5", "0.5"),
        ("5.", "5"),
        ("1e-3", "0.001"),
        ("\N{FULLWIDTH PLUS SIGN}2", "2"),
        ("0", "0"),
    ],
)
def test_a_decimal_comma_spaces_and_exponents_are_read(text, value):
    assert units.number(text) == Decimal(value)


@pytest.mark.parametrize(
    "text",
    ["", " ", "abc", "1,234.5", "1.234,5", "3 1/2", "1 2", "--5", "1e9999", "0x10", "nan", "12mm", "."],
)
def test_what_is_not_one_plain_number_is_refused_with_an_example(text):
    with pytest.raises(NumberError, match="write it like"):
        units.number(text)


def test_a_number_no_gauge_shows_is_refused():
    with pytest.raises(NumberError, match="far outside"):
        units.number("1e100")


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("mm", "mm"), (" MM ", "mm"), ("µm", "um"), ("\N{GREEK SMALL LETTER MU}m", "um"), ("Inch", "in"),
        ('"', "in"), ("micron", "um"), ("Thou", "thou"), ("tenths", "tenth"), ("µin", "uin"), ("°", "deg"),
        ("percent", "%"), ("minutes", "min"),
    ],
)  # fmt: skip
def test_units_are_read_in_their_everyday_spellings(text, key):
    assert units.unit(text) == key


def test_an_unknown_unit_is_refused_with_the_list():
    with pytest.raises(UnitError, match="mm, um, in, thou, tenth, uin, deg, %, min"):
        units.unit("furlong")
    assert issubclass(UnitError, InputError)


def test_each_unit_knows_what_it_measures():
    lengths = {"mm", "um", "in", "thou", "tenth", "uin"}
    assert {u for u in units.UNITS if units.kind(u) == "length"} == lengths
    assert [units.kind(u) for u in ("deg", "%", "min")] == ["angle", "percent", "time"]


def test_a_target_beside_a_deviation_is_in_mm_or_in_inches():
    # file contract: beside um or mm in mm, beside in, thou, tenth, uin in inches
    expected = {"um": "mm", "mm": "mm", "in": "in", "thou": "in", "tenth": "in", "uin": "in"}
    assert expected == units.TARGET_UNIT


@given(st.integers(-(10**7), 10**7))
def test_inch_and_millimetre_texts_of_the_same_length_give_equal_ticks(tenths_of_a_uin):
    inches = Decimal(tenths_of_a_uin).scaleb(-7)  # 0.1 uin is the finest digit kept: 254 ticks
    millimetres = inches * Decimal("25.4")
    expected = tenths_of_a_uin * 254
    for text, unit in (
        (f"{inches:f}", "in"), (f"{millimetres:f}", "mm"), (f"{inches * 1000:f}", "thou"),
        (f"{inches * 10000:f}", "tenth"), (f"{inches * 1000000:f}", "uin"), (f"{millimetres * 1000:f}", "um"),
    ):  # fmt: skip
        assert units.ticks(units.number(text), unit) == expected


@given(st.integers(-(10**12), 10**12), st.sampled_from(["mm", "um", "deg", "%", "min"]))
def test_a_value_written_back_in_a_metric_unit_is_the_same_number(ticks, unit):
    assert units.ticks(units.exact(ticks, unit), unit) == ticks


def test_the_factor_for_showing_is_the_inverse_of_the_exact_one():
    for unit in ("mm", "um", "in", "thou", "tenth", "uin"):
        assert units.per_um(unit) == float(Fraction(10**5, TICKS[unit]))


@pytest.mark.parametrize("text", ["999999999999", "-123456789", "1e9"])
def test_a_number_that_the_store_cannot_hold_is_refused_where_it_is_read(text):
    with pytest.raises(NumberError, match="far outside anything a gauge shows"):
        units.number(text)


@pytest.mark.parametrize("unit", units.UNITS)
def test_the_largest_number_that_is_read_fits_64_bits(unit):
    assert units.ticks(units.number("99999999"), unit) < 2**63
