"""What a kind of chart is given and what it tells: blocks in, figures and words out."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from qc.catalogue import Characteristic
from qc.stats.levels import DEFAULT_LEVEL

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Blocks:
    """Blocks of one series in order of time, (m,) each, and what the chart needs beside them."""

    mean: Floats
    bores: Floats
    spread: Floats
    range: Floats
    stretch: Floats
    joint: Floats
    wear: Floats
    family: list[str]
    spread_in_block: float | None
    spread_between_blocks: float | None
    lag1: float
    window: Mapping[str, Any] | None
    entry: Characteristic
    learn: int | None
    level: float = DEFAULT_LEVEL
    shift: float = 1.0
    run_length: float | None = None

    @property
    def wanted_run_length(self) -> float:
        """Blocks to a false alarm that a design keeps to, centre and spread known."""
        return self.run_length or 1 / self.level

    @property
    def learning(self) -> dict[str, Any]:
        """What charts of block means learn from, as `qc.charts` takes it."""
        return {
            "spread_in_block": self.spread_in_block, "spread_between_blocks": self.spread_between_blocks,
            "lag1": self.lag1, "learn": self.learn,
        }  # fmt: skip


@dataclass(frozen=True, slots=True)
class Told:
    """A chart as an answer tells it; arrays (m,), None where a kind has no such thing; ``beside``
    are further figures of each block, ``leaning`` what the lag-1 correlation of blocks did to the chart.
    """

    headline: str
    words: str
    source: str
    center: float | None
    lower_limit: float | None
    upper_limit: float | None
    statistic: Floats
    lower: Floats
    upper: Floats
    signals: Mask
    says: str
    run_length: str
    do_not: str
    methods: dict[str, Any] = field(default_factory=dict)
    assumed: tuple[str, ...] = ()
    leaning: str = "it is not allowed for, so that alarms come in groups and more often than said"
    beside: dict[str, Any] = field(default_factory=dict)
