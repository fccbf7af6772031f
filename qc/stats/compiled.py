"""Compiled kernels of `qc.stats.segments` and `qc.stats.spreads`; asked through `qc.stats.fast` only.

Sums run in the order of `np.add.reduceat`, pairwise by eights (N. J. Higham, SIAM J. Sci. Comput. 14 (1993)
783-799, and numpy's own source), so every figure has numpy's very digits. No reordering of floats is allowed
(no fastmath). What a cached kernel calls stands in this file: numba looks for changes in no other.
"""

import numpy as np
from numba import njit

_BLOCK = 128
"""Values that numpy adds in one go before it halves."""

_FEW = 8
"""Values of a block, the first and seven more, that numpy adds one by one."""


@njit(cache=True, nogil=True)
def _by_eights(a, at, n, level):
    if n < 8:
        total = -0.0
        for i in range(at, at + n):
            total += a[i] - level
        return total
    r0, r1, r2, r3 = a[at] - level, a[at + 1] - level, a[at + 2] - level, a[at + 3] - level
    r4, r5, r6, r7 = a[at + 4] - level, a[at + 5] - level, a[at + 6] - level, a[at + 7] - level
    even = n - n % 8
    for i in range(at + 8, at + even, 8):
        r0 += a[i] - level
        r1 += a[i + 1] - level
        r2 += a[i + 2] - level
        r3 += a[i + 3] - level
        r4 += a[i + 4] - level
        r5 += a[i + 5] - level
        r6 += a[i + 6] - level
        r7 += a[i + 7] - level
    total = ((r0 + r1) + (r2 + r3)) + ((r4 + r5) + (r6 + r7))
    for i in range(at + even, at + n):
        total += a[i] - level
    return total


@njit(cache=True, nogil=True)
def _pairwise(a, at, n, level):
    if n <= _BLOCK:
        return _by_eights(a, at, n, level)
    half = n // 2
    half -= half % 8
    return _pairwise(a, at, half, level) + _pairwise(a, at + half, n - half, level)


@njit(cache=True, nogil=True)
def _added_less(a, at, n, level):
    """Sum of values less a level as `np.add.reduceat` gives it: the first, and pairwise that of the rest."""
    return (a[at] - level) + _pairwise(a, at + 1, n - 1, level) if n > 0 else 0.0


@njit(cache=True, nogil=True)
def _added(a, at, n):
    # a value less nought is that value, to the bit
    return _added_less(a, at, n, 0.0)


@njit(cache=True, nogil=True)
def _taken_off(x, at, n, level, out):
    for i in range(n):
        out[i] = x[at + i] - level


@njit(cache=True, nogil=True)
def _extremes(x, at, n):
    """Least and greatest of n values, NaN where one is; in four lanes, as a comparison waits for the last."""
    if n == 0:
        return np.nan, np.nan
    l0 = l1 = l2 = l3 = h0 = h1 = h2 = h3 = x[at]
    sure = True
    fours = at + n - n % 4
    for i in range(at, fours, 4):
        a, b, c, d = x[i], x[i + 1], x[i + 2], x[i + 3]
        l0, l1, l2, l3 = _less(a, l0), _less(b, l1), _less(c, l2), _less(d, l3)
        h0, h1, h2, h3 = _more(a, h0), _more(b, h1), _more(c, h2), _more(d, h3)
        sure &= (a == a) & (b == b) & (c == c) & (d == d)
    for i in range(fours, at + n):
        l0, h0 = _less(x[i], l0), _more(x[i], h0)
        sure &= x[i] == x[i]
    if not sure:
        return np.nan, np.nan
    return _less(_less(l0, l1), _less(l2, l3)), _more(_more(h0, h1), _more(h2, h3))


@njit(cache=True, nogil=True)
def _less(v, low):
    return v if v < low else low


@njit(cache=True, nogil=True)
def _more(v, high):
    return v if v > high else high


@njit(cache=True, nogil=True)
def extremes(x, offsets, low, high, first, last):
    """Least and greatest value of the segments first to last."""
    for s in range(first, last):
        low[s], high[s] = _extremes(x, offsets[s], offsets[s + 1] - offsets[s])


@njit(cache=True, nogil=True)
def shifted_sums(x, offsets, shift, total, first, last):
    """First value of each segment, and the sum of all values less that."""
    for s in range(first, last):
        at, n = offsets[s], offsets[s + 1] - offsets[s]
        shift[s] = x[at] if n else 0.0
        total[s] = _sum_less(x, at, n, shift[s])


