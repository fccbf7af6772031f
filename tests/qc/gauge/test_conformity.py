import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.errors import QuestionError
from qc.gauge.conformity import NEVER, guard_band, verdict, verdicts

# Limits 25 to 50 um, u = 2.8 um, so g = 1.645 x 2.8 = 4.606 um (ISO 14253-1:2017, factor from memory).


@pytest.mark.parametrize(
    ("y", "expected"),
    [
        (20.0, "does_not_conform"),
        (20.3, "does_not_conform"),
        (20.5, "undecided"),
        (25.0, "undecided"),
        (29.5, "undecided"),
        (29.7, "conforms"),
        (45.3, "conforms"),
        (45.5, "undecided"),
        (54.5, "undecided"),
        (54.7, "does_not_conform"),
    ],
)
def test_zones_are_the_limits_moved_by_the_guard_band(y, expected):
    assert verdict(y, 25.0, 50.0, 2.8).verdict == expected


def test_a_clearance_window_of_25_keeps_16():
    # u(bore) = u(journal) = 2 um: u(C) = 2.8, g = 4.6, 25 - 9.2 = 16 um (arithmetic, in the trade brief).
    assert 25.0 - 2 * guard_band(np.hypot(2.0, 2.0)) == pytest.approx(15.7, abs=0.05)


def test_on_the_edge_of_a_zone_counts_as_inside_it():
    g = guard_band(2.0)
    assert list(verdicts([10.0 + g, 20.0 + g, 10.0 - g], 10.0, 20.0, 2.0)) == [
        "conforms",
        "undecided",
        "undecided",
    ]


def test_on_a_limit_conforms_where_nothing_is_taken_off():
    found = verdict(50.0, 25.0, 50.0, None)
    assert (found.verdict, found.guarded, found.guard_band) == ("conforms", False, 0.0)
    assert "as read" in found.words


def test_a_gauge_too_coarse_for_the_tolerance_can_never_show_conformity():
    found = verdict(5.0, 0.0, 10.0, 10.0 / (2 * 1.645))
    assert found.verdict == "undecided"
    assert not found.can_conform
    assert found.words == NEVER
    assert verdict(5.0, 0.0, 10.0, 3.0).can_conform


def test_a_limit_on_one_side_only_leaves_the_other_open():
    assert verdict(-500.0, None, 10.0, 1.0).verdict == "conforms"
    assert verdict(12.0, float("nan"), 10.0, 1.0).verdict == "does_not_conform"


def test_without_limits_or_value_there_is_no_verdict():
    assert verdict(5.0, None, None, 1.0).verdict is None
    missing = verdict(float("nan"), 0.0, 10.0, 1.0)
    assert missing.verdict is None
    assert missing.words


@given(st.floats(-50, 50), st.floats(0, 8))
def test_a_better_gauge_never_turns_one_answer_into_the_other(y, u):
    coarse, fine = verdict(y, -10.0, 10.0, u).verdict, verdict(y, -10.0, 10.0, u / 2).verdict
    assert coarse in {fine, "undecided"}


def test_wrong_entries_are_refused():
    with pytest.raises(QuestionError, match="above the upper"):
        verdict(1.0, 10.0, 0.0, 1.0)
    with pytest.raises(QuestionError, match="gauge's entry"):
        verdict(1.0, 0.0, 10.0, -1.0)
