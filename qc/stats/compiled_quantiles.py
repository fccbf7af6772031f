"""Compiled kernel of `qc.stats.segments.quantiles`; asked through `qc.stats.fast` only.

The ordered values at given places are found by counting: values are put into narrow ranges of equal width,
and only the ranges that hold a wanted place are looked into. On readings of one gauge step such a range holds
equal values only; elsewhere its few values are sorted. Which value stands at a place does not depend on the
way it was found, so the quantiles are numpy's to the digit.
"""

import numpy as np
from numba import njit

_SORTED_AT_ONCE = 24
"""Values that are sorted straight away, by insertion."""

_MOST_RANGES = 4096


@njit(cache=True, nogil=True)
def quantiles(x, offsets, fractions, out, left, first, last):
    """Quantiles of the segments first to last into `out`; `left` tells which were left to be sorted by numpy:
    those that hold a value that is no number or without end.
    """
    most = 0
    for s in range(first, last):
        most = max(most, offsets[s + 1] - offsets[s])
    keys, found = np.empty(most, np.uint16), np.empty(most)
    before, wanted = np.empty(_MOST_RANGES + 1, np.int64), np.zeros(_MOST_RANGES, np.uint16)
    ranks, places = np.empty(2 * fractions.size, np.int64), np.empty(2 * fractions.size, np.int64)
    at_ranks = np.empty(2 * fractions.size)
    for s in range(first, last):
        at, n = offsets[s], offsets[s + 1] - offsets[s]
        if n == 0:
            continue
        low, high, known = _range(x, at, n)
        if not known:
            left[s] = True
            continue
        _ranks(fractions, n, ranks)
        if low == high or n <= _SORTED_AT_ONCE:
            _by_sorting(x, at, n, ranks, at_ranks, found)
        else:
            _by_counting(x, at, n, low, high, ranks, at_ranks, keys, before, wanted, places, found)
        _between_ranks(fractions, n, at_ranks, out, s)


@njit(cache=True, nogil=True)
def _by_sorting(x, at, n, ranks, at_ranks, found):
    for i in range(n):
        found[i] = x[at + i]
    _sort(found, 0, n)
    for k in range(ranks.size):
        at_ranks[k] = found[ranks[k]]


@njit(cache=True, nogil=True)
def _range(x, at, n):
    """Least and greatest value, and whether all are numbers with an end; in four lanes, as in `_extremes`."""
    l0 = l1 = l2 = l3 = h0 = h1 = h2 = h3 = x[at]
    o0 = o1 = o2 = o3 = 0.0
    fours = at + n - n % 4
    for i in range(at, fours, 4):
        a, b, c, d = x[i], x[i + 1], x[i + 2], x[i + 3]
        l0, l1, l2, l3 = _less(a, l0), _less(b, l1), _less(c, l2), _less(d, l3)
        h0, h1, h2, h3 = _more(a, h0), _more(b, h1), _more(c, h2), _more(d, h3)
        # nought, unless a value is no number or has no end
        o0, o1, o2, o3 = o0 + (a - a), o1 + (b - b), o2 + (c - c), o3 + (d - d)
    for i in range(fours, at + n):
        l0, h0, o0 = _less(x[i], l0), _more(x[i], h0), o0 + (x[i] - x[i])
    low, high = _less(_less(l0, l1), _less(l2, l3)), _more(_more(h0, h1), _more(h2, h3))
    width = high - low
    known = (o0 + o1) + (o2 + o3) == 0.0 and width - width == 0.0
    return low, high, known and (width == 0.0 or width > 1e-290)


@njit(cache=True, nogil=True)
def _less(v, low):
    return v if v < low else low


@njit(cache=True, nogil=True)
def _more(v, high):
    return v if v > high else high


