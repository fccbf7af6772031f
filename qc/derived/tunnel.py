"""Alignment of the main-bearing tunnel from the centres of its housings.

An indicator on a turning mandrel reads twice the offset: `offset_from_indicator` halves it.
"""

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import minimize

from qc.errors import QuestionError, TooLittleData

Floats = NDArray[np.float64]
Line = Literal["best_fit", "end_line"]

LEAST_FOR_A_ZONE = 4


def _centres(centres: ArrayLike, positions_mm: ArrayLike) -> tuple[Floats, Floats]:
    c, z = np.asarray(centres, dtype=float), np.asarray(positions_mm, dtype=float)
    if c.ndim < 2 or z.shape != (c.shape[1],):
        raise QuestionError(
            f"tunnel alignment needs one axial position for each housing: centres {c.shape} do not go "
            f"with positions {z.shape}"
        )
    if z.size < 3:
        raise TooLittleData(
            f"tunnel alignment needs 3 housings or more; there are {z.size}: two always lie on a line"
        )
    if np.unique(z).size != z.size:
        raise QuestionError("two housings have the same axial position: correct station_mm of one of them")
    return c, z


def offsets(centres: ArrayLike, positions_mm: ArrayLike, *, line: Line = "best_fit") -> Floats:
    """Signed distance of each housing centre from one line through the tunnel, in each plane [um].

    Source: ``best_fit`` least-squares line (associated line of ISO 12780-1, from memory);
    ``end_line`` the line through the first and last housing (common practice, no source).

    Parameters
    ----------
    centres : (groups, housings) or (groups, housings, planes)
        Height of the centres in a plane (vertical, horizontal) [um].
    positions_mm : (housings,)
        Axial positions [mm], any origin.
    line : {"best_fit", "end_line"}
        The line the distances are taken from.

    Returns
    -------
    array like ``centres``
        NaN for a group and plane in which a housing is missing.

    Raises
    ------
    QuestionError, TooLittleData
        Fewer than 3 housings, two at one position, or shapes that do not match.
    """
    c, z = _centres(centres, positions_mm)
    along = z.reshape((1, -1) + (1,) * (c.ndim - 2))
    if line == "end_line":
        first, last = int(np.argmin(z)), int(np.argmax(z))
        a, b = c[:, first : first + 1], c[:, last : last + 1]
        residual = c - a - (b - a) * (along - z[first]) / (z[last] - z[first])
    else:
        from_middle = along - z.mean()
        centred = c - c.mean(axis=1, keepdims=True)
        slope = (centred * from_middle).sum(axis=1, keepdims=True) / (from_middle**2).sum()
        residual = centred - slope * from_middle
    return np.where(np.isnan(c).any(axis=1, keepdims=True), np.nan, residual)


def adjacent(residuals: ArrayLike) -> Floats:
    """Misalignment of neighbouring housings, abs(r_i - r_(i+1)), in each plane [um].

    Source: engine trade practice of a limit for adjacent and for all mains; common practice, no source.

    Parameters
    ----------
    residuals : (groups, housings) or (groups, housings, planes)
        From `offsets`, housings in order from the front.

    Returns
    -------
    (groups, housings - 1) or (groups, housings - 1, planes)
    """
    return np.abs(np.diff(np.asarray(residuals, dtype=float), axis=1))


def overall(residuals: ArrayLike) -> Floats:
    """Overall misalignment, largest less smallest residual, in each plane [um].

    Source: as `adjacent`. For ``best_fit`` this is the least-squares straightness of ISO 12780-1.

    Parameters
    ----------
    residuals : (groups, housings) or (groups, housings, planes)
        From `offsets`.

    Returns
    -------
    (groups,) or (groups, planes)
    """
    r = np.asarray(residuals, dtype=float)
    return np.asarray(r.max(axis=1) - r.min(axis=1))


def spatial(vertical: ArrayLike, horizontal: ArrayLike, positions_mm: ArrayLike) -> Floats:
    """Diameter of the smallest cylinder that holds all housing centres [um].

    Twice the largest radial distance from the minimum-zone axis.
    Source: ISO 1101, cylindrical coaxiality zone with a common axis (from memory).

    Parameters
    ----------
    vertical, horizontal : (groups, housings)
        Centres in the two planes [um].
    positions_mm : (housings,)
        Axial positions [mm].

    Returns
    -------
    (groups,)
        NaN where a housing is missing, and for fewer than 4 housings: no verdict on a zone from those.

    Raises
    ------
    QuestionError, TooLittleData
        As `offsets`.
    """
    v, z = _centres(vertical, positions_mm)
    h, _ = _centres(horizontal, positions_mm)
    along = (z - z.mean()) / np.ptp(z)
    if z.size < LEAST_FOR_A_ZONE:
        return np.full(v.shape[0], np.nan)
    return np.array([_smallest_cylinder(a, b, along) for a, b in zip(v, h, strict=True)])


def _smallest_cylinder(v: Floats, h: Floats, along: Floats) -> float:
    if np.isnan(v).any() or np.isnan(h).any():
        return float("nan")
    design = np.column_stack([np.ones_like(along), along])
    start_v, start_h = (np.linalg.lstsq(design, p - p.mean(), rcond=None)[0] for p in (v, h))
    p, q = v - v.mean() - design @ start_v, h - h.mean() - design @ start_h
    scale = float(np.hypot(p, q).max())
    # Below a millionth of a micrometre the centres are on one line as far as floats can tell.
    if scale < 1e-6:
        return 2.0 * scale
    p, q = p / scale, q / scale

    def residuals(x: Floats) -> tuple[Floats, Floats]:
        return p - design @ x[:2], q - design @ x[2:4]

    def room(x: Floats) -> Floats:
        a, b = residuals(x)
        return np.asarray(x[4] - a**2 - b**2)

    def room_slope(x: Floats) -> Floats:
        a, b = residuals(x)
        return np.column_stack([2 * a[:, None] * design, 2 * b[:, None] * design, np.ones_like(a)])

    # Least largest squared distance is convex with smooth constraints: one local minimum, the global one.
    found = minimize(
        lambda x: x[4],
        np.array([0.0, 0.0, 0.0, 0.0, 1.0]),
        jac=lambda x: np.array([0.0, 0.0, 0.0, 0.0, 1.0]),
        constraints={"type": "ineq", "fun": room, "jac": room_slope},
        method="SLSQP",
        options={"ftol": 1e-14, "maxiter": 300},
    )
    a, b = residuals(found.x)
    return 2.0 * scale * float(np.hypot(a, b).max())


def offset_from_indicator(readings: ArrayLike) -> Floats:
    """Offset from the total reading of an indicator on a turning mandrel, half of it [unit of the input].

    Source: geometry (the indicator sees the offset added and taken away in one turn).

    Parameters
    ----------
    readings : array
        Total indicator readings.
    """
    return np.asarray(readings, dtype=float) / 2.0
