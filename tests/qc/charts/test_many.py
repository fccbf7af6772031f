import numpy as np
import pytest

from qc.charts import many, shewhart
from qc.errors import TooLittleData
from qc.stats.spreads import spreads


def shop(seed=1, sizes=(30, 2, 55), bores=8):
    rows = np.append(0, np.cumsum(sizes))
    values = np.round(np.random.default_rng(seed).normal(3, 2, (rows[-1], bores)), 1)
    return values, np.arange(rows[-1] + 1) * bores, rows


def test_limits_of_many_series_are_those_of_each_alone():
    values, blocks, rows = shop()
    joined = np.ones(rows[-1], dtype=bool)
    found = spreads(values.ravel(), blocks, rows, joined)
    single, ranged = many.of_single_values(found), many.of_means_and_ranges(values.ravel(), blocks, rows)
    for i, (begin, end) in enumerate(zip(rows[:-1], rows[1:], strict=True)):
        own = values[begin:end]
        for limits, alone in (
            (single, shewhart.individuals(own.mean(axis=1))),
            (ranged, shewhart.xbar_r(own)),
        ):
            expected = (alone.location.center, alone.location.lower, alone.location.upper, alone.sigma)
            given = (limits.center[i], limits.lower[i], limits.upper[i], limits.sigma[i])
            assert given == pytest.approx(expected, rel=1e-12)


def test_block_means_beyond_the_limits_of_their_own_series_are_told():
    limits = many.ManyLimits(*(np.array(a) for a in ([0.0, 9.0], [-1.0, 8.0], [1.0, 10.0], [0.3, 0.3])))
    assert many.beyond([0.5, 1.5, 8.5, 0.5], limits, [0, 2, 4]).tolist() == [False, True, False, True]


def test_limits_from_ranges_refuse_blocks_of_unlike_numbers():
    with pytest.raises(TooLittleData, match="one and the same number"):
        many.of_means_and_ranges([1.0, 2.0, 3.0], [0, 1, 3], [0, 2])
