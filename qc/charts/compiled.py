"""Compiled kernels of `qc.charts.ewma`, `cusum` and `rules`; asked through `qc.stats.fast` only.

They serve calls with many series at once: the one series of an answer has too few blocks to be worth them.

Each value goes through the very operations of the numpy version, in their order; no reordering of floats is
allowed (no fastmath). What a cached kernel calls stands in this file: numba looks for changes in no other.
"""

import numpy as np
from numba import njit


@njit(cache=True, nogil=True)
def averages(x, weight, start, out, first, last):
    """Moving averages of the rows first to last of (rows, m); a NaN is passed over and stays NaN."""
    for r in range(first, last):
        z = start[r]
        for t in range(x.shape[1]):
            v = x[r, t]
            if v == v:
                z = weight * v + (1 - weight) * z
                out[r, t] = z
            else:
                out[r, t] = np.nan


@njit(cache=True, nogil=True)
def sums(d, k, start, high, low, first, last):
    """Upward and downward sums of the rows first to last of (rows, m); a NaN is passed over and stays NaN."""
    for r in range(first, last):
        up = down = start
        for t in range(d.shape[1]):
            v = d[r, t]
            if v == v:
                up, down = _above_nought(up + v - k), _above_nought(down - v - k)
                high[r, t], low[r, t] = up, down
            else:
                high[r, t] = low[r, t] = np.nan


@njit(cache=True, nogil=True)
def _above_nought(v):
    return 0.0 if v < 0.0 else v


@njit(cache=True, nogil=True)
def whole(x, parts, tick, out, most, first, last):
    """Whole parts of a tick of the values first to last; False where one is no number or too large."""
    good = True
    for i in range(first, last):
        v = x[i]
        fits = abs(v) < most
        good &= fits
        out[i] = np.int64(np.rint(v / tick * parts)) if fits else 0
    return good


@njit(cache=True, nogil=True)
def one_sided(means, center, breaks, needed, out):
    """Whether so many values in a row, or more, lie on one side of their centre."""
    above = below = 0
    for i in range(means.size):
        if i and breaks[i] != breaks[i - 1]:
            above = below = 0
        above = above + 1 if means[i] > center[i] else 0
        below = below + 1 if means[i] < center[i] else 0
        out[i] = above >= needed or below >= needed


@njit(cache=True, nogil=True)
def walking(means, breaks, needed, out):
    """Whether so many steps in a row, or more, lead one way."""
    up = down = 0
    for i in range(means.size):
        on = i > 0 and breaks[i] == breaks[i - 1]
        up = up + 1 if on and means[i] > means[i - 1] else 0
        down = down + 1 if on and means[i] < means[i - 1] else 0
        out[i] = up >= needed or down >= needed


@njit(cache=True, nogil=True)
def near(means, center, reach, breaks, needed, out):
    """Whether so many values in a row, or more, lie within reach of their centre."""
    here = 0
    for i in range(means.size):
        if i and breaks[i] != breaks[i - 1]:
            here = 0
        here = here + 1 if abs(means[i] - center[i]) < reach[i] else 0
        out[i] = here >= needed
