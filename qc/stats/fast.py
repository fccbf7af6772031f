"""Where compiled kernels take the place of numpy: the extra `fast`, the one switch for it, and its threads.

numpy is the reference. The compiled kernels add in the very order of numpy's pairwise sums, so both give the
same digits and it does not matter which of them worked. They cost some seconds of compiling when first used
(kept beside the package, else in the user's cache), so few values are left to numpy.

`QC_FAST=0` turns them off, `QC_FAST=1` asks them whatever the number of values; `QC_FAST_THREADS` is the
number of threads (default: one a processor).
"""

import atexit
import os
import shutil
import tempfile
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import lru_cache
from importlib import import_module
from typing import Any

import numpy as np
from numpy.typing import NDArray

WORTH_COMPILING = 200_000
"""Values from which the compiled kernels are asked: below, loading them takes longer than numpy does."""

_WORTH_A_THREAD = 50_000


def compiled(module: str, values: int) -> Any | None:
    """Return the module of compiled kernels that is to work on so many values, None where numpy is.

    Parameters
    ----------
    module : str
        Its dotted name.
    values : int
        How many values there are.
    """
    asked = os.environ.get("QC_FAST", "")
    if asked == "0" or values == 0 or (asked != "1" and values < WORTH_COMPILING):
        return None
    return _loaded(module)


@lru_cache(maxsize=8)
def _loaded(module: str) -> Any | None:
    try:
        numba = import_module("numba")
    except ImportError:
        return None
    try:
        return import_module(module)
    except RuntimeError:
        # numba found no folder to keep what it compiles: neither the package's nor the user's can be written
        folder = tempfile.mkdtemp(prefix="qc-kernels-")
        atexit.register(shutil.rmtree, folder, ignore_errors=True)
        numba.config.CACHE_DIR = folder
    try:
        return import_module(module)
    except RuntimeError:
        return None


def threads() -> int:
    """Return the number of threads that compiled kernels may use."""
    asked = os.environ.get("QC_FAST_THREADS", "")
    return int(asked) if asked.isdecimal() and int(asked) > 0 else (os.cpu_count() or 1)


def even(segments: int, length: int) -> NDArray[np.intp]:
    """Return the offsets of segments of one length, (S + 1,)."""
    return np.arange(segments + 1, dtype=np.intp) * length


def in_threads(kernel: Callable[[int, int], Any], offsets: NDArray[np.intp]) -> None:
    """Run a kernel over all segments, in pieces of about equal numbers of values, one a thread.

    A kernel writes only what belongs to its own segments, so the pieces do not matter to the figures.

    Parameters
    ----------
    kernel : callable
        Given the first segment and the one after the last.
    offsets : (S + 1,) array
        Of the segments into the values.
    """
    last, values = offsets.size - 1, int(offsets[-1] - offsets[0])
    pieces = min(threads(), 1 + values // _WORTH_A_THREAD, max(last, 1))
    wanted = offsets[0] + values * np.arange(1, pieces) // pieces
    ends = np.unique(np.concatenate(([0], np.searchsorted(offsets, wanted), [last])))
    if ends.size <= 2:
        kernel(0, last)
        return
    with ThreadPoolExecutor(ends.size - 1) as pool:
        list(pool.map(kernel, ends[:-1].tolist(), ends[1:].tolist()))
