"""Height figures of a roughness profile: Ra, Rq, Rz, Rt.

The profile is what a filter left, so its heights count from the mean line.
"""

import numpy as np
from numpy.typing import ArrayLike

from qc.errors import TooLittleData


def ra(roughness: ArrayLike) -> float:
    """Mean size of the heights [um]. Source: ISO 21920-2:2021 / ISO 4287:1997, Ra (from memory).

    Parameters
    ----------
    roughness : array [um], shape (points,)
    """
    return float(np.mean(np.abs(np.asarray(roughness, dtype=float))))


def rq(roughness: ArrayLike) -> float:
    """Root mean square of the heights [um]. Source: ISO 21920-2:2021 / ISO 4287:1997, Rq (from memory).

    Parameters
    ----------
    roughness : array [um], shape (points,)
    """
    return float(np.sqrt(np.mean(np.square(np.asarray(roughness, dtype=float)))))


def rt(roughness: ArrayLike) -> float:
    """Highest point minus lowest point of the whole evaluation length [um].

    Source: ISO 21920-2:2021 / ISO 4287:1997, Rt (from memory).

    Parameters
    ----------
    roughness : array [um], shape (points,)
    """
    return float(np.ptp(np.asarray(roughness, dtype=float)))


def rz(roughness: ArrayLike, lengths: int = 5) -> float:
    """Mean over the sampling lengths of highest minus lowest point [um].

    Source: ISO 21920-2:2021 / ISO 4287:1997, Rz (from memory); older books call other figures Rz.

    Parameters
    ----------
    roughness : array [um], shape (points,)
        Whole sampling lengths, one behind the other.
    lengths : int
        How many sampling lengths.

    Raises
    ------
    TooLittleData
        Under one point a sampling length.
    """
    heights = np.asarray(roughness, dtype=float)
    if heights.size < lengths:
        raise TooLittleData("Rz needs a point in every sampling length: measure with closer points")
    edges = np.round(np.linspace(0, heights.size, lengths + 1)).astype(int)[:-1]
    highest = np.maximum.reduceat(heights, edges)
    return float(np.mean(highest - np.minimum.reduceat(heights, edges)))
