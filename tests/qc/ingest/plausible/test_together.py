"""Readings of a table as one normal vector: components by hand, chances against scipy."""

import math
from types import SimpleNamespace

import numpy as np
import pytest
from scipy import stats

from qc.ingest.plausible.together import Part, Together, components

AT = (3, 4, 7, 9)
COV = np.array([[4.0, 2.0, 2.0, 1.0], [2.0, 5.0, 2.0, 1.0], [2.0, 2.0, 6.0, 1.0], [1.0, 1.0, 1.0, 3.0]])
OFF = np.array([1.0, -2.0, 0.5, 2.0])
STEP = np.full(4, 1.2)


def part(off, table=(0, 0, 0, 0)):
    """Two bores, each read at two clock positions of one depth."""
    places = [("cyl-1", 0), ("cyl-1", 90), ("cyl-2", 0), ("cyl-2", 90)]
    readings = tuple(SimpleNamespace(feature=f, station=10, clock=c) for f, c in places)
    return Part(readings, np.array(table), np.array(off, dtype=float))


def test_bores_that_differ_and_nothing_else_leave_nothing_to_the_readings():
    # products of pairs by hand: with itself 9, within a bore 9, across bores -9; a bore adds 9 - (-9)
    found = components([part((3, 3, -3, -3))], [0.0])
    assert found[:, 0, 0] == pytest.approx([0, 0, 0, 0, 0, 18, 0, 0])


def test_clock_positions_that_differ_are_a_pattern_of_all_bores():
    # products by hand: same clock 4 in either bore, other clock -4; the clock adds 8
    found = components([part((2, -2, 2, -2))], [0.0])
    assert found[:, 0, 0] == pytest.approx([0, 0, 0, 8, 0, 0, 0, 0])


def test_what_the_gauges_step_adds_is_no_difference_of_readings():
    # products by hand: with itself 1, any other pair -1/3 on average over these three
    parts = [part(o) for o in ((1, 1, -1, -1), (1, -1, 1, -1), (1, -1, -1, 1))]
    plain, less = (components(parts, [noise])[-1, 0, 0] for noise in (0.0, 0.25))
    assert plain == pytest.approx(4 / 3)
    assert less == pytest.approx(4 / 3 - 0.25)


def test_two_states_share_no_more_than_each_has():
    one, other = part((3, 3, -3, -3)), part((6, 6, -6, -6))
    both = Part(one.readings + other.readings, np.repeat([0, 1], 4), np.concatenate((one.off, other.off)))
    bore = components([both], [0.0, 0.0])[5]
    assert bore == pytest.approx(np.array([[18, 36], [36, 72]]))
    assert np.linalg.eigvalsh(bore).min() >= -1e-9


def test_one_reading_is_foretold_from_the_others_as_by_regression():
    rest = [0, 1, 3]
    weight = np.linalg.lstsq(COV[np.ix_(rest, rest)], COV[rest, 2], rcond=None)[0]
    mean = float(weight @ OFF[rest])
    # what the step adds is between the figure and the size, so not in the size's own spread
    spread = math.sqrt(COV[2, 2] - float(weight @ COV[rest, 2]) - 1.2**2 / 12)
    low, high = stats.norm(mean, spread).cdf([OFF[2] - 0.6, OFF[2] + 0.6])
    assert Together(AT, OFF, COV, STEP).chance([7]) == pytest.approx(math.log(high - low), rel=1e-9)


def test_the_first_of_a_run_is_believed_when_it_is_given():
    told = Together(AT, OFF, COV, STEP)
    assert told.chance([4, 7], [4]) == pytest.approx(told.chance([7]), rel=1e-12)
    assert told.chance([4, 7]) < told.chance([7])


def test_readings_together_have_nearly_the_chance_of_their_box():
    # against Genz's integration in scipy; steps that are fine beside the spreads
    step = np.full(4, 0.4)
    size = COV - np.diag(step**2 / 12)
    box = stats.multivariate_normal(np.zeros(4), size).cdf(OFF + 0.2, lower_limit=OFF - 0.2)
    assert Together(AT, OFF, COV, step).chance(list(AT)) == pytest.approx(math.log(box), abs=0.02)


def test_a_figure_far_from_what_is_foretold_counts_as_one_in_a_hundred_and_no_less():
    far = Together(AT, np.array([60.0, 0.0, 0.0, 0.0]), COV, STEP)
    assert far.chance([3]) == pytest.approx(math.log(0.01))
