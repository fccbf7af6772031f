"""The same bores read in two states, with the torque plate and without: what one table says of the other.

Level, taper and every bore's own size are common to both; what the bolts pull differs by place and is much
the same from block to block. So one reading tells the other to little more than a gauge's step.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import sqrt
from typing import Final

import numpy as np

from qc.ingest.plausible.blocks import Block
from qc.ingest.plausible.fit import TO_SD, Place, along, middle, spots_of
from qc.ingest.plausible.past import Past, PastBlock, Series
from qc.ingest.plausible.scene import Scene
from qc.ingest.plausible.tables import grain

OTHER: Final[Mapping[str, str]] = {"plate_on": "plate_off", "plate_off": "plate_on"}
_BUILDS: Final = 2  # past ones that tell the usual difference, else
_BORES: Final = 4  # bores of the block itself
_SCATTER: Final = 1.5  # times the usual spread that differences of a block may have
_NINTH: Final = 1.645  # spreads of normal values within which nine of ten lie
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
    off = block.off[: block.new]
    both = _both(scene.past(mine), scene.load([other])[other], block.key[-1])
    usual, spread = _usual(both, off, theirs, at)
    if not usual:
        return None
    apart = np.array([usual.get(p, np.nan) for _, p in at])
    return Pair(theirs + apart, max(spread, grain(off) / sqrt(6), 1.0))  # two readings were rounded


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


def _both(mine: Past, other: Past, word: str) -> list[dict[Spot, float]]:
    """What past builds that were read in both states differ by, each by feature and place [ticks]."""
    there = {b.build: _by_spot(b) for b in other.blocks if b.word == word and b.fit.aimed}
    found = []
    for block in mine.blocks:
        if block.word == word and block.fit.aimed and block.build in there:
            known = there[block.build]
            apart = {s: v - known[s] for s, v in _by_spot(block).items() if s in known}
            if apart:
                found.append(apart)
    return found


def _usual(
    both: Sequence[Mapping[Spot, float]], off: np.ndarray, theirs: np.ndarray, at: Sequence[Spot]
) -> tuple[dict[Place, float], float]:
    """Usual difference by place, and the spread about it: of builds read at the same places, or of the block.

    The block's own differences stand for those of builds where none was read so; where they scatter more than
    differences do, each counts with the sign that brings it nearer to what other bores differ by.
    """
    places = {p for _, p in at}
    same = _grouped([b for b in both if {p for _, p in b} == places])
    here = _grouped([_spots(off - theirs, at)])
    told = [_medians(_grouped([b])) for b in both]
    left = [v - m[p] for b, m in zip(both, told, strict=True) for (_, p), v in b.items()]
    if len(both) < _BUILDS:
        enough = bool(here) and min(map(len, here.values())) >= _BORES
        return (_medians(here), _spread(_left(here))) if enough else ({}, 0.0)
    spread = _spread(left)
    if same:
        return _medians(same), max(spread, _spread(_left(same)))
    if _spread(_left(here)) > _SCATTER * spread:
        near = _near(_medians(_grouped([_ranked(b) for b in both])), at)
        here = _grouped([_spots(_nearest(off, theirs, near), at)])
    return _medians(here), spread


def _spots(values: np.ndarray, at: Sequence[Spot]) -> dict[Spot, float]:
    return {spot: v for spot, v in zip(at, values.tolist(), strict=True) if v == v}


def _grouped(some: Sequence[Mapping[Spot, float]]) -> dict[Place, list[float]]:
    found: dict[Place, list[float]] = {}
    for one in some:
        for (_, place), value in one.items():
            found.setdefault(place, []).append(value)
    return found


def _medians(apart: Mapping[Place, Sequence[float]]) -> dict[Place, float]:
    return {p: middle(np.array(values)) for p, values in apart.items()}


def _left(apart: Mapping[Place, Sequence[float]]) -> list[float]:
    usual = _medians(apart)
    return [v - usual[p] for p, values in apart.items() for v in values]


def _ranked(apart: Mapping[Spot, float]) -> dict[Spot, float]:
    """Differences with the depth as a share of the depths read: bores of other engines have others."""
    depths = [p[0] for _, p in apart]
    least, most = min(depths), max(depths)
    return {(f, (along(p[0], least, most), p[1])): v for (f, p), v in apart.items()}


def _near(ranked: Mapping[Place, float], at: Sequence[Spot]) -> np.ndarray:
    """What bores of other engines differ by near each place [ticks], nought where none was read there."""
    depths = [p[0] for _, p in at]
    least, most = min(depths), max(depths)
    return np.array([ranked.get((along(p[0], least, most), p[1]), 0.0) for _, p in at])


def _nearest(off: np.ndarray, theirs: np.ndarray, near: np.ndarray) -> np.ndarray:
    """Differences with the sign of one reading turned where that brings them nearer."""
    ways = np.array([off - theirs, -off - theirs, off + theirs])
    best = np.argmin(np.abs(np.nan_to_num(ways - near)), axis=0)
    found: np.ndarray = ways[best, np.arange(len(off))]
    return found


def _by_spot(block: PastBlock) -> dict[Spot, float]:
    station = np.array([np.nan if r.station is None else r.station for r in block.readings], dtype=float)
    clock = np.array([np.nan if r.clock is None else r.clock for r in block.readings], dtype=float)
    places = spots_of(station, clock)
    return {(r.feature, p): r.deviation for r, p in zip(block.readings, places, strict=True)}


def _spread(off: Sequence[float]) -> float:
    """Root mean square, single differences far off counted less [ticks]."""
    apart = np.abs(np.array(off))
    # a coarse gauge makes more than half of them nought
    rough = max(TO_SD * middle(apart), float(np.percentile(apart, 90)) / _NINTH, 1.0)
    return float(np.sqrt(np.mean(np.minimum(apart, _TAIL * rough) ** 2)))
