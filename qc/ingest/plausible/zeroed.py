"""Whether everything a gauge read in a file lies off by one amount, its form as ever: zeroed wrong?"""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from math import sqrt
from typing import Any, Final, NamedTuple

import numpy as np

from qc.catalogue import CATALOGUE
from qc.ingest.plausible.fit import Fit, fitted, middle, steps
from qc.ingest.plausible.past import Past
from qc.ingest.plausible.registered import day
from qc.ingest.plausible.scene import Scene, Suspicion
from qc.ingest.plausible.values import verdict_changes
from qc.units import TICKS_PER_UM

CODES: Final = ("gauge_not_zeroed",)
RIVALS: Final = True
TABLE: Final = ("gauge", "build", "machine", "operation", "characteristic", "method", "state")
_LEAST: Final = 4  # readings of a table
_BLOCKS: Final = 3  # past ones that make a usual level
_KNOWN: Final = 15  # past ones whose ends tell as much as their spread
_TAKEN: Final = 10  # blocks that what is taken for usual counts like
MOST: Final = 120 * TICKS_PER_UM  # more is another oversize, or a turn of the dial
_OF_OTHERS: Final = 30 * TICKS_PER_UM  # likewise, where only other engines tell
_FORM: Final = 2.0  # times the usual spread that a block's own may be


class Moved(NamedTuple):
    """One table of a gauge: its rows, how far off, the spread of such levels and what is too far [ticks]."""

    at: list[int]
    off: float
    spread: float
    limit: float
    form: bool

    @property
    def strange(self) -> bool:
        """Whether the table as a whole is not where its series is."""
        return self.limit < abs(self.off) < MOST and self.form


class Pooled(NamedTuple):
    """Spread of block levels about those of their engine [ticks], nought unknown; by how many it is told."""

    spread: float
    of: int


def doubts(scene: Scene) -> Iterator[Suspicion]:
    """Yield one suspicion a gauge."""
    gauges: dict[str, list[Moved]] = defaultdict(list)
    for key, at in scene.groups(TABLE).items():
        table = None if key[0] is None or key[1] is None else moved(scene, key, at)
        if table is not None:
            gauges[key[0]].append(table)
    for gauge, tables in gauges.items():
        off = [t.off for t in tables]
        one_way = all(x > 0 for x in off) or all(x < 0 for x in off)
        if one_way and any(t.strange for t in tables) and _together(tables):
            yield _suspicion(scene, gauge, tables)


def moved(scene: Scene, key: tuple[Any, ...], at: list[int]) -> Moved | None:
    """How far a table (`TABLE`) is from its series; None where unknown, off 0 where it may be so."""
    c = scene.columns
    deviation = c["deviation"][at]
    if len(at) < _LEAST or not CATALOGUE[key[4]].coded or np.isnan(deviation).any():
        return None
    past = scene.past(key[2:])
    pooled = _pooled(past)
    levels, own = _levels(past, pooled, c["engine"][at[0]], c["unit"][at[0]])
    if not len(levels):
        return None
    step = steps(c["text"][at].tolist(), c["unit"][at].tolist())
    fit = fitted(True, c["feature"][at].tolist(), c["station"][at], c["clock"][at], c["size"][at],
                 deviation, step)  # fmt: skip
    spread, of = _level_spread(past, pooled, levels)
    limit = _quantile(of) * spread
    off = fit.level - middle(levels)
    known = float(np.min(np.abs(levels - fit.level))) < 3 * spread
    # another engine may be aimed at in another way: stock left on, for one
    far = abs(off) > limit and (known or not own and abs(off) > _OF_OTHERS)
    return Moved(at, 0.0 if far else off, spread, limit, _formed(fit, past))


def _levels(past: Past, known: Pooled, engine: str | None, unit: str) -> tuple[np.ndarray, bool]:
    """Levels of blocks to compare: this engine's (true), else of this unit or of all where they are alike."""
    told = [b for b in past.blocks if b.fit.aimed and b.level == b.level]
    written = [b for b in told if b.readings[0].unit == unit]
    same = [b for b in written if b.readings[0].engine == engine]
    if len(same) >= (_BLOCKS if known.of < _KNOWN else _BLOCKS - 1):
        return np.array([b.level for b in same]), True
    for some in (written, told):
        levels = np.array([b.level for b in some])
        if len(levels) >= _BLOCKS and (not known.spread or float(np.std(levels)) < 1.5 * known.spread):
            return levels, False
    return np.array([]), False


