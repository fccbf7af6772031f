"""The file's readings by block, each held against the middle of its block at the same place.

What a reading is expected to be comes from its own block where most of it agrees with the past of its
series, and from the past, the build's other readings or the target where it does not.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from qc.catalogue import CATALOGUE
from qc.ingest.checks import FAR
from qc.ingest.plausible import shares
from qc.ingest.plausible.fit import Fit, aims, fitted, middle, spots_of, steps
from qc.ingest.plausible.past import Past, word_of
from qc.ingest.plausible.scene import Scene

SPREADS: Final = 4.0  # beyond so many spreads in the block a reading is doubted
OF_A_READING: Final = 3.3  # likewise about its own bore, where that comparison is the sharper one:
SHARP: Final = 5.5  # where so many spreads of readings in a bore are less
OF_A_BORE: Final = 6.0  # likewise, a whole bore: bores scatter with heavier tails than readings do
OF_A_LEVEL: Final = 6.0  # spreads of block levels that a block may be off its series
MANY: Final = 3  # past blocks that make a usual level
_ENOUGH: Final = 6  # readings whose own spread is believed where the past tells none
_MANY_READINGS: Final = 20
_SHARES: Final = 0.9  # of the limit, for the tail of a lognormal figure
_GROSS: Final = 0.3  # share of its size by which a block may be outside the sizes before
_OVERSIZE: Final = 1.5 * FAR  # the same bore before and after it was made an oversize
_ALLOWED: Final = 0.1  # likewise, once a slip is turned back
_PART: Final = 0.2  # of a block that must agree with the past for its level to be taken from that part
_GROSSLY: Final = 5.0  # limits beyond which a reading says nothing about its bore
_KEY: Final = ("build", "machine", "operation", "characteristic", "method", "state")


@dataclass(frozen=True)
class Block:
    """Readings of one build in one series and pass; the first `new` of them are the file's.

    at : (new,) positions in the scene
    off : (n,) deviations where all have targets (`aimed`), else sizes [ticks]
    base : (n,) what makes a size of it: targets, or nought
    level : what `off` should be at the middle of the block; `band` : how sure that is
    wanted : (n,) what each size should be, by place and bore
    places : (n,) usual difference of each reading's place from its bore [ticks]
    spread, step : of readings in the block, of the gauge [ticks]; NaN unknown
    limit : how far a reading may be from `wanted` [ticks]; inf where nothing tells
    suspect : (new,) readings farther away than that
    whole : whether the block as a whole is not where its series is
    """

    key: tuple[Any, ...]
    at: np.ndarray
    features: tuple[str, ...]
    off: np.ndarray
    base: np.ndarray
    aimed: bool
    past: Past
    fit: Fit
    level: float
    band: float
    wanted: np.ndarray
    spread: float
    step: float
    limit: float
    suspect: np.ndarray
    whole: bool
    places: np.ndarray

    @property
    def new(self) -> int:
        """Number of the file's readings."""
        return len(self.at)

    @property
    def characteristic(self) -> str:
        """Key of the characteristic."""
        return str(self.key[3])


def blocks(scene: Scene) -> list[Block]:
    """Every block of the file's readings, master readings left out."""
    if "blocks" not in scene.memo:
        beside = _grouped(scene.beside_columns) if scene.kept else {}
        scene.memo["blocks"] = [
            _block(scene, key, at, beside.get(key, []))
            for key, at in _grouped(scene.columns).items()
            if key[0] is not None
        ]
    found: list[Block] = scene.memo["blocks"]
    return found


def _grouped(columns: dict[str, np.ndarray]) -> dict[tuple[Any, ...], list[int]]:
    passes = [1.0 if p != p else p for p in columns["pass"].tolist()]
    found: dict[tuple[Any, ...], list[int]] = {}
    words = [word_of(f) for f in columns["feature"].tolist()]
    for i, key in enumerate(zip(*(columns[n].tolist() for n in _KEY), passes, words, strict=True)):
        found.setdefault(key, []).append(i)
    return found


