import numpy as np
import pytest
from scipy import stats

from qc.errors import QuestionError
from qc.stats.proportions import clopper_pearson, equivalent_bores


@pytest.mark.parametrize(("successes", "n"), [(0, 12), (12, 12), (1, 3), (4, 240), (17, 20)])
def test_interval_of_a_share_agrees_with_the_reference_library(successes, n):
    theirs = stats.binomtest(successes, n).proportion_ci(0.95, "exact")
    ours = clopper_pearson(successes, n, 0.95)
    assert (ours.lower, ours.upper) == (
        pytest.approx(theirs.low, abs=1e-12),
        pytest.approx(theirs.high, abs=1e-12),
    )


def test_ten_of_a_hundred_gives_the_interval_of_the_tables():
    # From memory: Geigy Scientific Tables, 10 of 100, 95 %: 4.9 % to 17.6 %.
    ours = clopper_pearson(10, 100)
    assert (ours.lower, ours.upper) == (pytest.approx(0.049, abs=5e-4), pytest.approx(0.176, abs=5e-4))


def test_a_broken_number_of_bores_lies_between_its_neighbours():
    low, middle, high = (clopper_pearson(n / 10, n) for n in (20, 25.5, 30))
    assert low.lower < middle.lower < high.lower
    assert high.upper < middle.upper < low.upper


def test_bores_of_blocks_that_differ_count_as_their_blocks():
    assert equivalent_bores(160, 20, between=1.0, within=0.0) == 20
    assert equivalent_bores(160, 20, between=0.0, within=1.0) == 160
    assert equivalent_bores(160, 20, between=1.0, within=1.0) == pytest.approx(160 / 4.5)
    assert equivalent_bores(8, 1, between=np.nan, within=1.0) == 1
    assert equivalent_bores(20, 20, between=np.nan, within=np.nan) == 20


def test_more_successes_than_asked_are_refused():
    with pytest.raises(QuestionError, match="no share"):
        clopper_pearson(5, 4)
