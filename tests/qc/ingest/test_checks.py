"""Far from target and new names. Distances by hand: 1 mm = 1e8 ticks; 96.012 mm = 3.78 in x 25.4."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.ingest.checks import FAR, alike, far_from_target, medians, new_names
from qc.records import Reading, Source

MM = 100_000_000
PLAIN = Reading(
    Source("ab" * 32, 2, "value", "96.012"), "hone-1", "finish_bore", "bore_diameter", "two_point",
    "unstated", "cyl-1",
    9_601_200_000, "mm", 0, 0, build="B-104",
)  # fmt: skip


def _sized(text, unit, ticks, **other):
    return replace(PLAIN, source=replace(PLAIN.source, text=text), unit=unit, value=ticks, **other)


def test_one_millimetre_is_the_most_that_is_believed():
    assert FAR == MM
    target = 96 * MM
    assert far_from_target(_sized("97", "mm", 97 * MM), target, None) is None
    assert far_from_target(_sized("95", "mm", 95 * MM), target, None) is None
    assert far_from_target(_sized("97.00001", "mm", 97 * MM + 1_000), target, None) is not None
    assert far_from_target(_sized("94.99999", "mm", 95 * MM - 1_000), target, None) is not None


@pytest.mark.parametrize(
    ("text", "unit", "ticks", "slip", "proposal"),
    [
        ("3.78", "mm", 378_000_000, "small", "96.012"),
        ("3,78", "mm", 378_000_000, "small", "96.012"),
        ("96.012", "in", 9_601_200_000 * 254 // 10, "large", "3.78"),
        ("2438.7", "mm", 243_870_000_000, "large", "96.011811"),
        ("9.6012", "mm", 960_120_000, "", ""),
    ],
)
def test_a_ratio_of_25_4_is_named_and_its_conversion_proposed(text, unit, ticks, slip, proposal):
    doubt = far_from_target(_sized(text, unit, ticks), 96 * MM + 1_000_000, None)
    assert doubt is not None
    assert doubt.cause.split("|")[1] == slip
    assert doubt.proposal[:9] == proposal


def test_without_target_the_median_of_the_block_is_the_reference():
    block = [_sized("96", "mm", 96 * MM + i) for i in range(7)]
    strange = _sized("3.78", "mm", 378_000_000)
    middles = medians([*block, strange, replace(PLAIN, build="B-105", value=86 * MM)])
    # of eight values the lower of the two in the middle: the smallest, then 0, 1, 2
    assert middles == {
        ("B-104", "finish_bore", "bore_diameter"): 96 * MM + 2,
        ("B-105", "finish_bore", "bore_diameter"): 86 * MM,
    }
    assert far_from_target(strange, None, middles["B-104", "finish_bore", "bore_diameter"]) is not None
    assert far_from_target(block[0], None, middles["B-104", "finish_bore", "bore_diameter"]) is None
    assert far_from_target(strange, None, None) is None


def test_a_deviation_of_more_than_a_millimetre_is_far_too():
    small, large = (
        _sized(t, "um", ticks, relative=True) for t, ticks in (("12", 1_200_000), ("1200", 120_000_000))
    )
    assert far_from_target(small, 96 * MM, None) is None
    doubt = far_from_target(large, 96 * MM, None)
    assert doubt is not None
    assert doubt.proposal == ""


@pytest.mark.parametrize(
    "characteristic", ["bore_taper", "ra", "mr1", "minutes_per_bore", "crosshatch_angle"]
)
def test_what_has_no_target_is_never_far_from_it(characteristic):
    assert far_from_target(replace(PLAIN, characteristic=characteristic, value=10**12), None, 0) is None


@pytest.mark.parametrize(
    ("name", "known"),
    [("Hone-2", "hone-2"), ("hone 2", "hone-2"), ("hone2", "hone-2"), ("hone_2", "hone-2"), ("hoen-2",
    "hone-2"),
     ("hon-2", "hone-2"), ("honne-2", "hone-2"), ("gauge-A", "gauge-B"), ("HONE 2 ", "hone-2")],
)  # fmt: skip
def test_names_that_differ_in_case_space_dash_or_one_letter_are_alike(name, known):
    assert alike(name, known)
    assert alike(known, name)


@pytest.mark.parametrize(
    ("name", "known"),
    [("hone-1", "hone-2"), ("hone-2", "hone-2"), ("hone-12", "hone-2"), ("hone-2", "bore-2"), ("hone",
    "hone-2"),
     ("v8-iron-96", "v8-iron-98"), ("line-hone-1", "hone-1"), ("hone-2b", "hone-3b")],
)  # fmt: skip
def test_another_digit_or_two_letters_make_another_name(name, known):
    assert not alike(name, known)


@pytest.mark.parametrize(
    ("name", "known"),
    [("hone-l", "hone-1"), ("hone-I", "hone-1"), ("hone-O2", "hone-02"), ("bg-lO", "bg-10")],
)
def test_a_letter_for_the_digit_it_looks_like_makes_no_other_name(name, known):
    assert alike(name, known)
    assert not alike(name, "hone-3")


@given(st.text(max_size=8), st.text(max_size=8))
def test_being_alike_works_both_ways(a, b):
    assert alike(a, b) == alike(b, a)


def test_a_new_name_is_told_once_with_the_one_it_resembles():
    known = {"machine": {"hone-2"}, "operation": {"finish_bore"}, "engine": set(), "gauge": set()}
    rows = [replace(PLAIN, machine=m, engine="v8") for m in ("hone-2", "Hone-2", "Hone-2", "bar-1", "HONE-2")]
    assert new_names(rows, known) == {
        ("engine", "v8"): "", ("machine", "Hone-2"): "hone-2", ("machine", "bar-1"): "", ("machine",
        "HONE-2"): "Hone-2",
    }  # fmt: skip
    assert new_names(rows, known) == {}
