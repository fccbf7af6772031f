"""Filters of surface profiles: what is roughness and what is waviness, form or noise.

Profiles are heights at equal steps, all measured (no gaps). Near an end there is less profile under the
window of a filter; whoever judges a profile leaves half a cut-off off at either end (`texture_profile`).
"""

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from qc.errors import TooLittleData

Array = NDArray[np.float64]
ALPHA: Final = float(np.sqrt(np.log(2) / np.pi))  # half of an amplitude passes at the cut-off
# the same for the regression of second degree: (1 + u) exp(-u) = 1/2, u = pi alpha^2 = 1.67835
ALPHA_SECOND: Final = 0.73091
_REACH: Final = 1.0  # of the Gaussian window, in cut-offs: 1e-7 of its area lies beyond
_REACH_SECOND: Final = 1.6  # likewise
# 3 / (sqrt 2 erfinv(1/2)): three standard deviations of a normal profile for one median of its sizes
BIWEIGHT: Final = 4.4478
_ROUNDS: Final = 50
_SETTLED: Final = 1e-7


def transmission(wavelength: ArrayLike, cutoff: float) -> Array:
    """Share of a sine's amplitude that the Gaussian filter's mean line keeps [0 to 1].

    Source: ISO 16610-21:2011, 4.2 (formerly ISO 11562): exp(-pi (alpha cutoff/wavelength)^2), alpha =
    sqrt(ln 2/pi).

    Parameters
    ----------
    wavelength : array [um]
    cutoff : float [um]

    Returns
    -------
    array of the shape of ``wavelength``
    """
    return np.asarray(np.exp(-np.pi * (ALPHA * cutoff / np.asarray(wavelength, dtype=float)) ** 2))


def line_removed(z: ArrayLike) -> Array:
    """Heights above the least-squares line [um].

    Source: ISO 21920-2 / ISO 3274, nominal form removed by least squares (from memory).

    Parameters
    ----------
    z : array [um], shape (points,)
        At equal steps.
    """
    heights = _profile(z)
    x = np.arange(heights.size) - (heights.size - 1) / 2
    slope = x @ heights / (x @ x)
    return np.asarray(heights - heights.mean() - slope * x)


def gaussian(z: ArrayLike, spacing: float, cutoff: float) -> Array:
    """Mean line of a profile [um]: waves shorter than the cut-off are taken away.

    Source: ISO 16610-21:2011, weights exp(-pi (x/(alpha cutoff))^2). The window reaches one cut-off to
    either side (half, as the standard permits, would leave 0.8 % of its area out); at an end of the profile
    it is cut and weighted anew, which distorts the first and last half of a cut-off.

    Parameters
    ----------
    z : array [um], shape (points,)
    spacing, cutoff : float [um]

    Returns
    -------
    array, shape (points,)

    Raises
    ------
    TooLittleData
        Under 2 points.
    """
    heights = _profile(z)
    weights = _window(spacing, cutoff, ALPHA, _REACH, heights.size)[1]
    window = _Window(heights.size, weights.size)
    one, two = window.sums(np.stack((heights, np.ones(heights.size))), weights)
    return np.asarray(one / two)


def two_stage(z: ArrayLike, spacing: float, cutoff: float) -> Array:
    """Reference line of a stratified surface [um]: deep valleys do not pull it down.

    Source: ISO 13565-1:1996 (from memory): Gaussian mean line; what lies below it is raised to it; the mean
    line of that is the reference. The roughness is the profile as it was minus this line.

    Parameters
    ----------
    z : array [um], shape (points,)
    spacing, cutoff : float [um]
    """
    heights = _profile(z)
    first = gaussian(heights, spacing, cutoff)
    return gaussian(np.maximum(heights, first), spacing, cutoff)


def robust_gaussian(z: ArrayLike, spacing: float, cutoff: float) -> Array:
    """Reference line by robust Gaussian regression of second degree [um].

    Source: ISO 16610-31:2016 (from memory): at each place a parabola is fitted with Gaussian weights (alpha
    0.7309) times Tukey's biweight of the residuals, c = 4.4478 medians of their sizes, again and again until
    c stands still (1e-7, at most 50 times). It reaches to the ends of the profile.

    Parameters
    ----------
    z : array [um], shape (points,)
    spacing, cutoff : float [um]
    """
    heights = _profile(z)
    x, weights = _window(spacing, cutoff, ALPHA_SECOND, _REACH_SECOND, heights.size)
    window = _Window(heights.size, weights.size)
    moments = np.stack([weights * (x / cutoff) ** k for k in range(5)])
    believed = np.ones(heights.size)
    line, before = np.zeros(heights.size), np.inf
    for _ in range(_ROUNDS):
        line = _parabolas(window, moments, heights, believed, line)
        away = heights - line
        reach = BIWEIGHT * float(np.median(np.abs(away)))
        if reach <= 0 or abs(before - reach) <= _SETTLED * reach:
            break
        before = reach
        believed = np.where(np.abs(away) < reach, (1 - (away / reach) ** 2) ** 2, 0.0)
    return line


def _parabolas(window: "_Window", moments: Array, z: Array, believed: Array, before: Array) -> Array:
    """Value in its middle of the parabola fitted at each place; the line before where nothing is believed."""
    s = [window.sums(believed, moment) for moment in moments]
    t = [window.sums(believed * z, moment) for moment in moments[:3]]
    minors = (s[2] * s[4] - s[3] ** 2, s[1] * s[4] - s[2] * s[3], s[1] * s[3] - s[2] ** 2)
    whole = s[0] * minors[0] - s[1] * minors[1] + s[2] * minors[2]
    value = t[0] * minors[0] - t[1] * minors[1] + t[2] * minors[2]
    known = whole > 1e-12 * float(np.max(whole))
    return np.asarray(np.where(known, value / np.where(known, whole, 1.0), before))


class _Window:
    """Sums of weighted neighbours at every place of a profile, by fast Fourier transform."""

    def __init__(self, points: int, weights: int) -> None:
        self._points, self._half = points, weights // 2
        self._size = 1 << (points + weights - 2).bit_length()

    def sums(self, values: Array, weights: Array) -> Array:
        """Sum over the neighbours of value times weight; weights by distance, the neighbour's minus ours."""
        # a convolution runs through the weights backwards
        spectrum = np.fft.rfft(values, self._size) * np.fft.rfft(weights[::-1], self._size)
        summed = np.fft.irfft(spectrum, self._size)
        return np.asarray(summed[..., self._half : self._half + self._points])


def _window(spacing: float, cutoff: float, alpha: float, reach: float, points: int) -> tuple[Array, Array]:
    """Distances [um] and weights of a window, odd in number, no wider than the profile needs."""
    half = min(int(np.ceil(reach * cutoff / spacing)), points)
    x = np.arange(-half, half + 1, dtype=float) * spacing
    return x, np.asarray(np.exp(-np.pi * (x / (alpha * cutoff)) ** 2))


def _profile(z: ArrayLike) -> Array:
    heights = np.asarray(z, dtype=float)
    if heights.ndim != 1 or heights.size < 2:
        raise TooLittleData("a profile needs at least 2 heights: measure a longer trace")
    return heights
