"""What the drift calculations take and give: the blocks of a series, and what is judged of it."""

from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from qc.stats.intervals import Interval

Floats = NDArray[np.float64]
Condition = Literal["thin", "stepped", "drifting", "scattered", "steady"]
Kind = Literal["one_block_off", "step", "slope", "spread_grown", "block_to_block_grown", "change_early"]
Toward = Literal["upper", "lower"]


@dataclass(frozen=True, slots=True)
class SeriesBlocks:
    """Blocks of one series in order of time, lengths m; all lengths in the unit of the means.

    ``spreads`` is the standard deviation in a block (NaN for one bore). ``wear`` counts bores or blocks
    the machine made since the reset, up to the middle of the block. The level may differ freely between
    stretches and between joint segments. ``lower, upper`` are the limits of the latest block's window.
    ``since_block`` is the first block after the last repair. ``covariates`` (m, c) are what is known beside
    each block (temperature, engine family), without gaps.
    """

    key: Any
    means: Floats
    bores: Floats
    spreads: Floats
    wear: Floats
    stretch: NDArray[np.int_]
    joint: NDArray[np.int_]
    at: Floats
    builds: tuple[str, ...] = ()
    lower: float | None = None
    upper: float | None = None
    wears: bool = False
    wear_unit: Literal["bores", "blocks"] = "bores"
    since_block: int = 0
    unit: str = "um"
    covariates: Floats | None = None


@dataclass(frozen=True, slots=True)
class BoresToLimit:
    """Bores (or blocks) from the last block until the expected block mean reaches the limit.

    ``median`` 0: already beyond. None: the line does not get there; ``upper`` None: no end within the
    interval.
    """

    median: float | None
    lower: float | None
    upper: float | None
    confidence: float
    of: Literal["bores", "blocks"]


@dataclass(frozen=True, slots=True)
class Signal:
    """Something seen in a series: the block it began with, and the block with which it was first sure."""

    block: int
    seen: int
    kind: Kind
    amount: float
    words: str
    source: str


@dataclass(frozen=True, slots=True)
class Judgement:
    """Condition of a series as of its last block, with slope, forecast and signals.

    ``since`` is the block with which the present condition began. ``conditions`` is what the condition
    was as of each block. ``slope`` is per bore (or block) of the present stretch. ``chance`` is that of
    having met the limit so many bores (or blocks) ``ahead``; ``to_fraction`` the count until one bore in a
    hundred is outside; ``borrowed`` the share of the slope that earlier stretches give. ``resets`` are
    blocks before which wear fell back without an event, by how much, and the share of the wear it was.
    ``changes`` are all changes of level of the past, first block and amount, declared levels and usual
    wear taken off.
    """

    key: Any
    condition: Condition
    why: str
    since: int | None
    slope: float | None
    slope_interval: Interval | None
    slope_per: Literal["bore", "block"]
    usual_slope: float | None
    usual_stretch: float | None
    toward: Toward | None
    limit: float | None
    bores_to_limit: BoresToLimit | None
    change_early: bool
    lag1: float
    level: float
    to_fraction: BoresToLimit | None = None
    ahead: tuple[float, ...] = ()
    chance: tuple[float, ...] = ()
    borrowed: float | None = None
    resets: tuple[tuple[int, float, float], ...] = ()
    changes: tuple[tuple[int, float], ...] = ()
    signals: tuple[Signal, ...] = ()
    conditions: tuple[Condition, ...] = field(default=())
