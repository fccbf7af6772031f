"""The material ratio curve of a profile and its core: Rk, Rpk, Rvk, Mr1, Mr2."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from qc.errors import TooLittleData

SECANT: Final = 0.4  # of the material ratio
_TIE: Final = 1e-12  # of the whole height: slopes nearer than this are equal


@dataclass(frozen=True, slots=True)
class Core:
    """Core of a material ratio curve: heights [um] and ratios [%]."""

    rk: float
    rpk: float
    rvk: float
    mr1: float
    mr2: float
    method: str = "40 % secant of least slope"
    source: str = "ISO 13565-2:1996 / ISO 21920-2:2021"


def core(roughness: ArrayLike) -> Core:
    """Core of the material ratio curve of a profile.

    Source: ISO 13565-2:1996 / ISO 21920-2:2021 (from memory): of all secants over 40 % of the ratio the
    first of least slope, drawn out to 0 and 100 %, gives Rk and, where its ends meet the curve, Mr1 and Mr2;
    Rpk and Rvk are the heights of right triangles on Mr1 and 100 - Mr2 with the areas above and below.

    The line is the secant itself. ISO 13565-2 is also told as a least-squares line through the same 40 %: for
    normally distributed heights Rk is then 2 % smaller.

    Parameters
    ----------
    roughness : array [um], shape (points,)
        From the two-stage filter of ISO 13565-1 or the robust filter of ISO 16610-31: after the plain
        Gaussian filter valleys pull the mean line down and the figures are others.

    Returns
    -------
    Core

    Raises
    ------
    TooLittleData
        Under 10 points.
    """
    heights = np.sort(np.asarray(roughness, dtype=float))[::-1]
    if heights.size < 10:
        raise TooLittleData("a material ratio curve needs at least 10 heights: measure a longer trace")
    # n heights share the ratio evenly: the curve runs through the middles of their shares
    ratio = np.concatenate(([0.0], (np.arange(heights.size) + 0.5) / heights.size, [1.0]))
    curve = np.concatenate((heights[:1], heights, heights[-1:]))
    start, slope = _flattest(ratio, curve)
    upper = float(np.interp(start, ratio, curve)) + slope * start
    lower = upper - slope
    mr1, peaks = _beyond(ratio, curve - upper)
    mr2, valleys = _beyond((1 - ratio)[::-1], (lower - curve)[::-1])
    return Core(
        rk=slope, rpk=2 * peaks / mr1 if mr1 > 0 else 0.0, rvk=2 * valleys / mr2 if mr2 > 0 else 0.0,
        mr1=100 * mr1, mr2=100 * (1 - mr2),
    )  # fmt: skip


def _flattest(ratio: NDArray[np.float64], curve: NDArray[np.float64]) -> tuple[float, float]:
    """Where the first secant of least slope begins, and its fall over the whole ratio."""
    # the slope of a secant is piecewise straight in its start: it is least where one of its ends is a knot
    ends = np.concatenate((ratio, ratio - SECANT))
    starts = np.unique(ends[(ends >= 0) & (ends <= 1 - SECANT)])
    falls = np.interp(starts, ratio, curve) - np.interp(starts + SECANT, ratio, curve)
    least = int(np.flatnonzero(falls <= falls.min() + _TIE * (curve[0] - curve[-1]))[0])
    return float(starts[least]), float(falls[least]) / SECANT


def _beyond(ratio: NDArray[np.float64], over: NDArray[np.float64]) -> tuple[float, float]:
    """Ratio up to which a falling curve lies above nought, and the area there."""
    above = over > 0
    if not above[0]:
        return 0.0, 0.0
    last = int(np.argmin(above)) if not above.all() else above.size
    if last == above.size:
        return float(ratio[-1]), float(np.trapezoid(over, ratio))
    share = over[last - 1] / (over[last - 1] - over[last])
    end = ratio[last - 1] + share * (ratio[last] - ratio[last - 1])
    area = np.trapezoid(np.append(over[:last], 0.0), np.append(ratio[:last], end))
    return float(end), float(area)
