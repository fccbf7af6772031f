"""How likely it is that readings of one table show just these figures together, beside its other readings.

A figure that repeats, or is the target, is no wonder where the bores are alike and the gauge is coarse. What
bores, depths and clock positions of a table have in common, and with the same block in another state, is
learned from the blocks before; with it each figure is foretold from the readings that are not in doubt.
Source: a mixed model with crossed effects, its variance components by the method of moments (mean products of
pairs of readings), and normal conditional distributions by Cholesky's factorization.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import erf, log, sqrt
from typing import Any, Final

import numpy as np

from qc import units
from qc.ingest.plausible.fit import aims, middle, steps
from qc.ingest.plausible.past import Past, PastBlock, PastReading, word_of
from qc.ingest.plausible.scene import Scene

_BLOCKS: Final = 3  # past blocks that make the components known
_CLIP: Final = 4.0  # spreads beyond which a past reading tells no more of how far readings usually are
_MOST: Final = 0.97  # of one figure: nothing is certain to be read
_LEAST: Final = 0.01  # likewise: tails are heavier than normal
_OPEN: Final = 100.0  # spreads within which the level lies where the past says nothing of it
_FINER: Final = 0.01  # what readings differ by at least, in squares of the gauge's step
_SIZE: Final = 300  # readings that are held together: the cost grows with their square
_TABLE: Final = ("build", "machine", "operation", "characteristic", "method", "state")
_STATE: Final = 5

# kernels, and which of the others each contains: pairs that share the block; depth; clock; both; the bore;
# bore and depth; bore and clock; all
_OF_OTHER_BORES: Final = 4  # the first of them can be told from pairs in different bores
_WITHIN: Final = ((), (0,), (0,), (0, 1, 2), (0,), (0, 1, 4), (0, 2, 4), (0, 1, 2, 3, 4, 5, 6))


def _kernels(readings: Sequence[Any]) -> list[np.ndarray]:
    """Which pairs of readings share what, in the order of `_WITHIN`."""
    hole, depth, clock = (_shared([getattr(r, n) for r in readings]) for n in ("feature", "station", "clock"))
    told = [np.ones_like(hole), depth, clock, depth & clock]
    return [*told, *(hole & one for one in told)]


def _shared(values: Sequence[Any]) -> np.ndarray:
    names: dict[Any, int] = {}
    told = np.array([names.setdefault(v, len(names)) for v in values])
    same: np.ndarray = told[:, None] == told[None, :]
    return same


def _apart(kernels: Sequence[np.ndarray]) -> list[np.ndarray]:
    """Pairs that share just what a kernel says and no more."""
    block, depth, clock, place, hole, at_depth, at_clock, same = kernels
    return [
        block & ~depth & ~clock & ~hole, depth & ~clock & ~hole, clock & ~depth & ~hole, place & ~hole,
        hole & ~depth & ~clock, at_depth & ~clock, at_clock & ~depth, same,
    ]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Part:
    """Past readings of one build, the number of each one's table, and its distance from that mean [ticks]."""

    readings: tuple[PastReading, ...]
    table: np.ndarray
    off: np.ndarray


def _parts(pasts: Sequence[Past]) -> list[Part]:
    """The blocks of one or two series, those of one build together, each block about its own mean."""
    found: dict[tuple[str, str], list[tuple[int, PastBlock]]] = {}
    for k, past in enumerate(pasts):
        for block in past.blocks:
            found.setdefault((block.build, block.word), []).append((k, block))
    told = []
    for some in found.values():
        readings = [r for _, b in some for r in b.readings]
        if len(readings) > _SIZE:
            continue
        table = np.concatenate([np.full(len(b.readings), k) for k, b in some])
        off = np.concatenate([_about(b, pasts[k]) for k, b in some])
        told.append(Part(tuple(readings), table, off))
    return told


def _about(block: PastBlock, past: Past) -> np.ndarray:
    off = block.fit.off - float(np.mean(block.fit.off))
    most = _CLIP * max(x for x in (past.scatter, past.step) if x == x)
    told: np.ndarray = np.clip(off, -most, most)
    return told


def components(parts: Sequence[Part], noise: Sequence[float]) -> np.ndarray:
    """Variance components [ticks^2], (kernels, tables, tables); what a block has as a whole is left out.

    Each is what pairs that share just this have beyond what they share otherwise; between two tables it is
    bounded so that no correlation is more than one.

    Parameters
    ----------
    noise : of each table, what the gauge's step adds to every reading [ticks^2]; it is left out
    """
    n, tables = len(_WITHIN), len(noise)
    total, weight = np.zeros((n, tables, tables)), np.zeros((n, tables, tables))
    for part in parts:
        products = np.outer(part.off, part.off)
        one = np.eye(tables)[part.table]
        for k, mask in enumerate(_apart(_kernels(part.readings))):
            total[k] += one.T @ (products * mask) @ one
            weight[k] += one.T @ mask @ one
    means = np.divide(total, weight, out=np.full_like(total, np.nan), where=weight > 0)
    found = np.zeros_like(means)
    # what pairs have that share least: less than nothing, as each block is told about its own mean
    base = next((k for k in range(_OF_OTHER_BORES) if weight[k].all()), 0)
    for k in range(n):
        rest = found[list(_WITHIN[k])].sum(axis=0)
        found[k] = np.where(np.isnan(means[k]), 0.0, means[k] - rest)
        found[k] -= np.diag(noise) if k == n - 1 else 0.0
        if k != base:
            own = np.sqrt(np.maximum(np.diag(found[k]), 0.0))
            most = np.outer(own, own)
            found[k] = np.clip(found[k], -most, most)
    found[base] = 0.0
    return found