def _pooled(past: Past) -> Pooled:
    """How far block levels are from those of their engine."""
    groups: dict[tuple[str, bool, str | None], list[float]] = defaultdict(list)
    for block in past.blocks:
        if block.level == block.level:
            first = block.readings[0]
            groups[first.unit, block.fit.aimed, first.engine].append(block.level)
    left = [x - m for g in groups.values() if len(g) > 2 for m in (middle(np.array(g)),) for x in g]
    known = len(left) - sum(len(g) > 2 for g in groups.values())
    return Pooled(float(np.sqrt(np.sum(np.square(left)) / known)), known) if known > 3 else Pooled(0.0, 0)


def _level_spread(past: Past, known: Pooled, levels: np.ndarray) -> tuple[float, int]:
    """Spread of a new block's level about the median of those known [ticks], and by how many it is told.

    Few blocks tell little: until more do, block levels are taken to scatter as readings in a block do
    (common practice, no source), counted like ten blocks.
    """
    usual = max(x for x in (past.spread, past.step / 2, 1.0) if x == x)
    of = known.of + _TAKEN
    variance = (known.of * known.spread**2 + _TAKEN * usual**2) / of
    return sqrt(variance * (1 + 1 / len(levels))), of


def _quantile(of: int) -> float:
    """Spreads that one level in 10,000 exceeds, by Student's distribution with so many degrees of freedom.

    Source: expansion of the quantile in 1/n, Abramowitz and Stegun, Handbook of Mathematical Functions,
    26.7.5 (from memory).
    """
    z = 3.8906  # of the normal distribution at 0.99995
    return z + (z**3 + z) / (4 * of) + (5 * z**5 + 16 * z**3 + 3 * z) / (96 * of**2)


def _formed(fit: Fit, past: Past) -> bool:
    """Whether the block's spread is what it usually is: a step of the gauge leaves form alone."""
    allowed = max(x for x in (past.spread * _FORM, fit.step, past.step, 0.0) if x == x)
    return not fit.spread > allowed


def _together(tables: Sequence[Moved]) -> bool:
    """Whether one amount explains all tables of the gauge."""
    weights = np.array([1 / t.spread**2 for t in tables])
    off = np.array([t.off for t in tables])
    common = float(np.sum(weights * off) / np.sum(weights))
    return bool(np.all(np.abs(off - common) <= 3.5 * np.array([t.spread for t in tables])))


def _suspicion(scene: Scene, gauge: str, tables: Sequence[Moved]) -> Suspicion:
    at = sorted(i for t in tables for i in t.at)
    weights = np.array([1 / t.spread**2 for t in tables])
    off = float(np.sum(weights * np.array([t.off for t in tables])) / np.sum(weights))
    stop = any(verdict_changes(scene, i, float(scene.columns["size"][i]) - off) for i in at)
    last = _master(scene, gauge)
    return Suspicion(
        tuple(at), "gauge_not_zeroed", "stop" if stop else "ask", gauge,
        f"Everything read on {gauge} here lies {off / TICKS_PER_UM:+.0f} um from where such work usually is: "
        "{who}.",
        f"The form is as ever; a gauge zeroed wrong makes just such a step{last}.",
        f"Read {gauge}'s master. If the gauge was wrong, discard these rows and measure again; if the master "
        "reads right, accept: then the machine moved.",
    )  # fmt: skip


def _master(scene: Scene, gauge: str) -> str:
    """The last reading of the gauge's master, in words."""
    series = (gauge, "check", "master_check", CATALOGUE["master_check"].methods[0], "unstated")
    told = [r for b in scene.load([series])[series].blocks for r in b.readings]
    if not told or told[-1].deviation != told[-1].deviation:
        return ""
    return f" (its master last read {told[-1].deviation / TICKS_PER_UM:+.1f} um, on {day(told[-1].made_at)})"
