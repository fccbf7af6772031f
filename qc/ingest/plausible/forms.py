"""Sizes written among distances from the target that repeat the target's own number.

A size of 3.9999 in beside the target 4.0000 is no strange distance in tenths; but no gauge shows such digits.
"""

from collections.abc import Iterator
from typing import Final

import numpy as np

from qc import units
from qc.ingest.plausible import value_words
from qc.ingest.plausible.blocks import Block, blocks
from qc.ingest.plausible.fit import digits, steps
from qc.ingest.plausible.scene import Scene, Suspicion
from qc.ingest.plausible.values import Slip, figure, verdict_changes
from qc.units import TARGET_UNIT

CODES: Final = ("forms_mixed",)
RIVALS: Final = True
_FINER: Final = 8.0  # times that a digit is finer than the gauge's: no gauge shows it


def doubts(scene: Scene) -> Iterator[Suspicion]:
    """Yield one suspicion a table."""
    for block in blocks(scene):
        if block.aimed and np.isfinite(block.limit) and block.limit > 0 and figure(scene, block, 0).deviates:
            slip = _slip(scene, block)
            if slip is not None:
                yield value_words.suspicion(scene, slip)


def _slip(scene: Scene, block: Block) -> Slip | None:
    """The figures that read as sizes, in bores where one of them has digits that no distance has."""
    c = scene.columns
    texts, own = c["text"][block.at].tolist(), c["unit"][block.at].tolist()
    usual = max(s for s in (block.past.step, steps(texts, own), 1.0) if s == s)
    finer = digits(texts, own) * _FINER <= usual
    fits: dict[int, float] = {}
    for k in range(block.new) if finer.any() else ():
        one = figure(scene, block, k)
        unit = TARGET_UNIT.get(one.unit, one.unit)
        if one.number is not None and one.deviates and unit != one.unit:
            size = float(units.ticks(one.number, unit))
            if abs(size - one.target) <= 2 * block.limit:
                fits[k] = size
    bores = {block.features[k] for k in fits if finer[k]}
    rows = [k for k in fits if block.features[k] in bores]
    if not rows:
        return None
    slip = Slip("forms_mixed", "size", block.characteristic)
    for k in rows:
        i = int(block.at[k])
        slip.rows.append(i)
        slip.wanted.append(float(block.wanted[k]))
        slip.proposed[i] = figure(scene, block, k).written(fits[k])
        slip.verdict |= verdict_changes(scene, i, fits[k])
    return slip
