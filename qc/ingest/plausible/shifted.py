"""Whether figures stand one column or one row away from where they belong: the neighbour's place fits them.

A table's columns: texture figures of one bore that fit each other's usual size. A table's rows: sizes that
fit the place or target of the row above or below.
"""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from itertools import combinations
from typing import Any, Final

import numpy as np

from qc.catalogue import CATALOGUE
from qc.ingest.line import number_ticks
from qc.ingest.plausible.fit import spots_of
from qc.ingest.plausible.past import Past
from qc.ingest.plausible.scene import Scene, Suspicion
from qc.ingest.plausible.values import verdict_changes

CODES: Final = ("columns_shifted", "rows_shifted")
RIVALS: Final = True
_BORE: Final = ("build", "machine", "operation", "state", "feature")
_TABLE: Final = ("build", "machine", "operation", "characteristic", "method", "state")
_BLOCKS: Final = 3
_LEAST_SPREAD: Final = 0.12  # of logarithms of texture: one profile differs from the next by 10 to 20 %
_STRANGE: Final = 5.0  # spreads that a figure must be away from its own column
_FITS: Final = 3.0  # and at most away from the other
_LIKELIER: Final = 15.0  # logarithm of how much likelier the row beside must be
_ROWS: Final = 4


def doubts(scene: Scene) -> Iterator[Suspicion]:
    """Yield one suspicion for columns, one a table for rows."""
    yield from _columns(scene)
    for key, at in scene.groups(_TABLE).items():
        if key[0] is not None and len(at) > _ROWS and CATALOGUE[key[3]].coded:
            yield from _rows(scene, scene.past(key[1:]), at)


def _columns(scene: Scene) -> Iterator[Suspicion]:
    bores: dict[tuple[Any, ...], list[int]] = defaultdict(list)
    c = scene.columns
    for i, r in enumerate(scene.rows):
        entry = CATALOGUE[r.characteristic]
        if entry.family == "lognormal" and entry.kind == "length" and r.build and c["size"][i] > 0:
            bores[tuple(c[n][i] for n in _BORE)].append(i)
    usual = {i: _usual(scene, i) for at in bores.values() if len(at) > 1 for i in at}
    doubted: dict[int, int] = {}
    for at in bores.values():
        if len(at) > 1 and all(usual[i] is not None for i in at):
            doubted |= _exchanged(scene, at, usual)
    if doubted:
        yield _column_words(scene, doubted)


def _usual(scene: Scene, i: int) -> tuple[float, float] | None:
    """Logarithm of the usual figure, and its spread."""
    r = scene.rows[i]
    past = scene.past((r.machine, r.operation, r.characteristic, r.method, r.state))
    levels = [b.level for b in past.blocks if b.level > 0]
    if len(levels) < _BLOCKS:
        return None
    level = float(np.median(levels))
    spread = max((x / level for x in (past.spread, past.level_spread) if x == x), default=0.0)
    return float(np.log(level)), max(_LEAST_SPREAD, 1.4 * spread)


def _exchanged(scene: Scene, at: Sequence[int], usual: Any) -> dict[int, int]:
    """Positions that are doubted, each with the position whose figure would fit it."""
    size = np.log(scene.columns["size"][list(at)])
    level, spread = np.array([usual[i] for i in at]).T
    own = np.abs(size - level) / spread
    if own.max() < _STRANGE:
        return {}
    n = len(at)
    for order in _orders(n):
        moved = order != np.arange(n)
        there = np.abs(size[order] - level) / spread
        if np.all(there < _FITS) and np.sum(own[moved] ** 2) > 6 * max(1.0, np.sum(there[moved] ** 2)):
            return {at[int(k)]: at[int(order[k])] for k in np.flatnonzero(moved)}
    return {}


def _orders(n: int) -> Iterator[np.ndarray]:
    """Ways in which columns change places: all moved on by one, a pair, some neighbours moved on."""
    yield np.roll(np.arange(n), 1)
    yield np.roll(np.arange(n), -1)
    for a, b in combinations(range(n), 2):
        some = np.arange(n)
        some[[a, b]] = some[[b, a]]
        yield some
        for by in (1, -1):
            if b - a > 1:
                part = np.arange(n)
                part[a : b + 1] = np.roll(part[a : b + 1], by)
                yield part


