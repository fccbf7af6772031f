"""Sizes at the reference temperature of 20 degC (ISO 1)."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from qc.errors import QuestionError

REFERENCE_C = 20.0


def at_20(
    d: ArrayLike,
    alpha_part: ArrayLike,
    part_c: ArrayLike,
    alpha_master: ArrayLike | None = None,
    gauge_c: ArrayLike | None = None,
) -> NDArray[np.float64]:
    """Size at 20 degC from a size read at another temperature [unit of ``d``].

    Gauge set on a master whose size at 20 degC is known: D20 = D [1 - a_part (T_part - 20) +
    a_master (T_master - 20)]. Absolute instrument with its scale at 20 degC (no master given):
    D20 = D [1 - a_part (T_part - 20)].
    Source: ISO 1:2022 (reference temperature); linear expansion; the forms from memory.

    Parameters
    ----------
    d : array
        Sizes as read; the whole size, not a deviation.
    alpha_part, alpha_master : array [1/K]
        Linear expansion coefficients, 10e-6 to 24e-6 for engine materials.
    part_c, gauge_c : array [degC]
        Temperatures of the part, and of the master when the gauge was set.

    Raises
    ------
    QuestionError
        Only one of ``alpha_master`` and ``gauge_c``, or a coefficient that is not one in 1/K.
    """
    if (alpha_master is None) != (gauge_c is None):
        raise QuestionError(
            "a gauge set on a master needs both the master's expansion and its temperature, or neither"
        )
    size = np.asarray(d, dtype=float)
    relative = _growth(alpha_part, part_c)
    if alpha_master is not None and gauge_c is not None:
        relative = relative - _growth(alpha_master, gauge_c)
    return size - size * relative


def _growth(alpha: ArrayLike, degrees_c: ArrayLike) -> NDArray[np.float64]:
    a = np.asarray(alpha, dtype=float)
    if (np.abs(a) > 1e-3).any():
        raise QuestionError("an expansion coefficient is a small number in 1/K, such as 11.5e-6 for steel")
    return a * (np.asarray(degrees_c, dtype=float) - REFERENCE_C)
