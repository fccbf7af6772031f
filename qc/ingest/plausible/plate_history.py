"""Bores read with the plate on and off: what the plate usually does to them, place by place, and how surely.

Places are told by their share of the depth between the first and the last station, so that engines of other
lengths can be compared. Everything in ticks.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from qc.ingest.plausible.fit import TO_SD, Place, along, middle, spots_of
from qc.ingest.plausible.past import Past, PastReading, sized

BOTH: Final = ("plate_on", "plate_off")
LEAST_PLACES: Final = 4  # of a hole, read in both states
_HOLES: Final = 6  # that tell what the plate does
_FITTED: Final = 2  # to each hole: how much it moves, and how much of the usual pull it has
_CLIP: Final = 3.0  # spreads beyond which a single difference tells no more
_BEND: Final = 2.0  # holes that the form usual before counts like, beside those of the block
_SHRUNK: Final = 2.0  # times the places: holes that a covariance without any correlation counts like

Sizes = Mapping[Place, float]


@dataclass(frozen=True, slots=True)
class Hole:
    """One hole read in both states, sizes [ticks] by place."""

    block: str
    engine: str | None
    on: Sizes
    off: Sizes

    @property
    def places(self) -> list[Place]:
        """Places read in both states, in their order."""
        return sorted(p for p in self.on if p in self.off)

    def pull(self, places: Sequence[Place]) -> np.ndarray:
        """How much larger the hole is with the plate on, by place."""
        return np.array([self.on[p] - self.off[p] for p in places])


@dataclass(frozen=True, slots=True)
class Pull:
    """What the plate does: the usual difference by place, and how the differences of a hole scatter about it.

    spread : of single places; shift : of a whole hole's mean; noise : of two readings of one place
    """

    usual: np.ndarray
    spread: float
    shift: float
    noise: float


def keyed(station: Sequence[float], clock: Sequence[float]) -> list[Place]:
    """Each reading's place: share of the depth, and clock [ticks], -1 where blank."""
    spots = spots_of(np.array(station, dtype=float), np.array(clock, dtype=float))
    depths = [s for s, _ in spots if s >= 0]
    least, most = min(depths, default=0.0), max(depths, default=0.0)
    return [(along(s, least, most) if s >= 0 else -1.0, k) for s, k in spots]


def before(on: Past, off: Past) -> list[Hole]:
    """Holes of past blocks that were read in both states."""
    found = []
    theirs = {b.build: _features(b.readings) for b in off.blocks}
    for block in on.blocks:
        other = theirs.get(block.build, {})
        for name, sizes in _features(block.readings).items():
            hole = Hole(block.build, block.readings[0].engine, sizes, other.get(name, {}))
            if len(hole.places) >= LEAST_PLACES:
                found.append(hole)
    return found


def _features(readings: Sequence[PastReading]) -> dict[str, dict[Place, float]]:
    nan = float("nan")
    places = keyed(
        [nan if r.station is None else r.station for r in readings],
        [nan if r.clock is None else r.clock for r in readings],
    )
    found: dict[str, dict[Place, float]] = defaultdict(dict)
    for place, r in zip(places, readings, strict=True):
        found[r.feature][place] = sized(r)
    return found


def there(holes: Iterable[Hole], places: Sequence[Place]) -> list[Hole]:
    """Holes read at these places in both states."""
    return [h for h in holes if all(p in h.on and p in h.off for p in places)]


def like(holes: Sequence[Hole], engine: str | None) -> list[Hole]:
    """Holes of this engine where enough are, else all, none where too few tell."""
    same = [h for h in holes if h.engine == engine]
    return same if len(same) >= _HOLES else list(holes) if len(holes) >= _HOLES else []


