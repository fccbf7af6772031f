"""Spreads of bores in blocks: within a block, between blocks, all together, for many series at once."""

from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from qc.stats import fast
from qc.stats.constants import D2_OF_TWO
from qc.stats.segments import Floats, Ints, column, counts, cuts, ratio, reduced

_WORKED_AT_ONCE = 1 << 17
"""Values of the rows that are worked on together: their differences stay in the processor's cache."""


@dataclass(frozen=True, slots=True)
class Spreads:
    """Figures of R series, each field (R,) in the unit of the values, and of their B blocks, (B,).

    A figure that its data cannot give is NaN. `bores` and `blocks` are counts (blocks without a bore left
    out); `ssb` and `sse` are in the unit squared; `negative_between` tells that the estimate of the variance
    between blocks was below zero and is given as 0; `moving_ranges` counts those taken, `moving_range_pairs`
    those of them that share a block with the one before.
    """

    bores: Ints
    blocks: Ints
    mean: Floats
    centre: Floats
    harmonic_bores: Floats
    spread_in_block: Floats
    spread_of_block_means: Floats
    spread_between_blocks: Floats
    spread_short: Floats
    spread_all: Floats
    ssb: Floats
    sse: Floats
    mean_moving_range: Floats
    moving_ranges: Ints
    moving_range_pairs: Ints
    negative_between: NDArray[np.bool_]
    lowest: Floats
    highest: Floats
    block_mean: Floats
    block_spread: Floats
    block_bores: Ints


def spreads(values: ArrayLike, blocks: ArrayLike, rows: ArrayLike, joined: ArrayLike) -> Spreads:
    """Return means and spreads of R series of blocks of bores [unit of values].

    Source: one-way random model, moments: S. R. Searle, G. Casella, C. E. McCulloch, Variance Components
    (1992), ch. 3 (from memory); spread of block means from moving ranges: ISO 7870-2:2013, individual values
    (from memory).

    Parameters
    ----------
    values : (N,) array
        Bore values, sorted by row, then block.
    blocks : (B + 1,) array of int
        Offsets of the blocks into `values`.
    rows : (R + 1,) array of int
        Offsets of the rows (series) into blocks.
    joined : (B,) array of bool
        True where the moving range from the block before may be taken: no event between them renewed the
        wear. The first block of a row is never joined.
    """
    x, block_cuts, row_cuts = column(values), cuts(blocks), cuts(rows)
    flags = np.ascontiguousarray(joined, dtype=np.bool_)
    _refuse_loose_ends(x, block_cuts, row_cuts, flags)
    kernels = fast.compiled("qc.stats.compiled", x.size)
    if kernels is not None:
        return _compiled(kernels, x, block_cuts, row_cuts, flags)
    parts = []
    for first, last in _worked_together(block_cuts[row_cuts]):
        begin, end = row_cuts[first], row_cuts[last]
        start, stop = block_cuts[begin], block_cuts[end]
        parts.append(
            _of_rows(
                x[start:stop],
                block_cuts[begin : end + 1] - start,
                row_cuts[first : last + 1] - begin,
                flags[begin:end],
            )
        )
    if len(parts) == 1:
        return parts[0]
    return Spreads(
        **{f.name: np.concatenate([getattr(part, f.name) for part in parts]) for f in fields(Spreads)}
    )


def _refuse_loose_ends(x: Floats, blocks: Ints, rows: Ints, joined: NDArray[np.bool_]) -> None:
    ends_meet = blocks[0] == 0 and blocks[-1] == x.size and rows[0] == 0 and rows[-1] == blocks.size - 1
    if not ends_meet or joined.size != blocks.size - 1:
        raise ValueError(
            "the offsets must run from 0 to the end: blocks over the values, rows over the blocks"
        )


def _worked_together(row_ends: Ints) -> list[tuple[int, int]]:
    last = row_ends.size - 1
    pieces, first = [], 0
    while first < last:
        until = int(np.searchsorted(row_ends, row_ends[first] + _WORKED_AT_ONCE, side="right")) - 1
        until = min(max(until, first + 1), last)
        pieces.append((first, until))
        first = until
    return pieces or [(0, last)]


def _of_rows(x: Floats, all_blocks: Ints, all_rows: Ints, joined: NDArray[np.bool_]) -> Spreads:
    n_all = counts(all_blocks)
    kept = n_all > 0
    blocks = np.append(all_blocks[:-1][kept], all_blocks[-1])
    rows = np.append(0, np.cumsum(kept))[all_rows]
    n, m, bores = n_all[kept], counts(rows), counts(all_blocks[all_rows])

    shift = np.zeros(m.size)
    shift[bores > 0] = x[all_blocks[all_rows[:-1]][bores > 0]]
    left = x - np.repeat(shift, bores)
    level = reduced(np.add, left, blocks, 0.0) / n
    mean = ratio(reduced(np.add, left, blocks[rows], 0.0), bores)
    centre = ratio(reduced(np.add, level, rows, 0.0), m)
    h = ratio(m.astype(np.float64), reduced(np.add, 1.0 / n, rows, 0.0))

    left -= np.repeat(level, n)
    rest = reduced(np.add, left, blocks, 0.0)
    left *= left
    within = np.maximum(reduced(np.add, left, blocks, 0.0) - rest * rest / n, 0.0)
    sse = reduced(np.add, within, rows, 0.0)
    off_mean = level - np.repeat(mean, m)
    off_centre = level - np.repeat(centre, m)
    ranges, taken, pairs = _moving_ranges(level, rows, kept, joined)
    return _figures(
        _Sums(
            bores=bores,
            blocks=m,
            shift=shift,
            mean=mean,
            centre=centre,
            harmonic_bores=h,
            within=sse,
            about_mean=reduced(np.add, n * off_mean * off_mean, rows, 0.0),
            about_centre=reduced(np.add, off_centre * off_centre, rows, 0.0),
            moving_ranges=ranges,
            taken=taken,
            pairs=pairs,
            lowest=reduced(np.minimum, x, blocks[rows], np.nan),
            highest=reduced(np.maximum, x, blocks[rows], np.nan),
            block_mean=_over_all(np.repeat(shift, m) + level, kept),
            block_spread=_over_all(np.sqrt(ratio(within, n - 1)), kept),
            block_bores=n_all,
        )
    )


