"""Clearances from the sizes of the parts. The route is part of the identity of the figure.

A clearance may be negative and right (coated skirts): it is checked against its own limits, never
against nought. The engine maker's sheet and the responsible machinist decide.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from qc.errors import QuestionError

Floats = NDArray[np.float64]


def _by_group(values: ArrayLike) -> Floats:
    v = np.asarray(values, dtype=float)
    return v.reshape(v.shape[0], -1) if v.ndim else v.reshape(1, 1)


def _mean(values: ArrayLike) -> Floats:
    v = _by_group(values)
    return np.asarray(v[:, 0] + (v - v[:, :1]).mean(axis=1))


def _same_groups(**parts: Floats) -> None:
    sizes = {name: part.shape[0] for name, part in parts.items()}
    if len(set(sizes.values())) > 1:
        listed = ", ".join(f"{name} {count}" for name, count in sizes.items())
        raise QuestionError(
            f"a clearance needs each part once for each position; got {listed}: one of them is incomplete"
        )


def main_clearance_installed(shell_bore: ArrayLike, journal: ArrayLike) -> Floats:
    """Oil clearance from the bore of the installed shells, route ``installed`` [unit of the input].

    Mean over the axial stations of the shell bore square to the joint, less the largest journal
    diameter: the tightest place is what seizes. Serves rod bearings as well.
    Source: engine workshop manuals (largest journal diameter is used); common practice, no source.

    Parameters
    ----------
    shell_bore : (groups,) or (groups, stations)
        Bore square to the joint, caps torqued, at 20 degC.
    journal : (groups,) or (groups, places)
        Journal diameters at 20 degC.

    Returns
    -------
    (groups,)
        NaN where a place is missing.

    Raises
    ------
    QuestionError
        Different numbers of groups.
    """
    bore, largest = _mean(shell_bore), _by_group(journal).max(axis=1)
    _same_groups(shell_bore=bore, journal=largest)
    return np.asarray(bore - largest)


def by_parts(housing: ArrayLike, wall_upper: ArrayLike, wall_lower: ArrayLike, journal: ArrayLike) -> Floats:
    """Oil clearance from housing, both shell walls and journal, route ``by_parts`` [unit of the input].

    C = H - w_upper - w_lower - J, H the mean over the axial stations square to the joint, J the
    largest journal diameter. It leaves out the growth of the housing by crush.
    Source: geometry; as `main_clearance_installed`.

    Parameters
    ----------
    housing : (groups,) or (groups, stations)
        Housing bore square to the joint, caps torqued, at 20 degC.
    wall_upper, wall_lower : (groups,) or (groups, places)
        Wall at 90 deg to the joint.
    journal : (groups,) or (groups, places)
        Journal diameters at 20 degC.

    Returns
    -------
    (groups,)
        NaN where a place is missing.

    Raises
    ------
    QuestionError
        Different numbers of groups.
    """
    bore, upper, lower = _mean(housing), _mean(wall_upper), _mean(wall_lower)
    largest = _by_group(journal).max(axis=1)
    _same_groups(housing=bore, wall_upper=upper, wall_lower=lower, journal=largest)
    return np.asarray(bore - largest - upper - lower)


def piston_clearance(bore: ArrayLike, skirt: ArrayLike) -> Floats:
    """Piston clearance, bore less skirt [unit of the input]; negative can be right.

    Source: piston makers' sheets (depth, direction and gauge point are theirs); no general source.

    Parameters
    ----------
    bore : (groups,) or (groups, places)
        Bore at the depth and in the direction of the piston's sheet, at 20 degC.
    skirt : (groups,) or (groups, places)
        Skirt at the piston's gauge point, at 20 degC.

    Returns
    -------
    (groups,)
        NaN where a place is missing.

    Raises
    ------
    QuestionError
        Different numbers of groups.
    """
    size, across = _mean(bore), _mean(skirt)
    _same_groups(bore=size, skirt=across)
    return size - across
