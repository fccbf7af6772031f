"""Spreads against a plain reckoning one series at a time, and what must hold whatever the numbers."""

import statistics
from math import sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from qc.stats.spreads import spreads

bores = st.lists(st.floats(-500, 500, allow_subnormal=False), max_size=9)
series = st.lists(bores, max_size=8)
batches = st.lists(series, min_size=1, max_size=6)
PER_ROW = [f for f in spreads([0.0, 1.0], [0, 2], [0, 1], [True]).__slots__ if not f.startswith("block_")]


def in_columns(batch):
    values = np.array([value for row in batch for block in row for value in block], dtype=float)
    blocks = np.cumsum([0, *(len(block) for row in batch for block in row)])
    rows = np.cumsum([0, *(len(row) for row in batch)])
    return values, blocks, rows


def found(batch, joined=None):
    values, blocks, rows = in_columns(batch)
    return spreads(values, blocks, rows, np.ones(blocks.size - 1, dtype=bool) if joined is None else joined)


def squares(values, about):
    return sum((value - about) ** 2 for value in values)


@settings(max_examples=40, deadline=None)
@given(batches)
def test_every_figure_agrees_with_its_definition(batch):
    ours = found(batch)
    for r, row in enumerate(batch):
        filled = [block for block in row if block]
        everything = [value for block in filled for value in block]
        m, n = len(filled), len(everything)
        assert (ours.blocks[r], ours.bores[r]) == (m, n)
        if n == 0:
            continue
        means = [statistics.fmean(block) for block in filled]
        h = m / sum(1 / len(block) for block in filled)
        within = sum(squares(block, mean) for block, mean in zip(filled, means, strict=True))
        assert ours.mean[r] == pytest.approx(statistics.fmean(everything), abs=1e-9)
        assert ours.centre[r] == pytest.approx(statistics.fmean(means), abs=1e-9)
        assert ours.harmonic_bores[r] == pytest.approx(h)
        assert ours.sse[r] == pytest.approx(within, rel=1e-9, abs=1e-6)
        assert ours.ssb[r] == pytest.approx(h * squares(means, statistics.fmean(means)), rel=1e-9, abs=1e-6)
        assert (ours.lowest[r], ours.highest[r]) == (min(everything), max(everything))
        if n > 1:
            assert ours.spread_all[r] == pytest.approx(statistics.stdev(everything), rel=1e-6, abs=1e-6)
        if n > m:
            assert ours.spread_in_block[r] == pytest.approx(sqrt(within / (n - m)), rel=1e-6, abs=1e-6)
        if n > m > 1:
            of_means = statistics.variance(means)
            between = of_means - within / (n - m) / h
            ranges = [abs(b - a) for a, b in zip(means, means[1:], strict=False)]
            moving = (statistics.fmean(ranges) / 1.1283791670955126) ** 2
            short = max(0.0, moving - within / (n - m) / h) + within / (n - m)
            assert ours.spread_of_block_means[r] == pytest.approx(sqrt(of_means), rel=1e-6, abs=1e-6)
            assert ours.spread_between_blocks[r] ** 2 == pytest.approx(max(0, between), rel=1e-6, abs=1e-6)
            assert ours.spread_short[r] ** 2 == pytest.approx(short, rel=1e-6, abs=1e-6)


@settings(max_examples=40, deadline=None)
@given(batches)
def test_a_series_alone_gives_the_digits_of_the_batch(batch):
    together = found(batch)
    for r, row in enumerate(batch):
        alone = found([row])
        for name in PER_ROW:
            np.testing.assert_array_equal(getattr(together, name)[r], getattr(alone, name)[0], err_msg=name)


def test_large_batches_are_cut_for_the_cache_without_a_trace():
    rng = np.random.default_rng(2)
    values, blocks = rng.normal(size=600_000), np.arange(0, 600_001, 8)
    rows = np.array([0, 10, 40_000, 40_000, 60_000, 75_000])
    joined = rng.random(75_000) < 0.9
    together = spreads(values, blocks, rows, joined)
    for r, (first, last) in enumerate(zip(rows, rows[1:], strict=False)):
        start, stop = blocks[first], blocks[last]
        alone = spreads(
            values[start:stop], blocks[first : last + 1] - start, [0, last - first], joined[first:last]
        )
        for name in PER_ROW:
            np.testing.assert_array_equal(getattr(together, name)[r], getattr(alone, name)[0], err_msg=name)
        np.testing.assert_array_equal(together.block_mean[first:last], alone.block_mean)
        np.testing.assert_array_equal(together.block_spread[first:last], alone.block_spread)