@njit(cache=True, nogil=True)
def means(x, offsets, out, first, last):
    """Mean of each segment that has values."""
    for s in range(first, last):
        at, n = offsets[s], offsets[s + 1] - offsets[s]
        if n:
            out[s] = x[at] + _sum_less(x, at, n, x[at]) / n


@njit(cache=True, nogil=True)
def _sum_less(x, at, n, level):
    """Sum of the values less a level, few of them one by one."""
    if n > _FEW:
        return _added_less(x, at, n, level)
    total = -0.0
    for i in range(at + 1, at + n):
        total += x[i] - level
    return (x[at] - level) + total if n else 0.0


@njit(cache=True, nogil=True)
def _longest(offsets, first, last):
    longest = 0
    for s in range(first, last):
        longest = max(longest, offsets[s + 1] - offsets[s])
    return longest


@njit(cache=True, nogil=True)
def _squares_about(left, at, n, level):
    """Sum of squares about a level near the mean, corrected for what the level is off; `left` is used up."""
    for i in range(at, at + n):
        left[i] -= level
    rest = _added(left, at, n)
    for i in range(at, at + n):
        left[i] *= left[i]
    return _added(left, at, n), rest


@njit(cache=True, nogil=True)
def squares(x, offsets, out, first, last):
    """Sum of squares of each segment about its mean."""
    scratch = np.empty(_longest(offsets, first, last))
    for s in range(first, last):
        at, n = offsets[s], offsets[s + 1] - offsets[s]
        if n == 0:
            out[s] = 0.0
            continue
        _taken_off(x, at, n, x[at], scratch)
        total, rest = _squares_about(scratch, 0, n, _number(_added(scratch, 0, n) / n))
        out[s] = _not_below_nought(total - _number(rest * rest / n))


@njit(cache=True, nogil=True)
def _number(v):
    """NaN as nought, an endless value as the greatest there is: `np.nan_to_num`."""
    if v != v:
        return 0.0
    return min(max(v, -1.7976931348623157e308), 1.7976931348623157e308)


@njit(cache=True, nogil=True)
def _not_below_nought(v):
    return v if v > 0.0 or v != v else 0.0


@njit(cache=True, nogil=True)
def _blocks_of_row(x, blocks, begin, end, shift, left, level, within, of_block):
    """Level and sum of squares within of each block of a row; returns how many blocks have bores."""
    m = 0
    for b in range(begin, end):
        at, n = blocks[b], blocks[b + 1] - blocks[b]
        of_block[0, b] = of_block[1, b] = np.nan
        if n == 0:
            continue
        if n == _FEW:
            level[m], total, rest = _eight(x, at, shift)
        elif n < _FEW:
            level[m], total, rest = _few(x, at, n, shift)
        else:
            _taken_off(x, at, n, shift, left)
            level[m] = _added(left, 0, n) / n
            total, rest = _squares_about(left, 0, n, level[m])
        within[m] = _not_below_nought(total - rest * rest / n)
        of_block[0, b] = shift + level[m]
        if n > 1:
            of_block[1, b] = np.sqrt(within[m] / (n - 1))
        m += 1
    return m


@njit(cache=True, nogil=True)
def _few(x, at, n, shift):
    """Mean, sum of squares about it and what it is off, of so few values that numpy adds them one by one."""
    first, total = x[at] - shift, -0.0
    for i in range(at + 1, at + n):
        total += x[i] - shift
    level = (first + total) / n
    first -= level
    rest, squared = -0.0, -0.0
    for i in range(at + 1, at + n):
        off = (x[i] - shift) - level
        rest += off
        squared += off * off
    return level, first * first + squared, first + rest


@njit(cache=True, nogil=True)
def _eight(x, at, shift):
    """As `_few` of eight, written out: the usual block, and the time goes here."""
    a, b, c, d = x[at] - shift, x[at + 1] - shift, x[at + 2] - shift, x[at + 3] - shift
    e, f, g, h = x[at + 4] - shift, x[at + 5] - shift, x[at + 6] - shift, x[at + 7] - shift
    level = (a + ((((((b + c) + d) + e) + f) + g) + h)) / 8
    a, b, c, d, e, f, g, h = (
        a - level, b - level, c - level, d - level, e - level, f - level, g - level, h - level
    )  # fmt: skip
    squared = (((((b * b + c * c) + d * d) + e * e) + f * f) + g * g) + h * h
    return level, a * a + squared, a + ((((((b + c) + d) + e) + f) + g) + h)


