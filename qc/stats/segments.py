"""Figures of many segments of one column at once.

A column `values` of shape (N,) is cut by `offsets` of shape (S + 1,) into S segments, the s-th being
`values[offsets[s]:offsets[s + 1]]`; a segment may be empty. Every kernel reads each segment only from its own
values, so a segment alone and the same segment in a batch give the same digits: `np.add.reduceat` sums
pairwise inside a segment whatever its place in the column, as long as the column is contiguous float64 (numpy
would otherwise work through a buffer, and the place would matter). With the extra `fast`, compiled kernels
take over from some number of values on, with the same digits (`qc.stats.fast`).
"""

from collections.abc import Iterator

import numpy as np
from numpy.typing import ArrayLike, NDArray

from qc.stats import fast

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

_GATHERED = 1 << 18
"""Values that are sorted together: few enough to stay in the processor's cache."""


def column(values: ArrayLike) -> Floats:
    """Return the values as a contiguous float64 column, (N,)."""
    return np.ascontiguousarray(values, dtype=np.float64)


def cuts(offsets: ArrayLike) -> Ints:
    """Return the offsets as whole numbers, (S + 1,)."""
    return np.ascontiguousarray(offsets, dtype=np.intp)


def counts(offsets: ArrayLike) -> Ints:
    """Return the number of values of each segment, (S,)."""
    return np.diff(cuts(offsets))


def reduced(ufunc: np.ufunc, values: Floats, offsets: Ints, empty: float) -> Floats:
    """Return `ufunc` over each segment, (S,), and `empty` for a segment without values."""
    starts = offsets[:-1]
    full = starts < offsets[1:]
    out = np.full(starts.shape, empty)
    if full.any():
        # Without the empty ones each start is the end of the segment before it.
        out[full] = ufunc.reduceat(values[: offsets[-1]], starts[full])
    return out


def _shifted(values: Floats, offsets: Ints) -> tuple[Floats, Floats]:
    # The first value of the segment is taken off before summing: what is left is small, so nothing is rounded
    # away.
    shift = np.zeros(offsets.size - 1)
    full = offsets[:-1] < offsets[1:]
    shift[full] = values[offsets[:-1][full]]
    left = values[offsets[0] : offsets[-1]] - np.repeat(shift, np.diff(offsets))
    return shift, left


def ratio(top: Floats, bottom: Floats | Ints) -> Floats:
    """Return top over bottom; NaN where the bottom is not above nought."""
    out = np.full(top.shape, np.nan)
    np.divide(top, bottom, out=out, where=np.asarray(bottom) > 0)
    return out


def sums(values: ArrayLike, offsets: ArrayLike) -> Floats:
    """Return the sum of each segment [unit of values], (S,); 0 for an empty one."""
    x, cut = column(values), cuts(offsets)
    kernels = fast.compiled("qc.stats.compiled", x.size)
    if kernels is None:
        shift, left = _shifted(x, cut)
        return shift * np.diff(cut) + reduced(np.add, left, cut - cut[0], 0.0)
    shift, total = np.empty((2, cut.size - 1))
    fast.in_threads(lambda first, last: kernels.shifted_sums(x, cut, shift, total, first, last), cut)
    return shift * np.diff(cut) + total


def means(values: ArrayLike, offsets: ArrayLike) -> Floats:
    """Return the mean of each segment [unit of values], (S,); NaN for an empty one."""
    x, cut = column(values), cuts(offsets)
    kernels = fast.compiled("qc.stats.compiled", x.size)
    if kernels is None:
        shift, left = _shifted(x, cut)
        return shift + ratio(reduced(np.add, left, cut - cut[0], 0.0), np.diff(cut))
    out = np.full(cut.size - 1, np.nan)
    fast.in_threads(lambda first, last: kernels.means(x, cut, out, first, last), cut)
    return out


def standard_deviations(values: ArrayLike, offsets: ArrayLike) -> Floats:
    """Return the standard deviation (divisor n - 1) of each segment, (S,); NaN below two values.

    Source: T. F. Chan, G. H. Golub, R. J. LeVeque, The American Statistician 37 (1983) 242-247, corrected
    two-pass algorithm (eq. 1.7, from memory), after taking off the first value of the segment.
    """
    x, cut = column(values), cuts(offsets)
    return np.sqrt(ratio(_squares(x, cut), np.diff(cut) - 1))


