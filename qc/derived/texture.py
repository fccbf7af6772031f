"""Texture figures that follow from others."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from qc.errors import QuestionError


def vo(rvk: ArrayLike, mr2: ArrayLike) -> NDArray[np.float64]:
    """Oil-retaining volume of the valleys [um, that is um^3 in each um^2; 1 mm^3/cm^2 = 10 um].

    The area A2 of the valley triangle: (100 - Mr2) Rvk / 2000 in mm^3/cm^2 = (100 - Mr2) Rvk / 200 in um.
    Source: ISO 13565-2:1996, area A2 (from memory).

    Parameters
    ----------
    rvk : array [um]
        Reduced valley depth.
    mr2 : array [%]
        Material ratio at the lower knee.

    Returns
    -------
    array of the shape of ``rvk``

    Raises
    ------
    QuestionError
        A material ratio outside 0 to 100 %.
    """
    depth, ratio = np.asarray(rvk, dtype=float), np.asarray(mr2, dtype=float)
    if ((ratio < 0) | (ratio > 100)).any():
        raise QuestionError(
            "Mr2 is a material ratio and lies between 0 and 100 %: correct the reading or its unit"
        )
    return np.asarray((100.0 - ratio) * depth / 200.0)