@njit(cache=True, nogil=True)
def _moving(blocks, joined, begin, end, level, ranges):
    """Moving ranges inside stretches, nought where none is taken; returns how many, and how many pairs."""
    if _of_one_size(blocks, begin, end):
        return _moving_of_all(joined, begin, end, level, ranges)
    at, taken, pairs = 0, 0, 0
    unbroken = before = False
    for b in range(begin, end):
        unbroken = unbroken and joined[b]
        if blocks[b + 1] == blocks[b]:
            continue
        inside = unbroken and at > 0
        ranges[at] = abs(level[at] - level[at - 1]) if inside else 0.0
        taken += inside
        pairs += inside and before
        before, unbroken = inside, True
        at += 1
    return taken, pairs


@njit(cache=True, nogil=True)
def _moving_of_all(joined, begin, end, level, ranges):
    """As `_moving` where every block has bores: straight on, which is several times as fast."""
    taken, pairs = 0, 0
    ranges[0] = 0.0
    for i in range(1, end - begin):
        inside = joined[begin + i]
        ranges[i] = abs(level[i] - level[i - 1]) if inside else 0.0
        taken += inside
    for i in range(2, end - begin):
        pairs += joined[begin + i] & joined[begin + i - 1]
    return taken, pairs


@njit(cache=True, nogil=True)
def _of_one_size(blocks, begin, end):
    """Number of bores that every block has, nought where they differ."""
    n = blocks[begin + 1] - blocks[begin]
    unlike = 0
    for b in range(begin, end):
        unlike += blocks[b + 1] - blocks[b] != n
    return 0 if unlike else n


@njit(cache=True, nogil=True)
def _between(blocks, begin, end, level, mean, centre, scratch, m):
    """Sum of n (level - mean)^2, sum of (level - centre)^2, sum of 1/n over the blocks with bores."""
    at, same = 0, float(_of_one_size(blocks, begin, end))
    if same:
        for i in range(m):
            scratch[i] = same * (level[i] - mean) * (level[i] - mean)
    else:
        for b in range(begin, end):
            n = blocks[b + 1] - blocks[b]
            if n:
                scratch[at] = n * (level[at] - mean) * (level[at] - mean)
                at += 1
    about_mean = _added(scratch, 0, m)
    for i in range(m):
        scratch[i] = (level[i] - centre) * (level[i] - centre)
    return about_mean, _added(scratch, 0, m)


@njit(cache=True, nogil=True)
def _turned(blocks, begin, end, scratch):
    """Sum of 1/n over the blocks with bores."""
    m, before, part = 0, 0, 0.0
    for b in range(begin, end):
        n = blocks[b + 1] - blocks[b]
        if n:
            part = part if n == before else 1.0 / n
            scratch[m], before = part, n
            m += 1
    return _added(scratch, 0, m)


@njit(cache=True, nogil=True)
def rows_of_blocks(x, blocks, rows, joined, of_row, numbers, of_block, first, last):
    """Figures of the rows first to last, as `qc.stats.spreads._of_rows` has them.

    of_row (9, R): shift, mean and centre less the shift, h, sse, sum of n (level - mean)^2, sum of (level -
    centre)^2, lowest, highest and (10th) sum of the moving ranges; numbers (4, R): bores, blocks, moving
    ranges, pairs; of_block (2, B): mean, spread.
    """
    left = np.empty(_longest(blocks, rows[first], rows[last]))
    blocks_at_most = _longest(rows, first, last)
    level, within, scratch = np.empty(blocks_at_most), np.empty(blocks_at_most), np.empty(blocks_at_most)
    for r in range(first, last):
        begin, end = rows[r], rows[r + 1]
        at, bores = blocks[begin], blocks[end] - blocks[begin]
        numbers[0, r] = bores
        if bores == 0:
            of_block[:, begin:end] = np.nan
            continue
        shift = x[at]
        mean = _added_less(x, at, bores, shift) / bores
        m = _blocks_of_row(x, blocks, begin, end, shift, left, level, within, of_block)
        centre = _added(level, 0, m) / m
        of_row[0, r], of_row[1, r], of_row[2, r] = shift, mean, centre
        of_row[3, r] = m / _turned(blocks, begin, end, scratch)
        of_row[4, r] = _added(within, 0, m)
        of_row[5, r], of_row[6, r] = _between(blocks, begin, end, level, mean, centre, scratch, m)
        of_row[7, r], of_row[8, r] = _extremes(x, at, bores)
        numbers[1, r] = m
        numbers[2, r], numbers[3, r] = _moving(blocks, joined, begin, end, level, scratch)
        of_row[9, r] = _added(scratch, 0, m)