def _squares(x: Floats, cut: Ints) -> Floats:
    kernels = fast.compiled("qc.stats.compiled", x.size)
    if kernels is not None:
        out = np.empty(cut.size - 1)
        fast.in_threads(lambda first, last: kernels.squares(x, cut, out, first, last), cut)
        return out
    _, left = _shifted(x, cut)
    cut = cut - cut[0]
    n = np.diff(cut)
    mean = np.nan_to_num(ratio(reduced(np.add, left, cut, 0.0), n))
    left -= np.repeat(mean, n)
    rest = ratio(reduced(np.add, left, cut, 0.0) ** 2, n)
    left *= left
    return np.maximum(reduced(np.add, left, cut, 0.0) - np.nan_to_num(rest), 0.0)


def extremes(values: ArrayLike, offsets: ArrayLike) -> tuple[Floats, Floats]:
    """Return the least and the greatest value of each segment, (S,) each; NaN for an empty one."""
    x, cut = column(values), cuts(offsets)
    kernels = fast.compiled("qc.stats.compiled", x.size)
    if kernels is None:
        return reduced(np.minimum, x, cut, np.nan), reduced(np.maximum, x, cut, np.nan)
    low, high = np.empty((2, cut.size - 1))
    fast.in_threads(lambda first, last: kernels.extremes(x, cut, low, high, first, last), cut)
    return low, high


def lowest(values: ArrayLike, offsets: ArrayLike) -> Floats:
    """Return the least value of each segment, (S,); NaN for an empty one."""
    return extremes(values, offsets)[0]


def highest(values: ArrayLike, offsets: ArrayLike) -> Floats:
    """Return the greatest value of each segment, (S,); NaN for an empty one."""
    return extremes(values, offsets)[1]


def medians(values: ArrayLike, offsets: ArrayLike) -> Floats:
    """Return the median of each segment, (S,); NaN for an empty one."""
    return quantiles(values, offsets, 0.5)


def quantiles(values: ArrayLike, offsets: ArrayLike, p: ArrayLike) -> Floats:
    """Return quantiles of each segment by the p(N + 1) rule [unit of values], (S,) or (S, P).

    Compiled, the ordered values asked for are found by counting in narrow ranges, which on readings of one
    gauge step hold equal values only; numpy sorts.
    Source: NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.6.2 Percentiles.

    Parameters
    ----------
    values : (N,) array
    offsets : (S + 1,) array
    p : float or (P,) array
        Fractions between 0 and 1. Beyond the first or last of the sorted values the rule gives that value.

    Returns
    -------
    (S,) array for one p, else (S, P); NaN for an empty segment.
    """
    x, cut, fractions = column(values), cuts(offsets), np.atleast_1d(np.asarray(p, dtype=np.float64))
    out = np.full((cut.size - 1, fractions.size), np.nan)
    for places, rows in _of_equal_length(x, cut, _counted(x, cut, fractions, out)):
        rows.sort(axis=1)
        out[places] = at_fractions(rows, fractions)
    return out[:, 0] if np.ndim(p) == 0 else out


def _counted(x: Floats, cut: Ints, fractions: Floats, out: Floats) -> Ints:
    """Fill in the quantiles of what compiled kernels can count; return the segments left to be sorted."""
    kernels = fast.compiled("qc.stats.compiled_quantiles", x.size)
    if kernels is None:
        return np.arange(cut.size - 1)
    left = np.zeros(cut.size - 1, dtype=np.bool_)
    fast.in_threads(lambda first, last: kernels.quantiles(x, cut, fractions, out, left, first, last), cut)
    return np.flatnonzero(left)


def at_fractions(ordered: Floats, fractions: Floats) -> Floats:
    """Return the p(N + 1) quantiles of rows that are sorted along the last axis, (..., P)."""
    n = ordered.shape[-1]
    position = fractions * (n + 1)
    below = np.clip(np.floor(position).astype(np.intp), 1, n)
    above = np.clip(below + 1, 1, n)
    part = np.clip(position - below, 0.0, 1.0)
    low = ordered[..., below - 1]
    high = ordered[..., above - 1]
    return np.asarray(low + part * (high - low))


def _of_equal_length(values: Floats, offsets: Ints, asked: Ints) -> Iterator[tuple[Ints, Floats]]:
    # Segments of one length are sorted as the rows of one array: fast for many short ones and for few long
    # ones.
    n = np.diff(offsets)[asked]
    if not n.any():
        return
    order = np.argsort(n, kind="stable")
    lengths, first = np.unique(n[order], return_index=True)
    for length, begin, end in zip(lengths, first, np.append(first[1:], n.size), strict=True):
        if length == 0:
            continue
        step = max(1, _GATHERED // int(length))
        for at in range(begin, end, step):
            places = asked[order[at : min(at + step, end)]]
            starts = offsets[places]
            if places.size == 1:
                yield places, values[None, starts[0] : starts[0] + length].copy()
            else:
                yield places, values[starts[:, None] + np.arange(length)]