def pulled(holes: Sequence[Hole], places: Sequence[Place], rounding: float) -> Pull | None:
    """What the plate does at these places by such holes, None where too few tell.

    Parameters
    ----------
    rounding : float
        Variance of the difference of two readings that the gauge's step makes [ticks^2].
    """
    if len(holes) < _HOLES:
        return None
    told = np.array([h.pull(places) for h in holes])
    usual = np.median(told, axis=0)
    apart = told - usual
    means = apart.mean(axis=1)
    inside = apart - means[:, None]
    n = len(places)
    spread = _clipped(inside) * np.sqrt(n / (n - 1))
    shift = np.sqrt(max(0.0, _clipped(means) ** 2 - spread**2 / n))
    noise = _clipped(_unexplained(told, usual)) * np.sqrt(n / (n - _FITTED))
    least = np.sqrt(rounding)
    return Pull(usual, max(spread, least), max(float(shift), least / n), max(noise, least))


def _clipped(values: np.ndarray) -> float:
    """Root mean square, gross ones cut."""
    usual = TO_SD * middle(np.abs(values.ravel()))
    if not usual > 0:
        return float(np.sqrt(np.mean(values**2)))
    return float(np.sqrt(np.mean(np.clip(values, -_CLIP * usual, _CLIP * usual) ** 2)))


def _unexplained(told: np.ndarray, usual: np.ndarray) -> np.ndarray:
    """What is left of each hole's differences, its own mean and its share of the usual pull taken out."""
    design = np.column_stack((np.ones(len(usual)), usual))
    left: np.ndarray = told.T - design @ np.linalg.lstsq(design, told.T, rcond=None)[0]
    return left


def squares(apart: np.ndarray, spread: float, shift: float) -> float:
    """Sum of squares of a hole's differences, each in its own spread: chi-squared where the spreads are true.

    Normal values of one spread that share a shift: the mean has the variance shift^2 + spread^2 / n.
    """
    n = len(apart)
    centre = float(np.mean(apart))
    inside = float(np.sum((apart - centre) ** 2))
    return inside / spread**2 + n * centre**2 / (spread**2 + n * shift**2)


def likelihood(apart: np.ndarray, spread: float, shift: float) -> float:
    """Log-likelihood of a hole's differences from what they should be, less what all have in common."""
    n = len(apart)
    of_spreads = 2 * (n - 1) * np.log(spread) + np.log(spread**2 + n * shift**2)
    return float(-(squares(apart, spread, shift) + of_spreads) / 2)


def more_like_on(
    hole: Hole, usual: np.ndarray, every: Sequence[Hole], beside: Sequence[Hole], places: Sequence[Place]
) -> float:
    """Logarithm of how much likelier the middle of a hole's two readings is that of a bore with the plate on.

    By the form alone, levels taken out: normal profiles with one covariance, shrunk towards none where holes
    are few.

    Parameters
    ----------
    usual : (n,) what the plate does to such a hole [ticks]
    every : holes of all engines at these places
    beside : holes of the same block that are not in doubt: what they have in common this one has too
    """
    on = _profiles([h.on for h in every], places)
    centre = np.median(on, axis=0)
    left = on - centre
    if beside:
        bent = np.mean(_profiles([h.on for h in beside], places) - centre, axis=0)
        centre = centre + bent * len(beside) / (len(beside) + _BEND)
    ours = (_profiles([hole.on], places)[0] + _profiles([hole.off], places)[0]) / 2
    covariance = left.T @ left / len(left)
    n, of = len(places), len(every)
    alone = np.eye(n) * np.trace(covariance) / n
    share = of / (of + _SHRUNK * n)
    pull = usual - usual.mean()
    toward = np.linalg.lstsq(share * covariance + (1 - share) * alone, pull, rcond=None)[0]
    return float((ours - centre + pull / 2) @ toward)


def _profiles(holes: Sequence[Sizes], places: Sequence[Place]) -> np.ndarray:
    told = np.array([[h[p] for p in places] for h in holes])
    off: np.ndarray = told - told.mean(axis=1, keepdims=True)
    return off
