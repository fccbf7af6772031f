import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.derived.bore import bore_size, least_and_greatest


def test_bore_size_is_the_mean_over_all_depths_and_directions():
    # Arithmetic by hand: 2, 4, 6, 8, 1, 3 make 24 over 6.
    bore = 96_000.0 + np.array([[[2.0, 4.0], [6.0, 8.0], [1.0, 3.0]]])
    assert bore_size(bore) == pytest.approx([96_004.0], abs=1e-9)


def test_a_missing_planned_position_leaves_no_bore_size():
    bores = np.array([[[2.0, 4.0], [6.0, np.nan]], [[2.0, 4.0], [6.0, 8.0]]])
    assert np.isnan(bore_size(bores)[0])
    assert bore_size(bores)[1] == 5.0


def test_a_size_that_is_one_number_a_bore_stays_as_it_is():
    assert list(bore_size([3.0, 4.0])) == [3.0, 4.0]


def test_verdict_takes_the_least_and_the_greatest_local_size():
    least, greatest = least_and_greatest(np.array([[[2.0, 4.0], [6.0, -1.0]]]))
    assert (least[0], greatest[0]) == (-1.0, 6.0)


@given(st.lists(st.integers(-2000, 2000), min_size=6, max_size=6), st.integers(-100_000, 100_000))
def test_a_bore_larger_by_a_whole_number_is_larger_by_just_that(readings, more):
    bore = np.array(readings, dtype=float).reshape(1, 3, 2)
    assert bore_size(bore + more)[0] == pytest.approx(bore_size(bore)[0] + more, abs=1e-9)
