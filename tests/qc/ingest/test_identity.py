"""The rules of a reading's identity, on readings alone."""

from dataclasses import dataclass, replace

import pytest

from qc.ingest.identity import against, perhaps_again
from qc.records import Reading, Source

MM = 100_000_000
PLAIN = Reading(
    Source("ab" * 32, 2, "value", "96.012"), "hone-1", "finish_bore", "bore_diameter", "two_point",
    "plate_on", "cyl-1",
    9_601_200_000, "mm", 0, 0, build="B-104", target=96 * MM, gauge="bg-2",
)  # fmt: skip


@dataclass(frozen=True)
class Version:
    value: int = PLAIN.value
    relative: bool = False
    target: int | None = PLAIN.target
    lower: int | None = None
    upper: int | None = None
    status: str = "counts"


def _code(known: list[Version]) -> object:
    verdict = against(PLAIN, known)
    return verdict if isinstance(verdict, bool) else verdict.code


def test_a_new_place_has_nothing_against_it():
    assert _code([]) is False


@pytest.mark.parametrize("status", ["counts", "voided", "held", "discarded"])
def test_the_same_value_target_and_limits_are_already_kept_whatever_became_of_them(status):
    assert _code([Version(status=status)]) is True
    assert _code([Version(value=1), Version(status=status)]) is True


@pytest.mark.parametrize("status", ["counts", "voided", "held", "discarded"])
def test_another_value_is_held(status):
    assert _code([Version(value=1, status=status)]) == "reads_otherwise"


@pytest.mark.parametrize("other", [{"target": None}, {"target": 1}, {"lower": 1}, {"upper": 1}])
def test_the_same_value_with_another_target_or_limits_is_held(other):
    assert _code([Version(**other)]) == "other_target"


def test_a_distance_is_not_a_size_of_the_same_number():
    assert _code([Version(relative=True)]) == "reads_otherwise"


def _block(n, **other):
    return [replace(PLAIN, feature=f"cyl-{i + 1}", value=96 * MM + 1_000 * i, **other) for i in range(n)]


@pytest.mark.parametrize("other", [{"made_at": 7}, {"gauge": "bg-3"}, {"state": "plate_off"}, {"method": "x"},
                                   {"made_at": 7, "gauge": None}])  # fmt: skip
def test_six_equal_values_that_differ_only_in_time_gauge_state_or_method_are_doubted(other):
    assert sorted(perhaps_again(_block(6, **other), _block(6))) == [0, 1, 2, 3, 4, 5]
    assert perhaps_again(_block(5, **other), _block(8)) == {}


@pytest.mark.parametrize("other", [{"machine": "hone-2"}, {"operation": "hone"}, {"build": "B-105"},
{"trial": 2},
                                   {"pass_": 2}, {"station": 5}, {"clock": 5},
                                   {"characteristic": "ra"}])  # fmt: skip
def test_another_place_on_the_part_is_no_repetition(other):
    assert perhaps_again(_block(8, made_at=7, **other), _block(8)) == {}


def test_a_coarse_gauge_that_repeats_some_values_by_chance_is_believed():
    kept = _block(16)
    again = [replace(r, made_at=7, value=r.value + (1 if i % 5 else 0)) for i, r in enumerate(_block(48))]
    assert perhaps_again(again, _block(48)) == {}
    copied = [replace(r, made_at=7, value=r.value + (0 if i % 5 else 1)) for i, r in enumerate(kept)]
    assert len(perhaps_again(copied, kept)) == 12


def test_rows_at_new_places_do_not_hide_a_repetition():
    assert len(perhaps_again([*_block(6, made_at=7), *_block(40, made_at=7, station=9)], _block(6))) == 6


def test_what_differs_is_said():
    doubts = perhaps_again(_block(6, made_at=7, state="plate_off"), _block(6))
    assert {d.cause for d in doubts.values()} == {"B-104|time and state"}