def _joined(scene: Scene, name: str, at: Sequence[int], beside: Sequence[int]) -> np.ndarray:
    mine: np.ndarray = scene.columns[name][at]
    return np.concatenate((mine, scene.beside_columns[name][beside])) if beside else mine


def _block(scene: Scene, key: tuple[Any, ...], at: list[int], beside: list[int]) -> Block:
    def column(name: str) -> np.ndarray:
        return _joined(scene, name, at, beside)

    size, target = column("size"), column("target")
    aimed = aims(key[3], key[2], target)
    base = _alike(target) if aimed else np.zeros(len(size))
    features = tuple(column("feature").tolist())
    units = column("unit").tolist()
    step = steps(column("text").tolist(), units)
    station, clock = column("station"), column("clock")
    fit = fitted(aimed, features, station, clock, size, size - base, step)
    before = scene.past((key[1], key[2], key[3], key[4], key[5]))
    past = before.like(aimed, units[0], key[-1])
    spread = _spread(fit, past)
    step = max((s for s in (step, past.step) if s == s), default=np.nan)
    limit = (
        max((SPREADS * s for s in (spread, step) if s == s), default=np.inf) if spread == spread else np.inf
    )
    level, band, whole = _level(fit.off, fit.level, past, limit)
    pattern = _pattern(fit, past, station, clock)
    about = fit.off - level - pattern
    bores, suspect = _suspects(about, features, limit, _sharp(fit, past, limit))
    if CATALOGUE[key[3]].family_of(key[4]) == "lognormal":
        level, band, whole, bores, suspect = _in_shares(
            fit, past, (level, band, whole, bores, suspect), limit
        )
    gross = _gross(scene, key, at, size, before)
    if gross is not None:
        usual, band = gross
        return Block(
            key, np.array(at), features, size, np.zeros(len(size)), False, past, fit, usual, band,
            np.full(len(size), usual), spread, step, 0.0, np.abs(size[: len(at)] - usual) > band, True,
            np.zeros(len(size)),
        )  # fmt: skip
    return Block(
        key, np.array(at), features, fit.off, base, aimed, past, fit, level, band,
        base + level + pattern + bores, spread, step, limit, (suspect | whole)[: len(at)], whole, pattern,
    )  # fmt: skip


def _in_shares(
    fit: Fit, past: Past, told: tuple[float, float, bool, np.ndarray, np.ndarray], limit: float
) -> tuple[float, float, bool, np.ndarray, np.ndarray]:
    """Level, band, whole, bores and suspects where a tail towards more is usual: distances are shares."""
    level, band, whole, bores, suspect = told
    one_a_bore = len(fit.bores) == len(fit.off)
    judged = shares.judged(fit.off, past) if one_a_bore else None
    if judged is not None:
        return (*judged[:3], np.zeros(len(fit.off)), judged[3])
    if level > 0:
        suspect = suspect & (
            np.abs(np.log(np.maximum(fit.off, level / 1e6) / level)) > _SHARES * limit / level
        )
    return level, band, whole, bores, suspect


def _alike(target: np.ndarray) -> np.ndarray:
    """Targets, those more than 1 mm from the middle of the block replaced by it where it is one of them."""
    away = np.abs(target - middle(target)) > FAR
    return target if away.all() else np.where(away, middle(target), target)


def _gross(
    scene: Scene, key: tuple[Any, ...], at: Sequence[int], size: np.ndarray, past: Past
) -> tuple[float, float] | None:
    """What the sizes of a block should be and how sure that is, where they are not of that size at all.

    Held against the blocks before of the series, else against the build's other readings.
    """
    if not CATALOGUE[key[3]].coded:
        return None
    centre = middle(size)
    told = np.array([b.size for b in past.blocks if b.word == key[-1]])
    if len(told) < MANY:
        told = _elsewhere(scene, key, at)
        if len(told) and float(np.min(np.abs(told - centre))) > _OVERSIZE:
            return middle(told), _OVERSIZE
        return None
    least, most = float(np.min(told)), float(np.max(told))
    if least < FAR or least * (1 - _GROSS) <= centre <= most * (1 + _GROSS):
        return None
    usual = (least + most) / 2
    return usual, (most - least) / 2 + _ALLOWED * usual