def _column_words(scene: Scene, doubted: dict[int, int]) -> Suspicion:
    at = sorted(doubted)
    texts = {i: scene.rows[k].source.text for i, k in doubted.items()}
    stop = any(verdict_changes(scene, i, float(scene.columns["size"][k])) for i, k in doubted.items())
    pairs = dict.fromkeys(
        f"{CATALOGUE[scene.rows[i].characteristic].label} stands under "
        f"{CATALOGUE[scene.rows[k].characteristic].label}" for i, k in doubted.items() if i != k
    )  # fmt: skip
    return Suspicion(
        tuple(at), "columns_shifted", "stop" if stop else "ask", "",
        "{who} {read} {texts} where other figures are usual.",
        f"Moved to the columns beside, all of them are what is usual: {', '.join(pairs)}.",
        "Were the columns exchanged or moved on by one? Correct puts each figure where it fits; accept takes "
        "them as they stand.",
        proposed=texts,
    )  # fmt: skip


def _rows(scene: Scene, past: Past, at: list[int]) -> Iterator[Suspicion]:
    c = scene.columns
    if np.isnan(c["target"][at]).any() or len(past.blocks) < _BLOCKS or past.spread != past.spread:
        return
    read = np.array([number_ticks(scene.rows[i].source.text, scene.rows[i].unit) for i in at], dtype=float)
    written = c["size"][at] == read  # else distances from the target
    if not written.all() and written.any():
        return
    expected = _expected(scene, past, at) + (c["target"][at] if written.all() else 0.0)
    noise = max(x for x in (past.spread, past.step / 2, 1.0) if x == x)

    def off(wanted: np.ndarray) -> np.ndarray:
        left = read - wanted
        level = np.clip(np.median(left), past.level - 3 * noise, past.level + 3 * noise)
        about: np.ndarray = left - level
        return about

    for by in (1, -1):
        first = _shift(off(expected), off(np.roll(expected, by)), noise, by)
        if first is not None:
            yield _row_words(scene, at, first, by)
            return


def _expected(scene: Scene, past: Past, at: Sequence[int]) -> np.ndarray:
    """Usual difference of each reading's place from its bore [ticks]."""
    c = scene.columns
    places = spots_of(c["station"][at], c["clock"][at])
    return np.array([past.pattern.get(place, 0.0) for place in places])


def _shift(own: np.ndarray, beside: np.ndarray, noise: float, by: int) -> slice | None:
    """The rows that fit their neighbour's place much better than their own: a run to one end of the table."""
    gain = np.minimum(own**2, 25 * noise**2) - np.minimum(beside**2, 25 * noise**2)
    n = len(gain)
    if by == 1:
        sums = np.cumsum(gain[:0:-1])[::-1]  # from each row to the end; the first row has no row above
        start = int(np.argmax(sums)) + 1
        some = slice(start, n)
    else:
        sums = np.cumsum(gain[:-1])
        some = slice(0, int(np.argmax(sums)) + 1)
    likelier = float(sums.max()) / (2 * noise**2)
    fits = some.stop - some.start >= _ROWS and np.mean(beside[some] ** 2) < 3 * noise**2
    return some if fits and likelier > _LIKELIER else None


def _row_words(scene: Scene, at: Sequence[int], some: slice, by: int) -> Suspicion:
    mine = list(at[some])
    back = {at[k]: at[k + by] for k in range(some.start, some.stop) if 0 <= k + by < len(at)}
    size = scene.columns["size"]
    stop = any(verdict_changes(scene, i, float(size[k])) for i, k in back.items())
    where = "above" if by == 1 else "below"
    return Suspicion(
        tuple(mine), "rows_shifted", "stop" if stop else "ask",
        f"{scene.rows[mine[0]].characteristic}|{mine[0]}",
        "{who} {read} figures that fit the row " + where + " much better than their own.",
        "Places and targets differ from row to row; moved by one row the figures are what is usual.",
        "Did the column slip by one row? Correct moves the figures back; accept takes them as they stand.",
        proposed={i: scene.rows[k].source.text for i, k in back.items()},
    )  # fmt: skip
