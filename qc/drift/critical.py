"""Critical values of the looks at a series, block after block.

A look holds the best of many possible changes against one value, at every new block. The value that
keeps the share of steady series with a false change to the level times the blocks is found by
simulation: tests/simulations/drift.py, with its result beside it.
"""

from functools import lru_cache

import numpy as np

LAGS = (0.0, 0.25, 0.5, 0.9)
CHANGE_SHARES = (0.13, 0.12, 0.1, 0.05)
"""Part of the level that the best step or bend may reach by chance, by lag-1 correlation.

About two thirds of the false changes allowed; the shares of 0 to 0.5 are simulated, 0.9 is a guess on
the safe side.
"""

WEAR_SHARES = (0.7, 0.6, 0.45, 0.2)
"""Part of the level that the slope of a stretch of wear may reach by chance: one test, not many."""

GROWTH_SHARE, GROWTH_SHARE_WORN = 0.19, 0.09
"""Part of the level that each of the two tests for a grown spread may reach by chance; simulated.

The distances of block means from wear reach it twice as often: each stretch is a window of its own.
"""


@lru_cache(maxsize=256)
def change_level(level: float, lag1: float) -> float:
    """Return the p under which the best step or bend stands, for an alarm level per block.

    Source: simulated, see the module.
    """
    return float(np.interp(lag1, LAGS, CHANGE_SHARES)) * level


def wear_odds(lag1: float) -> float:
    """Return by how much the p of a slope of wear counts for less than that of the best of many changes.

    Source: simulated, see the module.
    """
    return float(np.interp(lag1, LAGS, CHANGE_SHARES) / np.interp(lag1, LAGS, WEAR_SHARES))


def growth_level(level: float, worn: bool = False) -> float:
    """Return the one-sided p under which a spread counts as grown, for an alarm level per block.

    Source: simulated, see the module.

    Parameters
    ----------
    level : float
    worn : bool
        For distances of block means from the usual wear.
    """
    return (GROWTH_SHARE_WORN if worn else GROWTH_SHARE) * level
