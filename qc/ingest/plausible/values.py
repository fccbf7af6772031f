"""Single figures and whole tables that are not what their neighbours say: which slip explains them best."""

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from qc.catalogue import CATALOGUE
from qc.ingest.checks import FAR
from qc.ingest.plausible import value_words
from qc.ingest.plausible.blocks import Block, blocks
from qc.ingest.plausible.meant import Figure, Meaning, meanings
from qc.ingest.plausible.scene import Scene, Suspicion

CODES: Final = (
    "unit_slip", "deviation_unit", "forms_mixed", "half_or_double", "nought", "decimal_slip",
    "digits_exchanged", "sign_reversed", "dial_revolution", "wrong_nominal", "wrong_bore",
    "wrong_characteristic", "stands_out",
)  # fmt: skip
RIVALS: Final = True
_MOST_OF: Final = 0.7  # of the readings in doubt in one block, that make one slip theirs in common


@dataclass(slots=True)
class Slip:
    """Readings of a file that one slip explains, or that nothing does."""

    code: str
    cause: str
    characteristic: str
    rows: list[int] = field(default_factory=list)
    wanted: list[float] = field(default_factory=list)
    proposed: dict[int, str] = field(default_factory=dict)
    verdict: bool = False
    column: str = "value"


def doubts(scene: Scene) -> Iterator[Suspicion]:
    """Yield one suspicion a slip and characteristic, the best explained first."""
    slips: dict[tuple[str, str, str], Slip] = {}
    for block in blocks(scene):
        if block.suspect.any():
            for code, cause, some in _explained(scene, block):
                key = (code, cause, block.characteristic)
                _add(scene, block, slips.setdefault(key, Slip(*key)), some)
    for slip in sorted(slips.values(), key=lambda s: CODES.index(s.code)):
        yield value_words.suspicion(scene, slip)


def _add(scene: Scene, block: Block, slip: Slip, some: Sequence[tuple[int, Meaning | None]]) -> None:
    for k, meant in some:
        position = int(block.at[k])
        size = float(block.wanted[k]) if meant is None else meant.size
        slip.rows.append(position)
        slip.wanted.append(float(block.wanted[k]))
        if meant is not None and meant.text:
            slip.proposed[position] = meant.text
            slip.column = meant.column
        slip.verdict |= verdict_changes(scene, position, size)


def verdict_changes(scene: Scene, position: int, size: float) -> bool:
    """Whether a reading with this size would conform where it does not, or the other way round.

    More than 1 mm is always as much: no operation here leaves that.
    """
    c = scene.columns
    lower, upper, read = c["lower"][position], c["upper"][position], c["size"][position]
    if CATALOGUE[c["characteristic"][position]].coded and abs(read - size) > FAR:
        return True
    return inside(read, lower, upper) != inside(size, lower, upper)


def inside(size: float, lower: float, upper: float) -> bool:
    """Whether a size lies within limits, NaN where there is none."""
    return not (size < lower or size > upper)


def figure(scene: Scene, block: Block, k: int) -> Figure:
    """The cell of a block's reading: what is written, taken and wanted."""
    c, i = scene.columns, int(block.at[k])
    entry = CATALOGUE[block.characteristic]
    return Figure(
        c["text"][i], c["unit"][i], block.characteristic, float(c["size"][i]), float(c["target"][i]),
        float(block.wanted[k]), signed=not entry.coded and entry.floor is None,
    )  # fmt: skip


Explained = list[tuple[int, Meaning | None]]


def _explained(scene: Scene, block: Block) -> Iterator[tuple[str, str, Explained]]:
    """Yield code, cause and readings of each slip in a block; what all of them have in common comes first."""
    left = [int(k) for k in np.flatnonzero(block.suspect)]
    if block.whole and _scattered(block, left):
        left = [k for k in left if abs(block.off[k] - block.level) > block.band]
    told = _told(scene, block, left)
    common = _in_common(left, told)
    if common is not None:
        mine = [k for k in left if any((m.code, m.cause) == common for _, m in told[k])]
        yield _common(block, common, mine, told)
        left = [k for k in left if k not in mine]
    if block.whole and not block.limit and left and common is None:
        yield "wrong_characteristic", "size", [(k, None) for k in left]
    if block.whole and not _scattered(block, left):
        return  # off the usual level, and no slip of a table explains it: its neighbours are off as well
    groups: dict[tuple[str, str], Explained] = defaultdict(list)
    for k in left:
        one = told[k][0][1] if told[k] else None
        groups[(one.code, one.cause) if one else ("stands_out", "")].append((k, one))
    for (code, cause), some in groups.items():
        yield code, cause, some


def _scattered(block: Block, left: Sequence[int]) -> bool:
    """Whether what is left of a block is no block elsewhere: readings far off and not alike."""
    off = block.off[left] if len(left) else np.array([])
    return bool(len(off) and block.limit > 0 and (len(left) < block.new or np.ptp(off) > 4 * block.limit))


Told = dict[int, list[tuple[float, Meaning]]]


def _told(scene: Scene, block: Block, left: Sequence[int]) -> Told:
    """What each reading in doubt might have meant; a bore all of which is in doubt is no slip of digits."""
    scattered = block.whole and _scattered(block, left)
    within = block.limit + (block.band if block.whole else 0.0)
    bores = Counter(block.features[k] for k in left)
    every = Counter(block.features[: block.new])
    told = {}
    for k in left:
        name = block.features[k]
        alike = (block.whole and not scattered) or (bores[name] > 2 and bores[name] == every[name])
        told[k] = meanings(figure(scene, block, k), within, alike)
    return told


def _in_common(left: Sequence[int], told: Told) -> tuple[str, str] | None:
    """Code and cause of the slip that explains most of the readings, and at least most of them."""
    counted = Counter((m.code, m.cause) for k in left for _, m in told[k])
    if not counted:
        return None
    best = min(counted, key=lambda key: (-counted[key], _score(told, left, key)))
    return best if counted[best] >= max(3, _MOST_OF * len(left)) else None


def _score(told: Told, left: Sequence[int], key: tuple[str, str]) -> float:
    return float(np.mean([s for k in left for s, m in told[k] if (m.code, m.cause) == key]))


def _common(block: Block, slip: tuple[str, str], mine: list[int], told: Told) -> tuple[str, str, Explained]:
    found: Explained = [(k, next(m for _, m in told[k] if (m.code, m.cause) == slip)) for k in mine]
    code, cause = slip
    if code == "dial_revolution" and len(mine) == block.new and block.new > 2:
        code = "wrong_nominal"
    return code, cause, found
