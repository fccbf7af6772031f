"""Figures that scatter in shares of themselves, as roughness does: which of a block stand out."""

from typing import Final

import numpy as np

from qc.ingest.plausible.fit import TO_SD, middle
from qc.ingest.plausible.past import Past

_SPREADS: Final = 4.0  # of logarithms beyond which a figure is doubted
_OF_A_LEVEL: Final = 6.0  # spreads of block levels that a block may be off its series
_BLOCKS: Final = 3  # past ones that make a usual level
_READINGS: Final = 20  # past ones that tell how far figures scatter
_LEAST: Final = 0.05  # spread of logarithms: profiles beside each other differ by more (common practice)
_PART: Final = 0.2  # of a block that must agree with the past for its level to be taken from that part
_NOUGHT: Final = 1e-6  # of the level: stands for nought and less, which have no logarithm


def judged(off: np.ndarray, past: Past) -> tuple[float, float, bool, np.ndarray] | None:
    """Level of a block [ticks], how sure it is, whether all of it is elsewhere, and which figures are odd.

    None where too little is known of the series.
    """
    levels = np.log(np.array([b.level for b in past.blocks if b.level > 0]))
    spread = _spread(past)
    if len(levels) < _BLOCKS or not spread > 0:
        return None
    usual = middle(levels)
    logs = np.log(np.maximum(off, _NOUGHT * float(np.exp(usual))))
    centre = middle(logs)
    band = max(_OF_A_LEVEL * TO_SD * middle(np.abs(levels - usual)), _SPREADS * spread)
    elsewhere = abs(centre - usual) > band and float(np.min(np.abs(levels - centre))) > _SPREADS / 2 * spread
    if elsewhere:
        near = np.abs(logs - usual) <= band
        elsewhere = near.sum() < max(2, _PART * len(off))
        centre = usual if elsewhere else middle(logs[near])
    level = float(np.exp(centre))
    suspect = np.abs(logs - centre) > _SPREADS * spread * np.sqrt(1 + 1 / len(off))
    return level, level * float(np.expm1(band)), elsewhere, suspect


def _spread(past: Past) -> float:
    """Spread of logarithms about their block, of all past blocks; NaN unknown."""
    left = []
    for block in past.blocks:
        values = block.fit.off[block.fit.off > 0]
        if len(values) > 2:
            logs = np.log(values)
            left.append((logs - middle(logs)) * np.sqrt(len(logs) / (len(logs) - 1)))
    told = np.concatenate(left) if left else np.array([])
    if len(told) < _READINGS:
        return float("nan")
    rough = max(TO_SD * middle(np.abs(told)), _LEAST)
    return max(float(np.sqrt(np.mean(np.clip(told, -5 * rough, 5 * rough) ** 2))), _LEAST)
