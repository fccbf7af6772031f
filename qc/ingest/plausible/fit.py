"""A block's readings taken apart: level, bores, pattern by place, and what is left over, all robust.

Depth and clock are fixed effects: a reading is held against its own place in the other bores. Medians, so
that the slip that is looked for does not bend what it is compared with.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from typing import Final

import numpy as np

from qc import units
from qc.catalogue import CATALOGUE
from qc.errors import NumberError

_TO_SD: Final = 1.4826  # of a median absolute deviation, for normal values: 1/0.6745
_ROUNDS: Final = 3  # of the median polish; more change nothing that matters here

Place = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Fit:
    """One block, one series; everything in ticks.

    level : median deviation from the targets (coded, with targets) or median value
    spread : of readings about the block, pattern taken out; reading_spread : about their own bore;
        bore_spread : of bores about the block; NaN where too few tell
    step : the gauge's step as the texts show it
    pattern : difference of each place (station, clock; NaN as -1) from the bores' middle
    bores : distance of each feature's middle from the block's
    off : (n,) what the readings were taken apart from: deviations where all have targets, else values
    left : (n,) residual of each reading from level, bore and place
    about : (n,) residual of each reading from level and place
    aimed : whether it was deviations that were taken apart
    """

    level: float
    spread: float
    reading_spread: float
    bore_spread: float
    step: float
    pattern: Mapping[Place, float]
    bores: Mapping[str, float]
    off: np.ndarray
    left: np.ndarray
    about: np.ndarray
    aimed: bool


@lru_cache(maxsize=65_536)
def _digit(text: str, unit: str) -> float:
    try:
        exponent = units.number(text).as_tuple().exponent
    except NumberError:
        return float("nan")
    return float(units.ticks(Decimal(1).scaleb(int(exponent)), unit))


def digits(texts: Sequence[str], units_: Sequence[str]) -> np.ndarray:
    """One unit of the last written digit of each text [ticks], NaN where it is no number."""
    return np.array([_digit(t, u) for t, u in zip(texts, units_, strict=True)])


def steps(texts: Sequence[str], units_: Sequence[str]) -> float:
    """Gauge step that the texts show [ticks]: the last digit that at least a fifth of them has."""
    told = digits(texts, units_)
    told = np.sort(told[~np.isnan(told)])
    return float(told[len(told) // 5]) if len(told) else float("nan")


def spread_of(values: np.ndarray, fitted_parameters: int = 1) -> float:
    """Robust standard deviation of values about their middle, made good for what was fitted to them."""
    n = len(values)
    if n <= fitted_parameters:
        return float("nan")
    mad = _TO_SD * float(np.median(np.abs(values)))
    return mad * float(np.sqrt(n / (n - fitted_parameters)))


def aims(characteristic: str, operation: str, target: np.ndarray) -> bool:
    """Whether readings can be held against their targets: not those of a bore that is yet to be made."""
    if not CATALOGUE[characteristic].coded or (characteristic, operation) == ("bore_diameter", "receive"):
        return False
    return not np.isnan(target).any()


def fitted(
    aimed: bool,
    features: Sequence[str],
    station: np.ndarray,
    clock: np.ndarray,
    value: np.ndarray,
    deviation: np.ndarray,
    step: float,
) -> Fit:
    """Take a block apart.

    Parameters
    ----------
    aimed : bool
        Whether deviations are to be taken apart rather than sizes, see `aims`.
    features : (n,) names
    station, clock : (n,) [ticks], NaN where blank
    value, deviation : (n,) [ticks]
    step : gauge step [ticks]
    """
    off = deviation if aimed else value
    names, bore = np.unique(np.asarray(features, dtype=object).astype(str), return_inverse=True)
    places = np.nan_to_num(station, nan=-1.0) * 1e3 + np.nan_to_num(clock, nan=-1.0) / 1e5
    _, first, place = np.unique(places, return_index=True, return_inverse=True)
    level = float(np.median(off))
    left = off - level
    at, of = np.zeros(len(first)), np.zeros(len(names))
    if len(first) > 1 and len(names) > 1:
        for _ in range(_ROUNDS):
            of = of + (move := _medians(left, bore, len(names)))
            left = left - move[bore]
            at = at + (move := _medians(left, place, len(first)))
            left = left - move[place]
    elif len(names) > 1:
        of = _medians(left, bore, len(names))
        left = left - of[bore]
    middle = float(np.median(at[place]))
    shift = float(np.median(of))
    about = left + of[bore] - shift
    at = at - middle
    level = level + middle
    pattern = {(_blank(station[i]), _blank(clock[i])): float(at[k]) for k, i in enumerate(first)}
    repeated = len(off) - len(names) - len(first) + 1
    return Fit(
        level + shift, spread_of(about, len(first)),
        spread_of(left, len(names) + len(first) - 1) if repeated > 0 else float("nan"),
        spread_of(of - shift), step, pattern,
        dict(zip(names.tolist(), (of - shift).tolist(), strict=True)), off, left, about, aimed,
    )  # fmt: skip


def _blank(value: float) -> float:
    return -1.0 if value != value else float(value)


def _medians(values: np.ndarray, group: np.ndarray, n: int) -> np.ndarray:
    """Median of each group; every group has a member."""
    order = np.lexsort((values, group))
    counts = np.bincount(group, minlength=n)
    start = np.concatenate(([0], np.cumsum(counts)[:-1]))
    ordered = values[order]
    low, high = ordered[start + (counts - 1) // 2], ordered[start + counts // 2]
    middle: np.ndarray = (low + high) / 2
    return middle
