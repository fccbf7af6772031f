"""The size of a bore from its two-point diameters."""

import numpy as np
from numpy.typing import ArrayLike, NDArray


def bore_size(diameters: ArrayLike) -> NDArray[np.float64]:
    """Mean two-point diameter of each bore over its planned positions [unit of the input].

    Source: mean of the two-point sizes of ISO 14405-1 (from memory) over a measuring plan; the
    choice of the mean: common practice, no source.

    Parameters
    ----------
    diameters : (groups, stations, directions) or (groups, positions)
        Two-point diameters; NaN where a planned position was not measured.

    Returns
    -------
    (groups,)
        NaN where a planned position is missing: a mean over fewer places is another quantity.
    """
    d = np.asarray(diameters, dtype=float)
    if d.ndim == 1:
        return d.copy()
    # Off the first place of each group: a mean of 96 mm sizes keeps its last digit that way.
    flat = d.reshape(d.shape[0], -1)
    return np.asarray(flat[:, 0] + (flat - flat[:, :1]).mean(axis=1))


def least_and_greatest(diameters: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Least and greatest local size of each bore, what a verdict is taken on [unit of the input].

    Source: ISO 14405-1, two-point size as the default of a size tolerance (from memory).

    Parameters
    ----------
    diameters : (groups, stations, directions) or (groups, positions)
        Two-point diameters; NaN where a planned position was not measured.

    Returns
    -------
    least, greatest : (groups,)
        Both NaN where a planned position is missing.
    """
    d = np.asarray(diameters, dtype=float)
    flat = d.reshape(d.shape[0], -1)
    return flat.min(axis=1), flat.max(axis=1)