def _elsewhere(scene: Scene, key: tuple[Any, ...], at: Sequence[int]) -> np.ndarray:
    """Sizes of the same characteristic of the build in other blocks [ticks]."""
    c = scene.columns
    sizes: np.ndarray = c["size"][_same(c, key, at)]
    if scene.kept:
        b = scene.beside_columns
        sizes = np.concatenate((sizes, b["size"][_same(b, key, [])]))
    told: np.ndarray = sizes[~np.isnan(sizes)]
    return told


def _same(c: dict[str, np.ndarray], key: tuple[Any, ...], but: Sequence[int]) -> list[int]:
    """Positions of the same characteristic and sort of feature in the build."""
    mine = np.flatnonzero((c["build"] == key[0]) & (c["characteristic"] == key[3])).tolist()
    away = set(but)
    return [i for i in mine if i not in away and word_of(c["feature"][i]) == key[-1]]


def _spread(fit: Fit, past: Past) -> float:
    """Spread of readings in the block [ticks]: the usual one, the block's own where it scatters more."""
    own = fit.spread if len(fit.off) >= _ENOUGH else float("nan")
    usual = max(past.spread, past.scatter)
    if usual != usual:
        return own
    # of few readings the ones in doubt make up too much of the block's own spread
    most = 2.0 if len(fit.off) >= _MANY_READINGS else 1.4
    return usual if own != own else float(min(max(usual, own), most * usual))


def _level(off: np.ndarray, centre: float, past: Past, limit: float) -> tuple[float, float, bool]:
    """Level of the block, how sure it is, and whether the block as a whole is elsewhere."""
    levels = past.levels
    if len(levels) < MANY or not past.one_size:
        return centre, limit, False
    usual, band = past.level, max(OF_A_LEVEL * past.level_spread, limit if np.isfinite(limit) else 0.0)
    if abs(centre - usual) <= band or float(np.min(np.abs(levels - centre))) <= limit / 2:
        return centre, band, False
    near = np.abs(off - usual) <= band
    if near.sum() >= max(2, _PART * len(off)):
        return middle(off[near]), band, False
    return usual, band, True


def _pattern(fit: Fit, past: Past, station: np.ndarray, clock: np.ndarray) -> np.ndarray:
    """Usual difference of each reading's place from its bore [ticks]."""
    places = spots_of(station, clock)
    known = past.pattern if len(past.blocks) >= MANY else {}
    there = set(places)
    if 2 * sum(p in known for p in there) < len(there) or not known:
        return np.array([fit.pattern[p] for p in places])
    # a place never read before is no reason to differ from the others
    return np.array([known.get(p, 0.0) for p in places])


def _sharp(fit: Fit, past: Past, limit: float) -> float:
    """How far a reading may be from its own bore [ticks]: less than from its block, where bores tell more."""
    close = past.reading_spread if past.reading_spread == past.reading_spread else fit.reading_spread
    sharp = limit * OF_A_READING / SPREADS
    return sharp if close != close else min(max(sharp, SHARP * close), 1.05 * limit)


def _suspects(
    about: np.ndarray, features: Sequence[str], limit: float, sharp: float
) -> tuple[np.ndarray, np.ndarray]:
    """Each reading's bore effect (nought for a bore that is itself in doubt), and which are in doubt."""
    n = len(about)
    bores, suspect = np.zeros(n), np.zeros(n, dtype=bool)
    names = np.asarray(features, dtype=object)
    for name in dict.fromkeys(features):
        mine = np.flatnonzero(names == name)
        own = about[mine]
        near = own[np.abs(own) <= _GROSSLY * limit]
        centre = middle(near if len(near) > 1 else own)
        if len(mine) > 2 and abs(centre) <= limit * OF_A_BORE / SPREADS:
            bores[mine] = centre
            suspect[mine] = np.abs(own - centre) > sharp
        else:
            suspect[mine] = np.abs(own) > limit
    return bores, suspect
