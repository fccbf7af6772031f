"""One series of blocks against one window: what every part of the answer is made from."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from qc.capability.allowed import Members, allowed
from qc.capability.general import Indices, Limits, indices
from qc.stats.families import Family
from qc.stats.pivotal import Pivots, pivots, short_pivots
from qc.stats.proportions import equivalent_bores
from qc.stats.segments import Floats
from qc.stats.spreads import Spreads, spreads


@dataclass(frozen=True, slots=True)
class Row:
    """Bores, their spreads as read (`plain`) and as the family sees them (`seen`, None where it cannot)."""

    values: Floats
    plain: Spreads
    family: Family
    seen: Spreads | None
    limits: Limits
    confidence: float
    seed: int
    draws: int

    @property
    def worth(self) -> float:
        """Number of independent bores that tell as much about a share."""
        s = self.plain
        return equivalent_bores(
            float(s.bores[0]),
            float(s.blocks[0]),
            float(s.spread_between_blocks[0]),
            float(s.spread_in_block[0]),
        )

    def indices(self, mean: float, spread: float) -> Indices:
        """Return the indices at a mean and a spread as the family sees them."""
        return indices(self.family, *self.family.parameters(mean, spread), self.limits)


@dataclass(frozen=True, slots=True)
class Estimate:
    """Mean and spread that an index is printed with, and what the data allow around them."""

    mean: float
    spread: float
    centre: float
    found: Pivots
    members: Members


def row_of(
    values: Floats,
    blocks: ArrayLike,
    joined: ArrayLike,
    family: Family,
    limits: Limits,
    confidence: float,
    seed: int,
    draws: int,
) -> Row:
    """Return the row of one series; `seen` is None where the family cannot hold the bores."""
    one_row = [0, np.asarray(blocks).size - 1]
    plain = spreads(values, blocks, one_row, joined)
    seen: Spreads | None = None
    if family.holds(values):
        as_seen = family.seen(values)
        seen = plain if as_seen is values else spreads(as_seen, blocks, one_row, joined)
    return Row(values, plain, family, seen, limits, confidence, seed, draws)


def long_run(row: Row) -> Estimate:
    """Return the estimate by spread_all, with draws from the spreads between and within blocks."""
    s = _seen(row)
    found = pivots(
        float(s.centre[0]),
        float(s.ssb[0]),
        float(s.sse[0]),
        int(s.blocks[0]),
        int(s.bores[0]),
        float(s.harmonic_bores[0]),
        row.seed,
        row.draws,
    )
    return _estimate(row, s, float(s.spread_all[0]), found)


def short_run(row: Row) -> Estimate:
    """Return the estimate by spread_short, with draws from the moving ranges and the spread within blocks."""
    s = _seen(row)
    found = short_pivots(
        float(s.centre[0]),
        float(s.mean_moving_range[0]),
        int(s.moving_ranges[0]),
        int(s.moving_range_pairs[0]),
        float(s.sse[0]),
        int(s.blocks[0]),
        int(s.bores[0]),
        float(s.harmonic_bores[0]),
        row.seed,
        row.draws,
    )
    return _estimate(row, s, float(s.spread_short[0]), found)


def _seen(row: Row) -> Spreads:
    if row.seen is None:
        raise ValueError(f"the {row.family.label} family cannot hold these bores")
    return row.seen


def _estimate(row: Row, s: Spreads, spread: float, found: Pivots) -> Estimate:
    mean = float(s.mean[0])
    members = allowed(row.family, found, mean, spread, int(s.bores[0]), int(s.blocks[0]))
    return Estimate(mean, spread, float(s.centre[0]), found, members)
