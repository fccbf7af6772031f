"""Which specification is in force, by the rules of the file contract."""

from itertools import pairwise

import numpy as np
import pandas as pd
import pytest

from qc.history.specs import ROW_COLUMNS, resolve
from qc.records import Spec

UM = 100_000  # ticks
MAY, JUNE = 1_000, 2_000
ROW = {
    "build": "B1", "engine": "v8", "operation": "plateau_hone", "characteristic": "bore_diameter",
    "feature": "cyl-3", "station": 20, "clock": 90, "state": "plate_on", "made_at": JUNE, "target": None,
}  # fmt: skip


def rows(*changes):
    table = [ROW | c for c in changes] or [ROW]
    frame = pd.DataFrame({name: pd.Series([r[name] for r in table], dtype=object) for name in ROW_COLUMNS})
    return frame.astype({"made_at": "int64"})


def around(width, **filled):
    """A window of +-width um around each build's own target."""
    return Spec(
        "bore_diameter",
        filled.pop("reading", "deviation"),
        "um",
        lower=-width * UM,
        upper=width * UM,
        **filled,
    )


def size(target, lower=None, upper=None, **filled):
    ticks = [None if v is None else round(v * UM) for v in (lower, target, upper)]
    return Spec(filled.pop("characteristic", "bore_diameter"), "size", "um", *ticks, **filled)


def widths(specs, *changes):
    found = resolve(specs, rows(*changes))
    return [None if np.isnan(u) else u / UM for u in found.upper]


FILLED = [
    {"build": "B1"}, {"feature": "cyl-3"}, {"station": 20}, {"clock": 90}, {"state": "plate_on"},
    {"operation": "plateau_hone"}, {"engine": "v8"},
]  # fmt: skip


@pytest.mark.parametrize(("stronger", "weaker"), list(pairwise([*FILLED, {}])), ids=str)
@pytest.mark.parametrize("first", ["stronger", "weaker"])
def test_the_most_specific_wins_in_the_order_of_the_contract(stronger, weaker, first):
    specs = [around(5, **stronger), around(9, **weaker)]
    assert widths(specs if first == "stronger" else specs[::-1]) == [5]


def test_one_stronger_column_beats_all_weaker_ones_together():
    weak = {k: v for f in FILLED[1:] for k, v in f.items()}
    assert widths([around(9, **weak), around(5, build="B1")]) == [5]


@pytest.mark.parametrize("other", [{k: "other"} for f in FILLED for k in f if k not in ("station", "clock")]
                         + [{"station": 21}, {"clock": 0}], ids=str)  # fmt: skip
def test_a_row_with_another_filled_column_does_not_match(other):
    found = resolve([around(5, **other)], rows())
    assert found.spec.tolist() == [-1]
    assert np.isnan(found.upper).all()


def test_a_blank_column_of_a_reading_is_matched_by_blank_only():
    blank = {"station": None, "clock": None, "engine": None}
    assert widths([around(5, station=20), around(6, engine="v8")], blank) == [None]
    assert widths([around(5)], blank) == [5]


def test_a_row_holds_from_its_since_on_and_the_latest_since_wins():
    specs = [around(7, since=JUNE), around(5), around(6, since=MAY)]
    at = [{"made_at": t} for t in (MAY - 1, MAY, JUNE - 1, JUNE)]
    assert widths(specs, *at) == [5, 6, 6, 7]


def test_of_equals_the_last_added_wins():
    assert widths([around(5), around(6)]) == [6]


def test_a_size_window_is_counted_from_each_builds_own_target():
    # 96.000 to 96.030 mm; targets 96.010 and 96.020: -10 to +20 and -20 to +10
    found = resolve([size(None, 96_000, 96_030)], rows({"target": 96_010 * UM}, {"target": 96_020 * UM}))
    np.testing.assert_array_equal(found.lower / UM, [-10, -20])
    np.testing.assert_array_equal(found.upper / UM, [20, 10])


