from typing import Any

import numpy as np


def upper_index(upper: Any, median: Any, high_tail: Any) -> Any:
    """Return the index against an upper limit [1]: (U - X50) / (X99.865 - X50).

    Source: ISO 22514-2, general method (from memory).

    Parameters
    ----------
    upper, median : float or array
        U and X50.
    high_tail : float or array
        X99.865 - X50, above 0.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.divide(np.subtract(upper, median), high_tail)


def lower_index(lower: Any, median: Any, low_tail: Any) -> Any:
    """Return the index against a lower limit [1]: (X50 - L) / (X50 - X0.135).

    Source: ISO 22514-2, general method (from memory).

    Parameters
    ----------
    lower, median : float or array
        L and X50.
    low_tail : float or array
        X50 - X0.135, above 0.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.divide(np.subtract(median, lower), low_tail)
