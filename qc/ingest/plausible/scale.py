"""Tables of distances from the target whose reach is that of another unit: tenths, thou or um mixed up."""

from collections.abc import Iterator
from typing import Final

import numpy as np

from qc import units
from qc.ingest.checks import shown
from qc.ingest.plausible.blocks import MANY, Block, blocks
from qc.ingest.plausible.fit import TO_SD, middle
from qc.ingest.plausible.scene import Scene, Suspicion
from qc.ingest.plausible.values import figure, verdict_changes

CODES: Final = ("deviation_unit",)
RIVALS: Final = True
_LEAST: Final = 12  # readings that tell how far a table reaches
_ODD: Final = 4.0  # spreads of the logarithm by which the reach is strange, and
_FITS: Final = 2.5  # by which it may be strange once read in the other unit
_SURE: Final = 0.15  # least spread of that logarithm: about what 48 readings leave open
_UNITS: Final = ("tenth", "thou", "um", "mm")


def doubts(scene: Scene) -> Iterator[Suspicion]:
    """Yield one suspicion for each table that reaches as far as usual only in another unit."""
    for block in blocks(scene):
        if block.aimed and not block.whole and block.new >= _LEAST and len(block.past.blocks) >= 2 * MANY:
            unit = scene.columns["unit"][block.at[0]]
            if unit in _UNITS and figure(scene, block, 0).deviates:
                meant = _meant(block, unit)
                if meant:
                    yield _suspicion(scene, block, unit, meant)


def _reach(off: np.ndarray) -> float:
    least, most = np.percentile(off, (10, 90))
    return float(most - least)


def _meant(block: Block, unit: str) -> str:
    """The unit in which the table reaches as far as usual, an empty text where it does as it stands."""
    own = max(_reach(block.off[: block.new]), float(units.ticks(units.number("0.01"), unit)))
    usual = np.array([_reach(b.fit.off) for b in block.past.blocks if len(b.readings) >= _LEAST])
    usual = np.log(usual[usual > 0])
    if len(usual) < 2 * MANY:
        return ""
    centre = middle(usual)
    spread = max(TO_SD * middle(np.abs(usual - centre)), _SURE)
    if abs(np.log(own) - centre) <= _ODD * spread:
        return ""
    one = units.ticks(units.number("1"), unit)
    misfit = {
        other: abs(np.log(own * units.ticks(units.number("1"), other) / one) - centre)
        for other in _UNITS
        if other != unit
    }
    best = min(misfit, key=lambda u: misfit[u])
    return best if misfit[best] <= _FITS * spread else ""


def _suspicion(scene: Scene, block: Block, unit: str, meant: str) -> Suspicion:
    proposed, verdict = {}, False
    for k, i in enumerate(block.at.tolist()):
        one = figure(scene, block, k)
        if one.number is None:
            continue
        size = one.base + units.ticks(one.number, meant)
        proposed[i] = one.written(size)
        verdict |= verdict_changes(scene, i, size)
    rows = tuple(int(i) for i in block.at)
    usual = middle(np.array([_reach(b.fit.off) for b in block.past.blocks]))
    own = _reach(block.off[: block.new])
    return Suspicion(
        rows, "deviation_unit", "stop" if verdict else "ask", f"{block.key[1:]}|{meant}",
        "{who} {read} {texts} " + f"{unit}: four of five within {shown(_um(own), 'um')}, where "
        f"{shown(_um(usual), 'um')} is usual for such work.",
        f"Read as {meant} they reach as far as usual.",
        "".join(
            f"Correct takes {text} {unit} for {scene.columns['text'][i]}; "
            for i, text in [*proposed.items()][:1]
        )
        + "accept takes the figures as they stand.",
        proposed=proposed,
    )  # fmt: skip


def _um(ticks: float) -> int:
    return round(ticks / 10_000) * 10_000