@njit(cache=True, nogil=True)
def _ranks(fractions, n, ranks):
    """Places, from 0, of the two ordered values each quantile lies between: the p(N + 1) rule."""
    for k in range(fractions.size):
        below = min(max(int(np.floor(fractions[k] * (n + 1))), 1), n)
        ranks[2 * k] = below - 1
        ranks[2 * k + 1] = min(below + 1, n) - 1


@njit(cache=True, nogil=True)
def _between_ranks(fractions, n, at_ranks, out, s):
    for k in range(fractions.size):
        position = fractions[k] * (n + 1)
        below = min(max(np.floor(position), 1.0), float(n))
        part = min(max(position - below, 0.0), 1.0)
        low, high = at_ranks[2 * k], at_ranks[2 * k + 1]
        out[s, k] = low + part * (high - low)


@njit(cache=True, nogil=True)
def _by_counting(x, at, n, low, high, ranks, at_ranks, keys, before, wanted, places, found):
    ranges = _counted(x, at, n, low, high, keys, before)
    for k in range(ranks.size):
        key = _range_of(before, ranges, ranks[k])
        wanted[key], places[k] = k + 1, before[key]
    for i in range(n):
        k = wanted[keys[i]]
        if k:
            found[places[k - 1]] = x[at + i]
            places[k - 1] += 1
    for k in range(ranks.size):
        key = _range_of(before, ranges, ranks[k])
        if wanted[key]:
            wanted[key] = 0
            _sort(found, before[key], before[key + 1])
        at_ranks[k] = found[ranks[k]]


@njit(cache=True, nogil=True)
def _counted(x, at, n, low, high, keys, before):
    """The range of each value into `keys`, the values before each range into `before`; how many ranges."""
    ranges = 32
    while ranges < _MOST_RANGES and 4 * ranges < n:
        ranges *= 2
    before[: ranges + 1] = 0
    # v -> (v - low) * scale never falls as v rises, so ranges follow the order of values; the greatest one
    # must stay below the number of ranges
    scale = ranges / (high - low) * (1 - 2.0**-40)
    for i in range(n):
        keys[i] = np.uint16(np.int32((x[at + i] - low) * scale))
    for i in range(n):
        before[keys[i] + 1] += 1
    for key in range(ranges):
        before[key + 1] += before[key]
    return ranges


@njit(cache=True, nogil=True)
def _range_of(before, ranges, rank):
    """The range that holds a place: the last one with no more than so many values before it."""
    least, most = 0, ranges
    while most - least > 1:
        middle = (least + most) // 2
        if before[middle] <= rank:
            least = middle
        else:
            most = middle
    return least


@njit(cache=True, nogil=True)
def _sort(found, begin, end):
    """Sort a part in place; nothing is to be done where all its values are equal."""
    alike = True
    for i in range(begin + 1, end):
        alike &= found[i] == found[begin]
    if alike:
        return
    if end - begin > _SORTED_AT_ONCE:
        _sort_many(found, begin, end - begin)
        return
    for i in range(begin + 1, end):
        v, j = found[i], i - 1
        while j >= begin and found[j] > v:
            found[j + 1] = found[j]
            j -= 1
        found[j + 1] = v


@njit(cache=True, nogil=True)
def _sort_many(found, begin, n):
    """Heap sort: compiled in a tenth of the time of numba's own, and never slower than n log n."""
    for top in range(n // 2 - 1, -1, -1):
        _sink(found, begin, top, n)
    for last in range(n - 1, 0, -1):
        found[begin], found[begin + last] = found[begin + last], found[begin]
        _sink(found, begin, 0, last)


@njit(cache=True, nogil=True)
def _sink(found, begin, top, n):
    v = found[begin + top]
    child = 2 * top + 1
    while child < n:
        if child + 1 < n and found[begin + child + 1] > found[begin + child]:
            child += 1
        if found[begin + child] <= v:
            break
        found[begin + top] = found[begin + child]
        top, child = child, 2 * child + 1
    found[begin + top] = v
