"""Form of a bore or journal from two-point diameters: out-of-round, taper, barrel.

None of these is the roundness or the cylindricity of ISO 12181 and ISO 12180: those are radial and
need a scanned profile; a two-point gauge cannot see a shape of constant width.
"""

from collections.abc import Callable
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.integrate import quad
from scipy.stats import studentized_range

from qc.errors import QuestionError, TooLittleData

Floats = NDArray[np.float64]


def _three_axes(diameters: ArrayLike, what: str) -> Floats:
    d = np.asarray(diameters, dtype=float)
    if d.ndim != 3:
        raise QuestionError(
            f"{what} needs diameters as (bores, depths, directions), not an array with {d.ndim} axes: "
            "give each bore its depths and each depth its directions"
        )
    return d


def _two_stations(diameters: ArrayLike, what: str) -> Floats:
    d = _three_axes(diameters, what)
    if d.shape[1] < 2:
        raise TooLittleData(
            f"{what} needs readings at 2 depths or more; there is {d.shape[1]}: measure another depth"
        )
    return d


def _masked(diameters: Floats, value: Floats) -> Floats:
    missing = np.isnan(diameters).any(axis=(1, 2))
    return np.where(missing, np.nan, value)


def out_of_round(diameters: ArrayLike) -> Floats:
    """Largest difference of the diameters at one depth, the worst depth of each bore [unit of the input].

    Source: common practice, no source. Two-point and diametral: for a pure oval twice the radial
    roundness of ISO 12181. Directions are part of the method: 2 see an oval only along themselves.

    Parameters
    ----------
    diameters : (groups, stations, directions)
        Two-point diameters; NaN where a planned position was not measured.

    Returns
    -------
    (groups,)
        NaN where a planned position is missing.

    Raises
    ------
    QuestionError, TooLittleData
        Fewer than 2 directions: one direction shows no out-of-round.
    """
    d = _three_axes(diameters, "out-of-round")
    if d.shape[2] < 2:
        raise TooLittleData(
            "out-of-round needs 2 directions or more at a depth; there is 1: measure across it as well"
        )
    return _masked(d, (d.max(axis=2) - d.min(axis=2)).max(axis=1))


def taper(diameters: ArrayLike) -> Floats:
    """Signed taper of each bore, + when larger at the top [unit of the input].

    Mean over the directions of D(shallowest) - D(deepest planned station).
    Source: common practice, no source (method ``ends``).

    Parameters
    ----------
    diameters : (groups, stations, directions)
        Stations in order from the deck down.

    Returns
    -------
    (groups,)
        NaN where a planned position is missing.

    Raises
    ------
    QuestionError, TooLittleData
        Fewer than 2 stations.
    """
    d = _two_stations(diameters, "taper")
    return _masked(d, (d[:, 0, :] - d[:, -1, :]).mean(axis=1))


def taper_range(diameters: ArrayLike) -> Floats:
    """Largest difference along the depth in one direction, the worst direction [unit of the input].

    Unsigned, for limits given as a maximum (method ``range``).
    Source: engine workshop manuals (largest less smallest of three levels in each direction).

    Parameters
    ----------
    diameters : (groups, stations, directions)
        Two-point diameters.

    Returns
    -------
    (groups,)
        NaN where a planned position is missing.

    Raises
    ------
    QuestionError, TooLittleData
        Fewer than 2 stations.
    """
    d = _two_stations(diameters, "taper as a range")
    return _masked(d, (d.max(axis=1) - d.min(axis=1)).max(axis=1))


def _stations_of(stations_mm: ArrayLike, groups: int, stations: int) -> Floats:
    z = np.asarray(stations_mm, dtype=float)
    if z.shape not in {(stations,), (groups, stations)}:
        raise QuestionError(
            f"barrel needs one depth for each of the {stations} stations; got the shape {z.shape}"
        )
    z = np.broadcast_to(z, (groups, stations))
    if not (np.diff(z, axis=1) > 0).all():
        raise QuestionError(
            "barrel needs the depths in order from the deck down, each deeper than the one before"
        )
    return z


def barrel(diameters: ArrayLike, stations_mm: ArrayLike) -> Floats:
    """Signed barrel of each bore, + when the middle is larger, - for a waist [unit of the input].

    Three stations: mean over the directions of D(middle) - (D(top) + D(bottom))/2. More: the
    quadratic term of a least-squares parabola in depth, scaled to the end stations, which is the
    same figure for a bore that is a parabola.
    Source: common practice, no source.

    Parameters
    ----------
    diameters : (groups, stations, directions)
        Stations in order from the deck down.
    stations_mm : (stations,) or (groups, stations)
        Depths from the deck [mm].

    Returns
    -------
    (groups,)
        NaN where a planned position is missing.

    Raises
    ------
    QuestionError, TooLittleData
        Fewer than 3 stations, or depths that do not increase.
    """
    d = _three_axes(diameters, "barrel")
    groups, stations, _ = d.shape
    if stations < 3:
        raise TooLittleData(
            f"barrel needs readings at 3 depths or more; there are {stations}: measure the middle as well"
        )
    z = _stations_of(stations_mm, groups, stations)
    profile = (d - d[:, :1, :1]).mean(axis=2)
    if stations == 3:
        return _masked(d, profile[:, 1] - (profile[:, 0] + profile[:, 2]) / 2)
    half_way, half_span = (z[:, :1] + z[:, -1:]) / 2, (z[:, -1:] - z[:, :1]) / 2
    t = (z - half_way) / half_span
    design = np.stack([np.ones_like(t), t, t**2], axis=2)
    quadratic = np.linalg.pinv(design)[:, 2, :]
    return _masked(d, -(quadratic * profile).sum(axis=1))


def noise_floor_out_of_round(reading_sd: float, directions: int, stations: int = 1) -> float:
    """Out-of-round that a perfectly round bore shows from reading noise alone, on average [unit of the sd].

    The expected range of ``directions`` normal readings, the largest of ``stations`` such ranges.
    Source: distribution of the range of normal samples, Tippett (1925), Biometrika 17, 364-387;
    for one station d2 x sd (NIST/SEMATECH e-Handbook 6.3.2.1).

    Parameters
    ----------
    reading_sd : float
        Standard deviation of one reading.
    directions, stations : int
        Readings at one depth, and depths.

    Raises
    ------
    QuestionError, TooLittleData
        Fewer than 2 directions, or no station.
    """
    if directions < 2 or stations < 1:
        raise TooLittleData("the noise floor of out-of-round needs 2 directions or more at 1 depth or more")
    return reading_sd * _expected_largest_range(directions, stations)


@cache
def _expected_largest_range(directions: int, stations: int) -> float:
    def tail(width: float) -> float:
        return float(1.0 - studentized_range.cdf(width, directions, np.inf) ** stations)

    return _integral(tail)


def _integral(function: Callable[[float], float]) -> float:
    # 16 standard deviations: the range of a hundred readings stays below that to 1e-15.
    return float(quad(function, 0.0, 16.0, epsabs=1e-10, limit=200)[0])