whole = st.lists(st.lists(st.integers(-400, 400), min_size=1, max_size=9), min_size=2, max_size=8)


@settings(max_examples=40, deadline=None)
@given(whole, st.integers(-(10**6), 10**6))
def test_shifting_the_values_shifts_the_means_and_leaves_the_spreads(row, shift):
    plain, moved = found([row]), found([[[value + shift for value in block] for block in row]])
    for name in ("mean", "centre", "lowest", "highest"):
        np.testing.assert_allclose(getattr(moved, name), getattr(plain, name) + shift, rtol=1e-15, atol=1e-9)
    for name in ("spread_in_block", "spread_between_blocks", "spread_short", "spread_all", "ssb", "sse"):
        np.testing.assert_array_equal(getattr(moved, name), getattr(plain, name), err_msg=name)


@settings(max_examples=40, deadline=None)
@given(whole, st.sampled_from([2.0, 0.5, 1024.0, -4.0]))
def test_another_unit_scales_means_and_spreads(row, factor):
    plain, scaled = found([row]), found([[[value * factor for value in block] for block in row]])
    for name in ("mean", "centre"):
        np.testing.assert_array_equal(getattr(scaled, name), getattr(plain, name) * factor)
    for name in ("spread_in_block", "spread_between_blocks", "spread_short", "spread_all"):
        np.testing.assert_array_equal(getattr(scaled, name), getattr(plain, name) * abs(factor), err_msg=name)


def test_moving_range_is_not_taken_across_an_event():
    row = [[0.0], [1.0], [11.0], [13.0]]
    ours = found([row], [False, True, False, True])
    assert ours.moving_ranges[0] == 2
    assert ours.moving_range_pairs[0] == 0
    assert ours.mean_moving_range[0] == (1 + 2) / 2


def test_the_first_block_of_a_row_is_never_joined_to_the_row_before():
    ours = found([[[0.0], [1.0]], [[100.0], [103.0]]])
    assert ours.moving_ranges.tolist() == [1, 1]
    assert ours.mean_moving_range.tolist() == [1.0, 3.0]


def test_an_event_at_an_empty_block_still_parts_its_neighbours():
    row = [[0.0], [], [5.0], [6.0]]
    assert found([row], [False, False, True, True]).mean_moving_range[0] == 1.0
    assert found([row], [False, True, True, True]).mean_moving_range[0] == (5 + 1) / 2


def test_one_bore_a_block_leaves_the_spread_within_unknown():
    ours = found([[[1.0], [4.0], [2.0]]])
    assert np.isnan(ours.spread_in_block[0])
    assert np.isnan(ours.spread_between_blocks[0])
    assert ours.spread_of_block_means[0] == ours.spread_all[0] == pytest.approx(statistics.stdev([1, 4, 2]))
    assert ours.spread_short[0] == pytest.approx(2.5 / 1.1284, rel=1e-4)


def test_a_negative_variance_between_blocks_is_nought_and_said():
    ours = found([[[0.0, 10.0], [0.0, 10.0], [1.0, 9.0]]])
    assert ours.spread_between_blocks[0] == 0
    assert ours.negative_between[0]
    assert not found([[[0.0, 1.0], [10.0, 11.0], [20.0, 21.0]]]).negative_between[0]


def test_series_without_blocks_give_no_figure_and_no_warning():
    ours = found([[], [[]], [[1.0, 2.0]]])
    assert ours.blocks.tolist() == [0, 0, 1]
    assert np.isnan(ours.mean[:2]).all()
    assert np.isnan(ours.block_mean[0])
    assert ours.spread_all[2] == pytest.approx(sqrt(0.5))


def test_offsets_that_leave_values_out_are_refused():
    with pytest.raises(ValueError, match="from 0 to the end"):
        spreads([1.0, 2.0, 3.0], [0, 2], [0, 1], [True])
