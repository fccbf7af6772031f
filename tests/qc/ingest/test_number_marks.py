"""Thousands marks, decimal marks and odd figures: read where the file proves them, held otherwise."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc import units
from qc.errors import NumberError
from qc.ingest.number_marks import Marks, from_said, marks

NARROW, THIN, NBSP = "\N{NARROW NO-BREAK SPACE}", "\N{THIN SPACE}", "\N{NO-BREAK SPACE}"


@pytest.mark.parametrize(
    ("texts", "found", "plain"),
    [
        (["93.008,4", "93.010,2", "94.001"], Marks(".", ","), ["93008.4", "93010.2", "94001"]),
        (["93,008.4", "93,010.25", "12"], Marks(",", "."), ["93008.4", "93010.25", "12"]),
        (["93 008,4", "93 010,2", "0,5"], Marks(" ", ","), ["93008.4", "93010.2", "0.5"]),
        ([f"93{NARROW}008,4", f"93{NARROW}010"], Marks(NARROW, ","), ["93008.4", "93010"]),
        ([f"93{THIN}008", f"93{THIN}010"], Marks(THIN, ""), ["93008", "93010"]),
        ([f"93{NBSP}008.5", f"93{NBSP}010.5"], Marks(NBSP, "."), ["93008.5", "93010.5"]),
        (["93'008.4", "93'010.2", "-1'250.5"], Marks("'", "."), ["93008.4", "93010.2", "-1250.5"]),
        (["93 008,4", "93 010,2", "3 5035"], Marks(" ", ","), ["93008.4", "93010.2", "3 5035"]),
        (["1.234.567", "93.008,4", ""], Marks(".", ","), ["1234567", "93008.4", ""]),
    ],
)
def test_a_way_of_writing_is_proved_by_two_cells_that_can_be_read_one_way_only(texts, found, plain):
    assert marks(texts) == found
    read = [(found.plain(t), p) for t, p in zip(texts, plain, strict=True) if t and " " not in p]
    assert [units.number(t) for t, _ in read] == [Decimal(p) for _, p in read]
    assert all(found.plain(t) == t for t, p in zip(texts, plain, strict=True) if " " in p)
    assert from_said(found.said) == found


@pytest.mark.parametrize(
    "texts",
    [
        ["93.008,4"],  # one may be a slip
        ["93.008,4", "93.0101", "93.011"],  # a point before four digits parts no thousands
        ["93.008,4", "93,010.2"],
        ["93.008,4", "93.010,2", "96.01"],
        ["93.008,4", "93.010,2", *["93.008"] * 5],  # mostly a decimal point: two slips among sizes
        ["93 008", "93 010", "93 012"],  # a lost point looks the same
        ["93.008", "93.010"],
        ["93,008", "93,010"],
        ["96,012", "96.013"],
        ["3 5035", "3 5036"],
        ["OK", "n/a", "-", "3/10"],
    ],
)
def test_what_is_not_proved_is_no_way_of_writing(texts):
    assert marks(texts) is None


@given(
    st.lists(st.integers(1_000_000, 9_999_999_999), min_size=2, max_size=9),
    st.sampled_from([(".", ","), (",", "."), (" ", ","), ("'", "."), (THIN, ","), (NBSP, ",")]),
)
def test_numbers_written_with_marks_come_back_as_they_were(values, way):
    def written(n):
        return f"{n // 100:,}".replace(",", way[0]) + way[1] + f"{n % 100:02d}"

    texts = [written(n) for n in values]
    found = marks(texts)
    assert found == Marks(*way)
    assert [units.number(found.plain(t)) for t in texts] == [Decimal(n) / 100 for n in values]


@pytest.mark.parametrize(
    ("text", "value"),
    [("+3", "3"), ("\u22123", "-3"), ("\u20133", "-3"), ("\u20103", "-3"), ("\u20113", "-3"),
     ("4,0305", "4.0305"), ("0.0003", "0.0003"), (".5", "0.5"), ("5.", "5"), (" 7 ", "7"),
     (f"{NBSP}7{NARROW}", "7"), ("1e-3", "0.001")],
)  # fmt: skip
def test_plain_numbers_are_read(text, value):
    assert units.number(text) == Decimal(value)


@pytest.mark.parametrize(
    "text",
    ["3/10", "30 over", "1 1/2", "3 5035", "93.008,4", "93,008.4", "1 234,5", "1'234", f"1{THIN}234", "(3)",
     "3-", "--3", "+-2", "\u20143", "4.03.05", "4,03,05", "3 low", "~3", "3?", "0x10", "1_000", "nan",
     "inf", "1e", "#N/A", "\u00bd", "3\u00b2", "", " ", "+", ".", ","],
)  # fmt: skip
def test_what_is_no_plain_number_is_refused(text):
    with pytest.raises(NumberError):
        units.number(text)
