"""One figure of a bore far off its mates whose digits or point put right fit to the um.

It is asked about before holes are taken for exchanged or caps for loose, which one figure can feign.
"""

from collections import Counter
from collections.abc import Iterator
from typing import Final

import numpy as np

from qc.ingest.plausible import states, value_words
from qc.ingest.plausible.blocks import Block, blocks
from qc.ingest.plausible.meant import Meaning, meanings
from qc.ingest.plausible.scene import Scene, Suspicion
from qc.ingest.plausible.values import Slip, figure, verdict_changes

CODES: Final = ("decimal_slip", "digits_exchanged")
RIVALS: Final = True
_FAR: Final = 2.0  # limits of a reading that it must be off
_EXACT: Final = 2.5  # spreads of readings about their bore that the figure meant may be off
_MOST: Final = 3  # readings in doubt of a table that are single slips
_MATES: Final = 2  # readings of the bore beside the one in doubt


def doubts(scene: Scene) -> Iterator[Suspicion]:
    """Yield one suspicion a table and slip."""
    for block in blocks(scene):
        if block.whole or not 0 < int(block.suspect.sum()) <= _MOST or not np.isfinite(block.limit):
            continue
        slips: dict[str, Slip] = {}
        for k, one in _single(scene, block):
            slip = slips.setdefault(one.code, Slip(one.code, one.cause, block.characteristic))
            i = int(block.at[k])
            scene.memo.setdefault("lone", set()).add(i)
            slip.rows.append(i)
            slip.wanted.append(float(block.wanted[k]))
            slip.proposed[i] = one.text
            slip.verdict |= verdict_changes(scene, i, one.size)
        for slip in slips.values():
            yield value_words.suspicion(scene, slip)


def _single(scene: Scene, block: Block) -> Iterator[tuple[int, Meaning]]:
    close = max((s for s in (block.past.reading_spread, block.step) if s == s), default=block.limit)
    bores = Counter(block.features[k] for k in np.flatnonzero(block.suspect).tolist())
    every = Counter(block.features)
    for k in np.flatnonzero(block.suspect).tolist():
        name, one = block.features[k], figure(scene, block, k)
        if bores[name] > 1 or every[name] <= _MATES or abs(one.size - one.wanted) < _FAR * block.limit:
            continue
        if states.stands_off(scene, block, k):
            continue
        told = meanings(one, 2 * _EXACT * close)
        if told and told[0][1].code in CODES and abs(told[0][1].size - one.wanted) <= _EXACT * close:
            yield k, told[0][1]
