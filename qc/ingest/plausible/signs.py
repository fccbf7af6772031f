"""Signs of distances from the target that got lost or were reversed, told by the same bores in another state.

A bore that is 5 um tight with the plate on is about as tight without it, but for what the bolts pull. A sign
that is wrong in one of both tables sets them apart by twice the distance.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from qc.ingest.plausible.blocks import Block, blocks
from qc.ingest.plausible.fit import middle
from qc.ingest.plausible.pairs import Pair, pair, series_of
from qc.ingest.plausible.scene import Scene, Suspicion
from qc.ingest.plausible.values import figure, verdict_changes

CODES: Final = ("sign_reversed",)
RIVALS: Final = True
_STRANGE: Final = 4.5  # spreads by which a reading must be off its other state: 1 in 100,000 is by chance
_FITS: Final = 3.0  # and may be once its sign is turned
_BESIDE: Final = 2.3  # likewise strange, beside others that surely have the slip
_LIKELIER: Final = 2.0  # logarithm by which one of both tables must be likelier to have the slip
_LOST: Final = 2.0  # likewise in favour of a lost sign: dropped far oftener than added (common practice)
_CAP: Final = 25.0  # squares of spreads that a reading counts at most


@dataclass(frozen=True, slots=True)
class _Turned:
    """Readings of a block (positions in it) that fit the other state once their signs are turned."""

    block: Block
    pair: Pair
    rows: np.ndarray
    likelier: float


def doubts(scene: Scene) -> Iterator[Suspicion]:
    """Yield one suspicion a table whose signs contradict the other state's."""
    found: dict[tuple[object, ...], _Turned] = {}
    for block in blocks(scene):
        if block.aimed and figure(scene, block, 0).deviates:
            told = pair(scene, block)
            one = None if told is None else _turned(block, told)
            if one is not None:
                found[block.key] = one
    for one in _culprits(list(found.values())):
        scene.memo.setdefault("explained", set()).add(one.block.key)
        yield _suspicion(scene, one)


def _turned(block: Block, told: Pair) -> _Turned | None:
    off = block.off[: block.new]
    own = np.abs(off - told.expected) / told.spread
    turned = np.abs(-off - told.expected) / told.spread
    names = np.asarray(block.features[: block.new], dtype=object)
    sure = (own > _STRANGE) & (turned < _FITS)
    beside = (own > _BESIDE) & (turned < _FITS) & (turned < own - 1)
    sure &= _explained(names, own, beside)
    # holes that changed places contradict the other state as well, in more than signs explain
    if not sure.any() or 4 * np.sum((own > _STRANGE) & ~beside) > np.sum(beside):
        return None
    bores = set(names[sure].tolist())
    # where two bores have it, all of the table may
    rows = beside if len(bores) > 1 else beside & np.isin(names, list(bores))
    return _Turned(block, told, np.flatnonzero(rows | sure), _own_likelier(block, rows | sure))


def _explained(names: np.ndarray, own: np.ndarray, turned: np.ndarray) -> np.ndarray:
    """Whether turned signs leave nothing strange in a reading's bore; another state's pattern would."""
    fine = np.zeros(len(names), dtype=bool)
    for name in dict.fromkeys(names.tolist()):
        mine = names == name
        left = mine & ~turned & (own > _STRANGE)
        fine[mine] = 4 * np.sum(left) <= np.sum(mine & turned)
    return fine


def _own_likelier(block: Block, rows: np.ndarray) -> float:
    """Logarithm of how much likelier the table itself makes turned signs: its level, bores and pattern."""
    off = block.off[: block.new]
    at = np.arange(len(off))
    rest = ~rows
    places = block.places[: block.new]
    told = off - places
    level = middle(told[rest]) if np.sum(rest) >= np.sum(rows) else block.past.level
    level = level if level == level else 0.0
    names = np.asarray(block.features[: block.new], dtype=object)
    close = max(x for x in (block.past.reading_spread, block.step, 1.0) if x == x)
    wide = max(x for x in (block.past.scatter, block.spread, close) if x == x)
    likelier = 0.0
    for name in dict.fromkeys(names[rows].tolist()):
        mine = at[(names == name) & rows]
        mates = at[(names == name) & rest]
        bore = middle(told[mates]) - level if len(mates) >= len(mine) else 0.0
        spread = close if len(mates) >= len(mine) else wide
        expected = level + bore + places[mine]
        gain = _squares(off[mine] - expected, spread) - _squares(-off[mine] - expected, spread)
        # readings of one bore are off together: they count as one where only its block tells about it
        likelier += float(np.sum(gain) if len(mates) >= len(mine) else np.mean(gain)) / 2
    positive = off[rows] > 0
    return likelier + (_LOST if positive.all() else -_LOST if not positive.any() else 0.0)


def _squares(off: np.ndarray, spread: float) -> np.ndarray:
    return np.minimum((off / spread) ** 2, _CAP)


def _culprits(found: Sequence[_Turned]) -> Iterator[_Turned]:
    """Of two tables that contradict each other the one that is likelier to be wrong, both if neither is."""
    for one in found:
        rival = next((o for o in found if o is not one and _beside(one.block, o.block)), None)
        if rival is None or one.likelier > rival.likelier - _LIKELIER:
            yield one


def _beside(block: Block, other: Block) -> bool:
    return block.key[0] == other.key[0] and series_of(block)[:4] == series_of(other)[:4]


def _suspicion(scene: Scene, one: _Turned) -> Suspicion:
    block, c = one.block, scene.columns
    proposed, verdict = {}, False
    for k in one.rows.tolist():
        i, fig = int(block.at[k]), figure(scene, block, k)
        size = fig.base - fig.typed
        proposed[i] = fig.written(size)
        verdict |= verdict_changes(scene, i, size)
    rows = tuple(int(block.at[k]) for k in one.rows)
    first = rows[0]
    return Suspicion(
        rows, "sign_reversed", "stop" if verdict else "ask", f"{block.key[1:]}",
        f"{{who}} {{read}} {{texts}} {c['unit'][first]}, but the same places read otherwise in the other "
        "state.",
        "With the other sign both states of the bores agree.",
        f"Correct takes {proposed[first]} for {c['text'][first]}; accept takes the figures as they stand.",
        proposed=proposed,
    )  # fmt: skip
