"""A block's readings taken apart: level, bores, pattern by place, and what is left over, all robust.

Depth and clock are fixed effects: a reading is held against its own place in the other bores. Medians, so
that the slip that is looked for does not bend what it is compared with.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from math import pi, sqrt
from typing import Final

import numpy as np

from qc import units
from qc.catalogue import CATALOGUE
from qc.errors import NumberError

TO_SD: Final = 1.4826  # of a median absolute deviation, for normal values: 1/0.6745
_ROUNDS: Final = 2  # of the median polish; more change nothing that matters here
_HALVES, _UNLIKE = 5, 3  # texts, and different ones, that tell a gauge read to half a division

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
    """Gauge step that the texts show [ticks]: the last digit that at least a fifth of them has.

    Five of it where every last digit is 0 or 5, as on a micrometer read to half a division: of five or more
    texts, three of them different, that is chance in 1 of 3,000.
    """
    digit = digits(texts, units_)
    told = np.sort(digit[~np.isnan(digit)])
    if not len(told):
        return float("nan")
    finest = float(told[len(told) // 5])
    ends = [t.strip()[-1:] for t, d in zip(texts, digit.tolist(), strict=True) if d <= finest]
    halves = len(ends) >= _HALVES and "5" in ends and set(ends) <= {"0", "5"} and len(set(texts)) >= _UNLIKE
    return 5 * finest if halves else finest


def middle(values: np.ndarray) -> float:
    """Median; for the few values of a block many times faster than numpy's own."""
    n = len(values)
    if not n:
        return float("nan")
    ordered = np.sort(values)
    return float((ordered[(n - 1) // 2] + ordered[n // 2]) / 2)


def agree(step: float, spread: float, unknown: float) -> float:
    """Chance that two normal figures are written alike, about; more than one where the step is coarse.

    Source: density of the difference of two normal values at nought, 1/(2 sqrt(pi) s), times the step.

    Parameters
    ----------
    step : of the gauge [ticks]
    spread : of either figure [ticks]
    unknown : what is told where the spread is not known
    """
    return step / (2 * sqrt(pi) * spread) if spread > 0 else unknown


def spread_of(values: np.ndarray, fitted_parameters: int = 1) -> float:
    """Robust standard deviation of values about their middle, made good for what was fitted to them."""
    n = len(values)
    if n <= fitted_parameters:
        return float("nan")
    mad = TO_SD * middle(np.abs(values))
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
    names: dict[str, int] = {}
    bore = np.array([names.setdefault(f, len(names)) for f in features])
    spots: dict[Place, int] = {}
    place = np.array([spots.setdefault(p, len(spots)) for p in spots_of(station, clock)])
    level = middle(off)
    left = off - level
    at, of = np.zeros(len(spots)), np.zeros(len(names))
    if len(spots) > 1 and len(names) > 1:
        for _ in range(_ROUNDS):
            of = of + (move := _medians(left, bore, len(names)))
            left = left - move[bore]
            at = at + (move := _medians(left, place, len(spots)))
            left = left - move[place]
    elif len(names) > 1:
        of = _medians(left, bore, len(names))
        left = left - of[bore]
    centre = middle(at[place])
    shift = middle(of)
    about = left + of[bore] - shift
    at = at - centre
    level = level + centre
    parameters = len(names) + len(spots) - 1
    return Fit(
        level + shift, spread_of(about, len(spots)),
        spread_of(left, parameters) if len(off) > parameters else float("nan"),
        spread_of(of - shift), step, dict(zip(spots, at.tolist(), strict=True)),
        dict(zip(names, (of - shift).tolist(), strict=True)), off, left, about, aimed,
    )  # fmt: skip


def along(depth: float, least: float, most: float) -> float:
    """Share of the depths read at which a reading stands, to a tenth: engines of other lengths compare."""
    return round((depth - least) / (most - least), 1) if most > least else 0.0


def spots_of(station: np.ndarray, clock: np.ndarray) -> list[Place]:
    """Each reading's place: station and clock [ticks], -1 where blank."""
    return [
        (-1.0 if s != s else s, -1.0 if k != k else k)
        for s, k in zip(station.tolist(), clock.tolist(), strict=True)
    ]


def _medians(values: np.ndarray, group: np.ndarray, n: int) -> np.ndarray:
    """Median of each group; every group has a member."""
    order = np.lexsort((values, group))
    counts = np.bincount(group, minlength=n)
    start = np.concatenate(([0], np.cumsum(counts)[:-1]))
    ordered = values[order]
    low, high = ordered[start + (counts - 1) // 2], ordered[start + counts // 2]
    middle: np.ndarray = (low + high) / 2
    return middle