def test_a_size_window_that_does_not_hold_the_target_is_passed_over_for_the_next():
    specs = [around(12), size(None, 96_000, 96_030, engine="v8")]
    found = resolve(specs, rows({"target": 96_500 * UM}, {"target": 96_010 * UM}))
    assert found.spec.tolist() == [0, 1]
    assert found.passed_over.tolist() == [True, False]
    np.testing.assert_array_equal(found.upper / UM, [12, 20])


def test_a_target_on_the_edge_of_a_size_window_is_inside_it():
    found = resolve([size(None, 96_000, 96_030)], rows({"target": 96_030 * UM}))
    assert (found.lower[0] / UM, found.upper[0] / UM) == (-30, 0)


def test_with_nothing_left_after_a_window_was_passed_over_there_are_no_limits():
    found = resolve([size(None, 96_000, 96_030)], rows({"target": 96_500 * UM}))
    assert found.spec.tolist() == [-1]
    assert found.passed_over.tolist() == [True]
    assert np.isnan(found.lower).all()


def test_a_more_specific_window_that_holds_takes_the_passing_over_back():
    specs = [size(None, 96_000, 96_030), around(5, build="B1")]
    found = resolve(specs, rows({"target": 96_500 * UM}))
    assert found.spec.tolist() == [1]
    assert found.passed_over.tolist() == [False]


def test_the_target_is_the_readings_own_then_the_winners_then_the_next_that_has_one():
    specs = [size(96_000), size(None, 95_990, 96_020, engine="v8"), size(96_008, build="B1")]
    found = resolve(specs, rows({"target": 96_005 * UM}, {}, {"build": "B2"}))
    np.testing.assert_array_equal(found.target / UM, [96_005, 96_008, 96_000])
    assert found.target_spec.tolist() == [-2, 2, 0]


def test_a_plan_of_sizes_without_limits_leaves_the_familys_window_in_force():
    found = resolve([around(10, engine="v8"), size(96_008, build="B1")], rows())
    assert (found.target[0] / UM, found.lower[0] / UM, found.upper[0] / UM) == (96_008, -10, 10)


def test_a_deviation_row_gives_an_offset_and_no_target():
    specs = [Spec("bore_diameter", "deviation", "um", lower=-5 * UM, target=3 * UM, upper=11 * UM)]
    found = resolve(specs, rows())
    assert np.isnan(found.target[0])
    assert found.offset[0] / UM == 3
    assert resolve([around(5)], rows()).offset[0] == 0  # blank is nought


def test_a_size_window_without_any_target_gives_no_distances_but_is_named():
    found = resolve(
        [size(None, 40, 60, characteristic="main_clearance")], rows({"characteristic": "main_clearance"})
    )
    assert found.spec.tolist() == [-1]
    assert found.sized.tolist() == [0]
    assert found.passed_over.tolist() == [False]


def test_a_more_specific_deviation_hides_the_size_window_even_without_a_target():
    found = resolve([size(None, 96_000, 96_030), around(5, build="B1")], rows())
    assert found.sized.tolist() == [-1]
    assert found.spec.tolist() == [1]


def test_what_is_not_coded_has_plain_limits_whatever_the_target():
    spec = Spec("ra", "size", "um", upper=40_000)
    found = resolve([spec], rows({"characteristic": "ra"}))
    assert found.upper.tolist() == [40_000]
    assert found.spec.tolist() == [0]
    assert np.isnan(found.lower[0])


def test_one_sided_limits_stay_one_sided():
    found = resolve([Spec("bore_diameter", "deviation", "um", lower=-5 * UM)], rows())
    assert found.lower[0] / UM == -5
    assert np.isnan(found.upper[0])


def test_without_rows_and_without_specifications_nothing_is_in_force():
    assert len(resolve([around(5)], rows().iloc[:0]).spec) == 0
    assert resolve([], rows()).spec.tolist() == [-1]