@dataclass(frozen=True, slots=True)
class _Sums:
    """What is added up over the bores and blocks of each row; `mean` and `centre` less the `shift`."""

    bores: Ints
    blocks: Ints
    shift: Floats
    mean: Floats
    centre: Floats
    harmonic_bores: Floats
    within: Floats
    about_mean: Floats
    about_centre: Floats
    moving_ranges: Floats
    taken: Ints
    pairs: Ints
    lowest: Floats
    highest: Floats
    block_mean: Floats
    block_spread: Floats
    block_bores: Ints


def _compiled(kernels: Any, x: Floats, blocks: Ints, rows: Ints, joined: NDArray[np.bool_]) -> Spreads:
    of_row, of_block = np.full((10, rows.size - 1), np.nan), np.empty((2, blocks.size - 1))
    of_row[[0, 4, 5, 6, 9]] = 0.0
    numbers = np.zeros((4, rows.size - 1), dtype=np.intp)
    fast.in_threads(
        lambda first, last: kernels.rows_of_blocks(
            x, blocks, rows, joined, of_row, numbers, of_block, first, last
        ),
        blocks[rows],
    )
    bores, m, taken, pairs = numbers
    shift, mean, centre, h, within, about_mean, about_centre, lowest, highest, ranges = of_row
    return _figures(
        _Sums(
            bores, m, shift, mean, centre, h, within, about_mean, about_centre, ranges, taken, pairs, lowest,
            highest, of_block[0], of_block[1], counts(blocks),
        )
    )  # fmt: skip


def _figures(s: _Sums) -> Spreads:
    bores, m, h = s.bores, s.blocks, s.harmonic_bores
    ssb = h * s.about_centre
    in_block_squared = ratio(s.within, bores - m)
    means_squared = ratio(ssb / h, m - 1)
    between_squared = means_squared - in_block_squared / h
    moving = ratio(s.moving_ranges, s.taken)
    spread_all = np.sqrt(ratio(s.within + s.about_mean, bores - 1))
    return Spreads(
        bores=bores,
        blocks=m,
        mean=s.shift + s.mean,
        centre=s.shift + s.centre,
        harmonic_bores=h,
        spread_in_block=np.sqrt(in_block_squared),
        spread_of_block_means=np.where(bores == m, spread_all, np.sqrt(means_squared)),
        spread_between_blocks=np.sqrt(np.maximum(between_squared, 0.0)),
        spread_short=_short(moving / D2_OF_TWO, in_block_squared, h),
        spread_all=spread_all,
        ssb=ssb,
        sse=s.within,
        mean_moving_range=moving,
        moving_ranges=s.taken,
        moving_range_pairs=s.pairs,
        negative_between=np.nan_to_num(between_squared) < 0,
        lowest=s.lowest,
        highest=s.highest,
        block_mean=s.block_mean,
        block_spread=s.block_spread,
        block_bores=s.block_bores,
    )


def _over_all(figures: Floats, kept: NDArray[np.bool_]) -> Floats:
    out = np.full(kept.size, np.nan)
    out[kept] = figures
    return out


def _short(moving_spread: Floats, in_block_squared: Floats, h: Floats) -> Floats:
    # Without a block of two bores the spread within is no part of the figure, and the moving ranges are all
    # there is.
    one_each = np.isnan(in_block_squared)
    between = np.maximum(moving_spread**2 - in_block_squared / h, 0.0)
    return np.where(one_each, moving_spread, np.sqrt(between + in_block_squared))


def _moving_ranges(
    level: Floats, rows: Ints, kept: NDArray[np.bool_], joined: NDArray[np.bool_]
) -> tuple[Floats, Ints, Ints]:
    breaks = np.cumsum(~joined)[kept]
    row_of = np.repeat(np.arange(rows.size - 1), counts(rows))
    taken = np.zeros(level.size, dtype=np.bool_)
    taken[1:] = (row_of[1:] == row_of[:-1]) & (breaks[1:] == breaks[:-1])
    paired = taken.copy()
    paired[1:] &= taken[:-1]
    ranges = np.zeros(level.size)
    ranges[1:] = np.abs(np.diff(level))
    ranges[~taken] = 0.0
    number = reduced(np.add, taken.astype(np.float64), rows, 0.0).astype(np.intp)
    pairs = reduced(np.add, paired.astype(np.float64), rows, 0.0).astype(np.intp)
    return reduced(np.add, ranges, rows, 0.0), number, pairs
