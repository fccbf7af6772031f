"""Single rows whose unit is not that of their table, target and all: 0.018 mm among gaps of 0.018 in.

Value and target agree there, so that no distance tells it; the target itself is no size that the work has.
"""

from collections.abc import Iterator
from typing import Final

import numpy as np

from qc import units
from qc.catalogue import CATALOGUE
from qc.ingest.plausible import value_words
from qc.ingest.plausible.blocks import Block, blocks
from qc.ingest.plausible.scene import Scene, Suspicion
from qc.ingest.plausible.values import Slip, figure, verdict_changes

CODES: Final = ("unit_slip",)
RIVALS: Final = True
_ANOTHER: Final = 3.0  # times smaller or larger than every size that the work has, and
_SAME: Final = 1.3  # at most so many times, in the other unit
_OTHER: Final = {"mm": "in", "in": "mm"}
_BLOCKS: Final = 3  # past ones that tell the sizes of the work


def doubts(scene: Scene) -> Iterator[Suspicion]:
    """Yield one suspicion a table and unit."""
    for block in blocks(scene):
        units_ = scene.columns["unit"][block.at]
        if CATALOGUE[block.characteristic].coded and len(set(units_.tolist())) > 1:
            for unit in dict.fromkeys(units_.tolist()):
                rows = _odd(scene, block, unit) if unit in _OTHER else []
                if rows:
                    yield value_words.suspicion(scene, _slip(scene, block, rows, _OTHER[unit]))


def _odd(scene: Scene, block: Block, unit: str) -> list[int]:
    """Readings of a block (positions in it) in a unit in which their targets are no size of this work."""
    c = scene.columns
    target, own = c["target"][block.at], c["unit"][block.at] == unit
    past = [b.size for b in block.past.blocks if b.word == block.key[-1] and b.size > 0]
    sizes = target[~own & ~np.isnan(target)].tolist() if 2 * np.sum(own) < block.new else []
    sizes = np.array(sizes + (past if len(past) >= _BLOCKS else []))
    sizes = sizes[sizes > 0]
    if not len(sizes):
        return []
    factor = units.ticks(units.number("1"), _OTHER[unit]) / units.ticks(units.number("1"), unit)
    found = []
    for k in np.flatnonzero(own & (target > 0)).tolist():
        as_read, as_meant = (np.abs(np.log(sizes / (target[k] * f))).min() for f in (1.0, factor))
        if as_read > np.log(_ANOTHER) and as_meant < np.log(_SAME) and not figure(scene, block, k).deviates:
            found.append(k)
    return found


def _slip(scene: Scene, block: Block, rows: list[int], meant: str) -> Slip:
    slip = Slip("unit_slip", meant, block.characteristic, column="unit")
    for k in rows:
        i, one = int(block.at[k]), figure(scene, block, k)
        slip.rows.append(i)
        slip.proposed[i] = meant
        size = one.size if one.number is None else float(units.ticks(one.number, meant))
        slip.wanted.append(size)
        slip.verdict |= verdict_changes(scene, i, size)
    return slip
