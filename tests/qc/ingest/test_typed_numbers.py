"""What people type where a number is expected: read, nothing measured, or left to a person."""

import pytest

from qc.errors import NumberError
from qc.ingest.typed_numbers import finer_than_others, not_measured
from qc.units import number, ticks


@pytest.mark.parametrize(
    ("text", "unit", "expected"),
    [
        ("0.0003", "in", 762_000),  # 7.62 um
        ("+3", "tenth", 762_000),
        ("\u22123", "tenth", -762_000),
        ("\u20133", "um", -300_000),
        ("4,0305", "in", 10_237_470_000),  # 102.3747 mm
        ("4.0305", "in", 10_237_470_000),
        ("+.5", "thou", 1_270_000),
    ],
)
def test_a_number_is_read_whatever_marks_people_use(text, unit, expected):
    assert ticks(number(text), unit) == expected
    assert not not_measured(text)


@pytest.mark.parametrize(
    "text",
    [
        "3/10",
        "30 over",
        "OK",
        "~",
        "~3",
        "see note",
        "1,234.5",
        "4.03.05",
        "(3)",
        "3 low",
        "4.0305?",
        "1 1/2",
    ],
)
def test_what_is_not_one_number_is_none(text):
    with pytest.raises(NumberError):
        number(text)
    assert not not_measured(text)


@pytest.mark.parametrize(
    "text", ["-", "--", "\u2013", "\u2014", "\u2212", "N/A", "n/a", "na", "N.A.", "not measured"]
)
def test_a_dash_or_words_say_that_nothing_was_measured(text):
    assert not_measured(text)


def test_blank_and_zero_are_not_words_for_nothing_measured():
    assert not any(map(not_measured, ["", "0", "0.0", "o", "none?"]))


@pytest.mark.parametrize(
    ("texts", "unit", "fine"),
    [
        (["3", "-2", "0.0003", "1"], "tenth", [False, False, True, False]),
        (["3", "-2", "0.5", "1"], "tenth", [False] * 4),  # half a division of a dial
        (["3", "-2", "0.25", "1"], "tenth", [False, False, True, False]),
        (["1.2", "0.4", "-0.3", "0.003"], "thou", [False, False, False, True]),
        (["12.25", "3.75", "-4.50"], "um", [False] * 3),
        (["0.0003", "-0.0002", "0.0001"], "tenth", [True] * 3),  # a whole table in inches
        (["0.0003", "-0.0002", "3"], "in", [False] * 3),
        (["see note", "3", "4"], "tenth", [False] * 3),
        ([], "tenth", []),
    ],
)
def test_a_deviation_finer_than_the_others_is_doubted(texts, unit, fine):
    assert finer_than_others(texts, unit) == fine
