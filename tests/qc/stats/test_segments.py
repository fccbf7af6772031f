import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from qc.stats import segments

KERNELS = (
    segments.sums,
    segments.means,
    segments.standard_deviations,
    segments.lowest,
    segments.highest,
    segments.medians,
    lambda values, offsets: segments.quantiles(values, offsets, 0.9),
)

numbers = st.floats(-1e6, 1e6, allow_subnormal=False)
batches = st.lists(st.lists(numbers, max_size=60), min_size=1, max_size=12)


def joined_up(batch):
    offsets = np.cumsum([0, *(len(segment) for segment in batch)])
    return np.array([value for segment in batch for value in segment], dtype=float), offsets


@settings(max_examples=40, deadline=None)
@given(batches)
def test_a_segment_alone_gives_the_digits_of_the_batch(batch):
    values, offsets = joined_up(batch)
    for kernel in KERNELS:
        together = kernel(values, offsets)
        alone = [kernel(np.array(segment, dtype=float), [0, len(segment)])[0] for segment in batch]
        np.testing.assert_array_equal(together, alone)


def test_long_segments_at_any_place_of_memory_give_the_same_digits():
    rng = np.random.default_rng(11)
    column = rng.normal(size=40_000)
    for start in (0, 1, 3, 7, 1234):
        moved = np.concatenate([rng.normal(size=start), column])
        assert segments.sums(moved, [start, moved.size])[0] == segments.sums(column, [0, column.size])[0]
        apart = np.empty(2 * column.size)[::2]
        apart[:] = column
        assert segments.sums(apart, [0, column.size])[0] == segments.sums(column, [0, column.size])[0]


@settings(max_examples=40, deadline=None)
@given(batches)
def test_figures_agree_with_numpy_segment_by_segment(batch):
    values, offsets = joined_up(batch)
    for segment, total, mean, spread, low, high, middle in zip(
        batch, *(kernel(values, offsets) for kernel in KERNELS[:6]), strict=True
    ):
        scale = max(map(abs, segment), default=0.0)
        assert total == pytest.approx(sum(segment), abs=1e-12 * scale * max(len(segment), 1))
        if segment:
            assert mean == pytest.approx(np.mean(segment), abs=1e-12 * scale)
            assert (low, high) == (min(segment), max(segment))
            assert middle == pytest.approx(np.median(segment), abs=1e-15 * scale)
        else:
            assert np.isnan([mean, low, high, middle]).all()
        if len(segment) > 1:
            assert spread == pytest.approx(np.std(segment, ddof=1), abs=1e-9 * scale)
        else:
            assert np.isnan(spread)


@settings(max_examples=40, deadline=None)
@given(batches, st.lists(st.floats(0.001, 0.999), min_size=1, max_size=4))
def test_quantiles_follow_the_rule_of_the_handbook_as_numpy_computes_it(batch, p):
    values, offsets = joined_up(batch)
    ours = segments.quantiles(values, offsets, p)
    for segment, row in zip(batch, ours, strict=True):
        if segment:
            scale = max(map(abs, segment))
            np.testing.assert_allclose(
                row, np.quantile(segment, p, method="weibull"), rtol=0, atol=1e-9 * scale + 1e-300
            )


def test_beyond_the_ends_the_quantile_is_the_end():
    assert segments.quantiles([3.0, 1.0, 2.0], [0, 3], [0.0, 0.2, 0.8, 1.0]).tolist() == [
        [1.0, 1.0, 3.0, 3.0]
    ]


def test_segments_of_many_lengths_and_none_are_kept_apart():
    values = np.arange(10.0)
    assert segments.counts([0, 0, 3, 3, 10, 10]).tolist() == [0, 3, 0, 7, 0]
    np.testing.assert_array_equal(
        segments.medians(values, [0, 0, 3, 3, 10, 10]), [np.nan, 1.0, np.nan, 6.0, np.nan]
    )
    np.testing.assert_array_equal(segments.sums(values, [2, 2, 3]), [0.0, 2.0])
