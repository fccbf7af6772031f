from dataclasses import dataclass
from typing import Any

from qc.stats.intervals import Interval, ToleranceInterval


@dataclass(frozen=True, slots=True)
class Counted:
    """Bores beyond their limits: `n` of `of`, and the interval of the share, which counts blocks."""

    n: int
    of: int
    fraction: float
    interval: Interval


@dataclass(frozen=True, slots=True)
class Predicted:
    """Share of bores beyond the limits that the family predicts at `spread_all`, and its interval."""

    fraction: float
    interval: Interval


@dataclass(frozen=True, slots=True)
class Outside:
    """Share of bores beyond the limits, as counted and as predicted; None where it is not given."""

    counted: Counted | None
    predicted: Predicted | None


@dataclass(frozen=True, slots=True)
class PriceOfChoice:
    """Ppk under the nearest other family: what the choice of the family is worth."""

    family: str
    ppk: float


@dataclass(frozen=True, slots=True)
class FamilyUsed:
    """The family the figures assume, its source, and a doubt about it (None where the bores give none)."""

    name: str
    source: str
    fit_warning: str | None
    price_of_choice: PriceOfChoice | None


@dataclass(frozen=True, slots=True)
class GaugeFree:
    """Spread of all bores and indices with the variance of the gauge taken out."""

    standard_uncertainty: float
    spread_all: float
    pp: float | None
    ppk: float | None


@dataclass(frozen=True, slots=True)
class ToProve:
    """The Ppk that must be read to prove the wanted one from so many blocks, and whether it was."""

    wanted: float
    needed: float
    blocks: int
    confidence: float
    proved: bool


@dataclass(frozen=True, slots=True)
class InsideOneBlock:
    """Performance inside one block: by the spread in block alone, block to block left out; never Cp."""

    spread: float
    index: float | None
    index_interval: Interval | None
    nearer: float
    nearer_interval: Interval
    degrees_of_freedom: int


@dataclass(frozen=True, slots=True)
class Capability:
    """Capability of one series against one window [unit of the values; indices 1].

    What cannot be given is None, and `not_given` has the reason under the same key. `methods` says how each
    figure was had.
    """

    bores: int
    blocks: int
    mean: float | None
    spread_in_block: float | None
    spread_between_blocks: float | None
    spread_of_block_means: float | None
    spread_short: float | None
    spread_all: float | None
    pp: float | None
    ppk: float | None
    pp_interval: Interval | None
    ppk_interval: Interval | None
    cp: float | None
    cpk: float | None
    cp_interval: Interval | None
    cpk_interval: Interval | None
    outside: Outside
    tolerance_interval: ToleranceInterval | None
    gauge_free: GaugeFree | None
    to_prove: ToProve | None
    inside_one_block: InsideOneBlock | None
    family: FamilyUsed
    methods: dict[str, Any]
    not_given: dict[str, str]
