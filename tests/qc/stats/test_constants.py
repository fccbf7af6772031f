import numpy as np
import pytest
from scipy import stats

from qc.errors import TooLittleData
from qc.stats import constants


@pytest.mark.parametrize("n", [2, 3, 8, 40, 300])
def test_range_constants_agree_with_the_expected_order_statistics(n):
    # Independent route: the mean of the largest of n by quadrature over its own density.
    largest, _ = stats.norm.expect(lambda x: x * n * stats.norm.cdf(x) ** (n - 1), lb=-10, ub=10), None
    assert constants.d2(n) == pytest.approx(2 * largest, rel=1e-9)


def test_range_constants_agree_with_simulated_ranges():
    rng = np.random.default_rng(8)
    ranges = np.ptp(rng.normal(size=(200_000, 6)), axis=1)
    assert constants.d2(6) == pytest.approx(ranges.mean(), abs=4 * ranges.std() / np.sqrt(ranges.size))
    assert constants.d3(6) == pytest.approx(ranges.std(), rel=0.01)


def test_a_group_of_one_has_no_range_and_the_refusal_tells_the_cure():
    with pytest.raises(TooLittleData, match="larger groups"):
        constants.d2(1)
    with pytest.raises(TooLittleData, match="larger groups"):
        constants.c4(1)
