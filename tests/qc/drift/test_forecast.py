import numpy as np
import pytest
from scipy.stats import t as t_distribution

from qc.drift.forecast import bores_to_limit
from qc.errors import QuestionError


def left(level=4.0, slope=0.1, cov=((0.04, 0.0), (0.0, 1e-4)), limit=12.0, toward="upper", **more):
    return bores_to_limit([level], [slope], [cov], 30, limit, toward=toward, scale=50.0, **more)


def test_median_is_where_the_line_meets_the_limit():
    # (12 - 4)/0.1 = 80 by hand.
    assert left().median == pytest.approx(80.0, abs=1e-6)
    assert left(level=-4.0, slope=-0.1, limit=-12.0, toward="lower").median == pytest.approx(80.0, abs=1e-6)


def test_interval_of_one_line_is_fiellers():
    # Roots of (level + slope d - limit)^2 = t^2 var(d), Fieller (1954), by the quadratic formula.
    found = left()
    t2 = t_distribution.ppf(0.95, 30) ** 2
    a, b, c = 0.1**2 - t2 * 1e-4, 2 * 0.1 * (4.0 - 12.0), (4.0 - 12.0) ** 2 - t2 * 0.04
    roots = sorted((-b + s * np.sqrt(b * b - 4 * a * c)) / (2 * a) for s in (-1, 1))
    assert (found.lower, found.upper) == pytest.approx(roots, rel=1e-6)
    assert found.confidence == 0.9


def test_a_line_beyond_the_limit_has_none_left():
    assert left(level=13.0).median == 0.0


def test_a_slope_that_may_be_nought_has_no_end():
    found = left(cov=((0.04, 0.0), (0.0, 0.01)))
    assert found.upper is None
    assert found.median == pytest.approx(80.0, abs=1e-6)
    assert left(slope=-0.1).median is None


def test_without_an_end_all_that_may_be_missed_lies_before_the_interval():
    # Student's t of the distance at the lower end is its 10 % point, by scipy's own quantile.
    found = left(cov=((0.04, 0.0), (0.0, 0.01)))
    d = found.lower
    assert (12 - 4 - 0.1 * d) / np.sqrt(0.04 + 0.01 * d * d) == pytest.approx(t_distribution.ppf(0.9, 30))


def test_two_possible_lines_widen_the_interval():
    one = left()
    two = bores_to_limit(
        [4.0, 4.0], [0.1, 0.2], [((0.04, 0.0), (0.0, 1e-4))] * 2, 30, 12.0, toward="upper", scale=50.0,
        weights=[0.5, 0.5],
    )  # fmt: skip
    assert two.lower < one.lower
    assert two.median < one.median
    assert two.upper == pytest.approx(one.upper, rel=0.1)


def test_weights_that_do_not_add_up_are_refused():
    with pytest.raises(QuestionError, match="add up to 1"):
        left(weights=[0.5])