@dataclass(frozen=True)
class Together:
    """Readings of one table, and of the same block in another state, as one normal vector.

    at : positions in the scene
    off : (n,) distances from what the past foretells [ticks]
    cov : (n, n) covariances [ticks^2], the gauge's steps included
    step : (n,) of the gauge [ticks]
    """

    at: tuple[int, ...]
    off: np.ndarray
    cov: np.ndarray
    step: np.ndarray

    def chance(self, some: Sequence[int], given: Sequence[int] = ()) -> float:
        """Logarithm of the chance that these readings show what they show.

        Parameters
        ----------
        some : positions in the scene, in the order in which they are foretold
        given : those among the doubted that are believed all the same
        """
        where = {i: k for k, i in enumerate(self.at)}
        last = [where[i] for i in some if i not in set(given)]
        away = set(last)
        first = [k for k in range(len(self.at)) if k not in away]
        order = first + last
        root = np.linalg.cholesky(self.cov[np.ix_(order, order)])
        told = np.linalg.solve(root, self.off[order])
        total = 0.0
        for k in range(len(first), len(order)):
            step, own = self.step[order[k]], root[k, k]
            spread = sqrt(own**2 - step**2 / 12)
            total += log(min(_MOST, max(_LEAST, _between(own * told[k], step, spread))))
        return total


def _joined(scene: Scene, at: Sequence[int], beside: Sequence[int], pasts: Sequence[Past]) -> Together:
    every = (*at, *beside)
    table = np.array([0] * len(at) + [1] * len(beside))
    aimed = pasts[0].blocks[0].fit.aimed
    steps_ = [shown_step(scene, p, some) for p, some in zip(pasts, (at, beside), strict=False)]
    step = np.array(steps_)[table]
    cov = np.diag((1 / 12 + _FINER) * step**2) + _levels(pasts)[np.ix_(table, table)]
    found = components(_parts(pasts), [p.step**2 / 12 for p in pasts])
    for part, mask in zip(found, _kernels([scene.rows[i] for i in every]), strict=True):
        cov += part[np.ix_(table, table)] * mask
    off = scene.columns["deviation" if aimed else "size"][list(every)]
    centre = np.array([p.level for p in pasts]) if aimed else np.full(len(pasts), middle(off))
    return Together(every, off - centre[table], cov, step)


def _between(away: float, step: float, spread: float) -> float:
    """Chance of a figure so far from what is expected, on a scale of such steps."""
    of = sqrt(2) * spread
    return (erf((away + step / 2) / of) - erf((away - step / 2) / of)) / 2


def _levels(pasts: Sequence[Past]) -> np.ndarray:
    """Covariance of the levels of the tables; wide open where nothing tells them."""
    told = []
    for past in pasts:
        least = max(past.scatter, past.step / 2) / 2
        spread = float(np.std(past.levels, ddof=1)) if past.blocks[0].fit.aimed else _OPEN * least
        told.append(max(spread, least) ** 2)
    found = np.diag(told)
    if len(pasts) == 2:
        found[0, 1] = found[1, 0] = _shared_level(pasts, found)
    return found


def _shared_level(pasts: Sequence[Past], own: np.ndarray) -> float:
    levels = [{b.build: b.level for b in p.blocks} for p in pasts]
    both = [(levels[0][b], levels[1][b]) for b in levels[0] if b in levels[1]]
    if len(both) < _BLOCKS or not pasts[0].blocks[0].fit.aimed:
        return 0.0
    a, b = np.array(both).T
    return float(
        np.clip(np.mean((a - pasts[0].level) * (b - pasts[1].level)), 0.0, 0.95 * sqrt(own[0, 0] * own[1, 1]))
    )


def shown_step(
    scene: Scene, past: Past, at: Sequence[int], unknown: float = float(units.TICKS_PER_UM)
) -> float:
    """The gauge's step [ticks]: the usual one, or what these readings show where that is coarser."""
    c = scene.columns
    told = [past.step, steps(c["text"][list(at)].tolist(), c["unit"][list(at)].tolist())]
    return max((x for x in told if x == x), default=unknown)


def together(scene: Scene, key: tuple[Any, ...], at: Sequence[int]) -> Together | None:
    """The table beside the same block in another state; None where too little came before.

    Parameters
    ----------
    key : build, machine, operation, characteristic, method, state of the readings
    at : positions of the table
    """
    name = f"together {key} {at[0]} {at[-1]} {len(at)}"
    if name not in scene.memo:
        scene.memo[name] = _together(scene, key, at)
    found: Together | None = scene.memo[name]
    return found


def _together(scene: Scene, key: tuple[Any, ...], at: Sequence[int]) -> Together | None:
    past = _known(scene, key, at)
    if past is None or len(at) > _SIZE:
        return None
    for other, beside in scene.groups(_TABLE).items():
        if other != key and other[:_STATE] == key[:_STATE] and len(at) + len(beside) <= _SIZE:
            known = _known(scene, other, beside)
            if known is not None and known.blocks[0].fit.aimed == past.blocks[0].fit.aimed:
                return _joined(scene, at, beside, (past, known))
    return _joined(scene, at, (), (past,))


def _known(scene: Scene, key: tuple[Any, ...], at: Sequence[int]) -> Past | None:
    c, series = scene.columns, key[1:]
    if not scene.past(series):
        return None
    aimed = aims(key[3], key[2], c["target"][list(at)])
    words = {word_of(f) for f in c["feature"][list(at)]}
    past = scene.past(series).like(aimed, c["unit"][at[0]], words.pop() if len(words) == 1 else None)
    same = Past(tuple(b for b in past.blocks if b.readings[0].unit == c["unit"][at[0]]))
    past = same if len(same.blocks) >= _BLOCKS else past
    return past if len(past.blocks) >= _BLOCKS and past.step == past.step else None
