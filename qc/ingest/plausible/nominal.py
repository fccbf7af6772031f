"""Targets of one build that differ from table to table as oversizes do: one table has another engine's aim.

A size cannot tell that its target is wrong where it was read as a distance from it. The other tables of the
build can, and so can the pistons that were bought for it.
"""

from collections.abc import Iterator, Mapping
from typing import Final

import numpy as np

from qc.ingest.checks import shown
from qc.ingest.plausible.blocks import Block, blocks
from qc.ingest.plausible.fit import middle
from qc.ingest.plausible.meant import OVERSIZES
from qc.ingest.plausible.scene import Scene, Suspicion
from qc.ingest.plausible.value_words import amount
from qc.units import TARGET_UNIT, TICKS_PER_UM

CODES: Final = ("wrong_nominal",)
RIVALS: Final = True
_NEAR: Final = 8 * TICKS_PER_UM  # of an oversize: targets of bores differ by what their pistons do
_PISTON: Final = (
    -30 * TICKS_PER_UM,
    200 * TICKS_PER_UM,
)  # bore's target above the piston's, usual clearances

Targets = dict[str, float]  # by feature


def doubts(scene: Scene) -> Iterator[Suspicion]:
    """Yield one suspicion for each table whose targets are an oversize off those of the others."""
    tables = [
        b for b in blocks(scene) if b.aimed and b.characteristic in ("bore_diameter", "piston_diameter")
    ]
    if not tables:
        return
    others = _others(scene)
    for build in dict.fromkeys(b.key[0] for b in tables):
        mine = [b for b in tables if b.key[0] == build]
        kept = others.get(build, {})
        for block in mine:
            off = _off(block, mine, kept)
            if off:
                yield _suspicion(scene, block, off)


def _targets(block: Block) -> Targets:
    return dict(zip(block.features, block.base.tolist(), strict=True))


def _others(scene: Scene) -> dict[str, dict[tuple[str, str], Targets]]:
    """Targets of kept readings by build, then by characteristic and operation with state."""
    found: dict[str, dict[tuple[str, str], Targets]] = {}
    if not scene.kept:
        return found
    c = scene.beside_columns
    for i in np.flatnonzero(~np.isnan(c["target"]) & (c["operation"] != "check")):
        table = (c["characteristic"][i], f"{c['operation'][i]}|{c['state'][i]}")
        if table[0] == "bore_diameter" and c["operation"][i] == "receive":
            continue
        found.setdefault(c["build"][i], {}).setdefault(table, {})[c["feature"][i]] = float(c["target"][i])
    return found


def _off(block: Block, tables: list[Block], kept: Mapping[tuple[str, str], Targets]) -> int:
    """Oversize [um] by which a block's targets are off, nought where they agree or nobody can tell."""
    own, votes = _targets(block), []
    for other in tables:
        if other is not block and other.characteristic == block.characteristic:
            votes.append(_oversize(own, _targets(other)))
    for (characteristic, place), targets in kept.items():
        if characteristic == block.characteristic and place != f"{block.key[2]}|{block.key[5]}":
            votes.append(_oversize(own, targets))
    pistons = [_targets(t) for t in tables if t.characteristic == "piston_diameter"]
    pistons += [t for (c, _), t in kept.items() if c == "piston_diameter"]
    if block.characteristic == "bore_diameter" and pistons:
        votes.append(_beside_pistons(own, pistons[0], votes))
    against = [v for v in votes if v]
    if not against or 2 * len(against) <= len(votes) or len(set(against)) > 1:
        return 0
    return against[0]


def _oversize(own: Targets, other: Targets) -> int:
    """Oversize [um] by which targets are above others, nought where they are not off by one."""
    both = [f for f in own if f in other]
    if not both:
        return 0
    off = np.array([own[f] - other[f] for f in both])
    centre = middle(off)
    if float(np.max(np.abs(off - centre))) > _NEAR:
        return 0
    return _known(centre, _NEAR)


def _known(off: float, near: float) -> int:
    amounts = [(abs(abs(off) - um * TICKS_PER_UM), um) for um in OVERSIZES]
    distance, um = min(amounts)
    return 0 if distance > near else um if off > 0 else -um


def _beside_pistons(own: Targets, pistons: Targets, votes: list[int]) -> int:
    """What the pistons say of it: the oversize that others name too, where the bores do not fit them."""
    both = [f for f in own if f in pistons]
    if not both:
        return 0
    over = middle(np.array([own[f] - pistons[f] for f in both]))
    if _PISTON[0] <= over <= _PISTON[1]:
        return 0
    named = [v for v in votes if v]
    for um in dict.fromkeys(named):
        if _PISTON[0] <= over - um * TICKS_PER_UM <= _PISTON[1]:
            return um
    centre = sum(_PISTON) / 2
    return _known(over - centre, (_PISTON[1] - _PISTON[0]) / 2) if not named else 0


def _suspicion(scene: Scene, block: Block, off: int) -> Suspicion:
    unit = TARGET_UNIT.get(scene.columns["unit"][block.at[0]], "mm")
    rows = tuple(int(i) for i in block.at)
    right = {
        i: shown(round(float(block.base[k]) - off * TICKS_PER_UM), unit).partition(" ")[0]
        for k, i in enumerate(rows)
    }
    first, aim = rows[0], shown(round(float(block.base[0])), unit)
    return Suspicion(
        rows, "wrong_nominal", "stop", f"target|{block.characteristic}|{block.key[1:]}|{off}",
        "{who}: the target is " + f"{aim}, {amount(off)} beside the build's other tables.",
        "It is off by an oversize in every hole: the aim of another oversize.",
        f"Correct takes {right[first]} as the target for {aim}; accept "
        "takes the targets as they stand.",
        proposed=right, column="target",
    )  # fmt: skip
