"""The same bores read in two states, with the torque plate and without: what one table says of the other.

Level, taper and every bore's own size are common to both; what the bolts pull differs by place and is much
the same from block to block. So one reading tells the other to little more than a gauge's step.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from qc.ingest.plausible.blocks import Block
from qc.ingest.plausible.fit import Place, middle, spots_of
from qc.ingest.plausible.past import Past, PastBlock, Series
from qc.ingest.plausible.scene import Scene

OTHER: Final[Mapping[str, str]] = {"plate_on": "plate_off", "plate_off": "plate_on"}
_BUILDS: Final = 2  # past ones that tell the usual difference, else
_BORES: Final = 4  # bores of the block itself
_TAIL: Final = 4.0  # spreads that a difference counts at most

Spot = tuple[str, Place]


@dataclass(frozen=True, slots=True)
class Pair:
    """One table of the file beside the other state's.

    expected : (n,) what each reading of the block should be as a distance from its target, by the reading of
        the same place in the other state; NaN where there is none [ticks]
    spread : of readings about that [ticks]
    """

    expected: np.ndarray
    spread: float


def series_of(block: Block) -> Series:
    """Series of a block."""
    return (block.key[1], block.key[2], block.key[3], block.key[4], block.key[5])


def spots(block: Block, scene: Scene) -> list[Spot]:
    """Feature and place of each of the file's readings of a block."""
    c = scene.columns
    places = spots_of(c["station"][block.at], c["clock"][block.at])
    return list(zip(block.features[: block.new], places, strict=True))


def pair(scene: Scene, block: Block) -> Pair | None:
    """A table beside the other state's, None where there is none or nothing tells how they differ."""
    if block.key[5] not in OTHER or not block.aimed:
        return None
    mine = series_of(block)
    other: Series = (*mine[:4], OTHER[mine[4]])
    there = _deviations(scene, block.key[0], other)
    at = spots(block, scene)
    theirs = np.array([there.get(spot, np.nan) for spot in at])
    if np.isnan(theirs).all():
        return None
    told = _usual(scene.past(mine), scene.load([other])[other], {p for _, p in at}, block.key[-1])
    if told is None:
        told = _here(block.off[: block.new] - theirs, at)
    if told is None:
        return None
    usual, spread = told
    apart = np.array([usual.get(p, np.nan) for _, p in at])
    return Pair(theirs + apart, max(spread, block.step / 2 if block.step == block.step else 0.0, 1.0))


def _deviations(scene: Scene, build: str, series: Series) -> dict[Spot, float]:
    """Distances from their targets of a build's readings in a series, by feature and place [ticks]."""
    found: dict[Spot, float] = {}
    for c in reversed(scene.everywhere):
        there = c["build"] == build
        for name, value in zip(
            ("machine", "operation", "characteristic", "method", "state"), series, strict=True
        ):
            there &= c[name] == value
        at = np.flatnonzero(there)
        places = spots_of(c["station"][at], c["clock"][at])
        found |= zip(
            zip(c["feature"][at].tolist(), places, strict=True), c["deviation"][at].tolist(), strict=True
        )
    return found


def _usual(mine: Past, other: Past, places: set[Place], word: str) -> tuple[dict[Place, float], float] | None:
    """Usual difference by place, and the spread about it, of past builds that were read at these places."""
    there = {b.build: b for b in other.blocks if b.word == word and b.fit.aimed}
    both = [(b, there[b.build]) for b in mine.blocks if b.word == word and b.fit.aimed and b.build in there]
    both = [(a, b) for a, b in both if set(a.fit.pattern) == places]
    if len(both) < _BUILDS:
        return None
    apart: dict[Place, list[float]] = {}
    for a, b in both:
        known = _by_spot(b)
        for spot, value in _by_spot(a).items():
            if spot in known:
                apart.setdefault(spot[1], []).append(value - known[spot])
    return _told(apart)


def _by_spot(block: PastBlock) -> dict[Spot, float]:
    station = np.array([np.nan if r.station is None else r.station for r in block.readings], dtype=float)
    clock = np.array([np.nan if r.clock is None else r.clock for r in block.readings], dtype=float)
    places = spots_of(station, clock)
    return {(r.feature, p): r.deviation for r, p in zip(block.readings, places, strict=True)}


def _here(apart: np.ndarray, at: Sequence[Spot]) -> tuple[dict[Place, float], float] | None:
    """Likewise, of the block itself: some bores in doubt do not bend medians."""
    found: dict[Place, list[float]] = {}
    for (_, place), value in zip(at, apart.tolist(), strict=True):
        if value == value:
            found.setdefault(place, []).append(value)
    return _told(found) if found and min(map(len, found.values())) >= _BORES else None


def _told(apart: Mapping[Place, Sequence[float]]) -> tuple[dict[Place, float], float] | None:
    if not apart:
        return None
    usual = {p: middle(np.array(values)) for p, values in apart.items()}
    off = np.abs(np.concatenate([np.array(v) - usual[p] for p, v in apart.items()]))
    rough = max(1.4826 * middle(off), 1.0)
    spread = float(np.sqrt(np.mean(np.minimum(off, _TAIL * rough) ** 2)))
    return usual, spread
