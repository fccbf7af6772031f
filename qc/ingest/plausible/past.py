"""What the last blocks of a series were like: level, spreads, gauge step, pattern by place.

Bounded: the last readings of a series, of at most 50 blocks, are asked for in one query over all series of a
file. A desk that takes in many files asks once a series and adds what it keeps itself.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Final

import numpy as np

from qc.ingest.plausible.fit import Fit, fitted, steps
from qc.records import Reading

MOST_BLOCKS: Final = 50
MOST_READINGS: Final = 600  # of a series; 12 blocks of 48 readings tell their spread to a few percent

Series = tuple[str, str, str, str, str]


@dataclass(frozen=True, slots=True)
class PastReading:
    """One reading of a past block; value and target in ticks, times in microseconds."""

    build: str
    feature: str
    station: int | None
    clock: int | None
    trial: int
    pass_: int | None
    value: int
    target: int | None
    relative: bool
    unit: str
    text: str
    gauge: str | None
    made_at: int

    @property
    def deviation(self) -> float:
        """Distance from its target [ticks], NaN where the reading has none of its own."""
        if self.relative:
            return float(self.value)
        return float("nan") if self.target is None else float(self.value - self.target)


@dataclass(frozen=True, slots=True)
class PastBlock:
    """The readings of one block in a series."""

    build: str
    readings: tuple[PastReading, ...]
    fit: Fit

    @property
    def level(self) -> float:
        """Median deviation of the block [ticks], NaN where it has no target."""
        return self.fit.level


@dataclass(frozen=True)
class Past:
    """The last blocks of a series, oldest first.

    Spreads are robust standard deviations in ticks, NaN where nothing tells them.
    """

    blocks: tuple[PastBlock, ...] = ()

    def __bool__(self) -> bool:
        """Whether anything is known."""
        return bool(self.blocks)

    @property
    def readings(self) -> int:
        """Number of readings."""
        return sum(len(b.readings) for b in self.blocks)

    def _median(self, values: Iterable[float]) -> float:
        told = [v for v in values if v == v]
        return float(np.median(told)) if told else float("nan")

    @cached_property
    def spread(self) -> float:
        """Usual spread of readings in a block, pattern by place taken out [ticks]."""
        return self._median(b.fit.spread for b in self.blocks)

    @cached_property
    def reading_spread(self) -> float:
        """Usual spread of readings about their bore and place [ticks]."""
        return self._median(b.fit.reading_spread for b in self.blocks)

    @cached_property
    def bore_spread(self) -> float:
        """Usual spread of bores about their block [ticks]."""
        return self._median(b.fit.bore_spread for b in self.blocks)

    @cached_property
    def level(self) -> float:
        """Usual median deviation of a block [ticks from the target; the value itself where not coded]."""
        return self._median(b.level for b in self.blocks)

    @cached_property
    def level_spread(self) -> float:
        """Spread of the blocks' median deviations [ticks], NaN for fewer than 3."""
        told = np.array([b.level for b in self.blocks])
        told = told[~np.isnan(told)]
        if len(told) < 3:
            return float("nan")
        return float(1.4826 * np.median(np.abs(told - np.median(told))))

    @cached_property
    def step(self) -> float:
        """Usual gauge step [ticks]: the last written digit, the coarser of text and values."""
        return self._median(b.fit.step for b in self.blocks)

    @cached_property
    def pattern(self) -> Mapping[tuple[float, float], float]:
        """Usual difference of each place (station, clock) from its bore [ticks]."""
        found: dict[tuple[float, float], list[float]] = {}
        for block in self.blocks:
            for place, value in block.fit.pattern.items():
                found.setdefault(place, []).append(value)
        return {place: float(np.median(values)) for place, values in found.items()}


@dataclass
class Memory:
    """The past of series, kept from file to file of one desk."""

    known: dict[Series, dict[str, list[PastReading]]] = field(default_factory=dict)
    worked_out: dict[Series, dict[str, PastBlock]] = field(default_factory=dict)
    pasts: dict[Series, Past] = field(default_factory=dict)

    def forget(self) -> None:
        """Ask again: somebody else has written."""
        self.known.clear()
        self.worked_out.clear()
        self.pasts.clear()

    def asked(self, series: Sequence[Series]) -> list[Series]:
        """Those of the series that are not known yet."""
        return [s for s in series if s not in self.known]

    def learn(self, series: Series, rows: Iterable[Any]) -> None:
        """Take what the store tells of a series, by arrival."""
        self.known[series] = {}
        self.worked_out[series] = {}
        self._add(series, [_past_reading(r) for r in rows])

    def kept(self, readings: Iterable[Reading]) -> None:
        """Add what was kept just now; series nobody asked about stay unknown."""
        found: dict[Series, list[PastReading]] = {}
        for r in readings:
            series = (r.machine, r.operation, r.characteristic, r.method, r.state)
            if series in self.known:
                found.setdefault(series, []).append(_past_reading(r))
        for series, some in found.items():
            self._add(series, some)

    def _add(self, series: Series, some: Sequence[PastReading]) -> None:
        there, done = self.known[series], self.worked_out[series]
        self.pasts.pop(series, None)
        for r in some:
            there.setdefault(r.build, []).append(r)
            done.pop(r.build, None)
        for build in dict.fromkeys(r.build for r in some):
            there[build] = there.pop(build)  # the latest block comes last
        total = sum(map(len, there.values()))
        while there and len(there) > 1 and (len(there) > MOST_BLOCKS or total > MOST_READINGS):
            oldest = next(iter(there))
            total -= len(there.pop(oldest))
            done.pop(oldest, None)

    def past(self, series: Series) -> Past:
        """The past of a series that was learned."""
        if series not in self.pasts:
            done = self.worked_out[series]
            for build, readings in self.known[series].items():
                if build not in done:
                    done[build] = _block(series[2], build, readings)
            self.pasts[series] = Past(tuple(done[b] for b in self.known[series]))
        return self.pasts[series]


def _past_reading(r: Any) -> PastReading:
    text = r.source.text if isinstance(r, Reading) else r.text
    return PastReading(
        r.build or r.gauge or "", r.feature, r.station, r.clock, r.trial, r.pass_, r.value, r.target,
        bool(r.relative), r.unit, text, r.gauge, r.made_at,
    )  # fmt: skip


def _block(characteristic: str, build: str, readings: Sequence[PastReading]) -> PastBlock:
    first = [r for r in readings if r.pass_ in (None, 1)] or list(readings)
    features = [r.feature for r in first]
    nan = float("nan")
    station = np.array([nan if r.station is None else r.station for r in first])
    clock = np.array([nan if r.clock is None else r.clock for r in first])
    value = np.array([r.value for r in first], dtype=float)
    off = np.array([r.deviation for r in first])
    step = steps([r.text for r in first], [r.unit for r in first])
    return PastBlock(
        build, tuple(readings), fitted(characteristic, features, station, clock, value, off, step)
    )
