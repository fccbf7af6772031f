"""What the last blocks of a series were like: level, spreads, gauge step, pattern by place.

Bounded: the last readings of a series, of at most 50 blocks, are asked for in one query over all series of a
file. A desk that takes in many files asks once a series and adds what it keeps itself.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Final, NamedTuple

import numpy as np

from qc.catalogue import CATALOGUE
from qc.ingest.plausible.fit import TO_SD, Fit, aims, fitted, middle, steps
from qc.records import Reading

MOST_BLOCKS: Final = 50
MOST_READINGS: Final = 600  # of a series; 12 blocks of 48 readings tell their spread to a few percent
_STEPS_OF: Final = 12  # last blocks whose readings tell the gauge's step,
_STEPS_MET: Final = 30  # of so many readings at least
_TAIL: Final = 5.0  # spreads beyond which a past reading tells no more of how far readings usually are

Series = tuple[str, str, str, str, str]


class PastReading(NamedTuple):
    """One reading of a past block; value and target (in force) in ticks, times in microseconds."""

    build: str
    engine: str | None
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
        """Distance from its target [ticks], NaN where it has none."""
        if self.relative:
            return float(self.value)
        return float("nan") if self.target is None else float(self.value - self.target)


@dataclass(frozen=True, slots=True)
class PastBlock:
    """The readings of one block in a series at one sort of feature, taken apart.

    word : what the features are called (`cyl`, `main`, `rod`, ...); size : their median size [ticks]
    """

    build: str
    readings: tuple[PastReading, ...]
    fit: Fit
    coded: bool
    size: float
    word: str

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

    def _median(self, values: Iterable[float]) -> float:
        told = [v for v in values if v == v]
        return middle(np.array(told)) if told else float("nan")

    @cached_property
    def spread(self) -> float:
        """Usual spread of readings in a block, pattern by place taken out [ticks]."""
        return self._median(b.fit.spread for b in self.blocks)

    @cached_property
    def scatter(self) -> float:
        """Root mean square about the block [ticks]: more than `spread` where tails are heavy."""
        told = [b.fit.about for b in self.blocks if len(b.fit.about) > 2]
        usual = self.spread
        if not told or not usual > 0:
            return usual
        about = np.clip(np.concatenate(told), -_TAIL * usual, _TAIL * usual)
        return float(np.sqrt(np.mean(about**2)))

    @cached_property
    def reading_spread(self) -> float:
        """Usual spread of readings about their bore and place [ticks]."""
        return self._median(b.fit.reading_spread for b in self.blocks)

    @cached_property
    def bore_spread(self) -> float:
        """Usual spread of bores about their block [ticks]."""
        return self._median(b.fit.bore_spread for b in self.blocks)

    def like(self, aimed: bool, unit: str, word: str | None = None) -> "Past":
        """The past blocks that can be compared: with targets or not, in this unit if enough are.

        Parameters
        ----------
        word : str, optional
            `cyl`, `main`, `rod`, ...: what the features are called.
        """
        told = tuple(b for b in self.blocks if b.fit.aimed == aimed and word in (None, b.word))
        same = tuple(b for b in told if b.readings[0].unit == unit)
        return Past(same if len(same) >= 3 else told)

    @cached_property
    def levels(self) -> np.ndarray:
        """Level of each block [ticks]."""
        return np.array([b.level for b in self.blocks])

    @cached_property
    def one_size(self) -> bool:
        """Whether the blocks' levels are alike, so that another is strange; plain sizes never are."""
        coded = bool(self.blocks) and self.blocks[0].coded
        return bool(self.blocks) and (self.blocks[0].fit.aimed or not coded)

    @cached_property
    def level(self) -> float:
        """Usual median deviation of a block [ticks from the target; the value itself where not coded]."""
        return self._median(self.levels)

    @cached_property
    def level_spread(self) -> float:
        """Spread of the blocks' median deviations [ticks], NaN for fewer than 3."""
        told = np.array([b.level for b in self.blocks])
        told = told[~np.isnan(told)]
        if len(told) < 3:
            return float("nan")
        return TO_SD * middle(np.abs(told - middle(told)))

    @cached_property
    def step(self) -> float:
        """Usual gauge step [ticks]: the last written digit, or the smallest difference met where coarser."""
        written = self._median(b.fit.step for b in self.blocks)
        met = [r.value for b in self.blocks[-_STEPS_OF:] for r in b.readings]
        apart = np.diff(np.unique(np.array(met, dtype=np.int64)))
        if len(met) < _STEPS_MET or not len(apart):
            return written
        return max(float(apart.min()), written if written == written else 0.0)

    @cached_property
    def pattern(self) -> Mapping[tuple[float, float], float]:
        """Usual difference of each place (station, clock) from its bore [ticks]."""
        found: dict[tuple[float, float], list[float]] = {}
        for block in self.blocks:
            for place, value in block.fit.pattern.items():
                found.setdefault(place, []).append(value)
        return {place: middle(np.array(values)) for place, values in found.items()}


@dataclass
class Memory:
    """The past of series, kept from file to file of one desk."""

    known: dict[Series, dict[str, list[PastReading]]] = field(default_factory=dict)
    worked_out: dict[Series, dict[str, list[PastBlock]]] = field(default_factory=dict)
    pasts: dict[Series, Past] = field(default_factory=dict)

    def forget(self) -> None:
        """Ask again: somebody else has written."""
        self.known.clear()
        self.worked_out.clear()
        self.pasts.clear()

    def asked(self, series: Sequence[Series]) -> list[Series]:
        """Those of the series that are not known yet."""
        return [s for s in series if s not in self.known]

    def learn(self, series: Series, rows: Sequence[Any], targets: Sequence[int | None]) -> None:
        """Take what the store tells of a series, by arrival, each row with its target in force."""
        self.known[series] = {}
        self.worked_out[series] = {}
        self._add(series, [_past_reading(r, t) for r, t in zip(rows, targets, strict=True)])

    def kept(self, readings: Iterable[tuple[Reading, int | None]]) -> None:
        """Add what was kept just now with its target in force; series nobody asked about stay unknown."""
        found: dict[Series, list[PastReading]] = {}
        for r, target in readings:
            series = (r.machine, r.operation, r.characteristic, r.method, r.state)
            if series in self.known:
                found.setdefault(series, []).append(_past_reading(r, target))
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
                    done[build] = list(_blocks(series[2], series[1], build, readings))
            self.pasts[series] = Past(tuple(b for build in self.known[series] for b in done[build]))
        return self.pasts[series]


def _past_reading(r: Any, target: int | None) -> PastReading:
    text = r.source.text if isinstance(r, Reading) else r.text
    return PastReading(
        r.build or r.gauge or "", r.engine, r.feature, r.station, r.clock, r.trial, r.pass_, r.value, target,
        bool(r.relative), r.unit, text, r.gauge, r.made_at,
    )  # fmt: skip


def sized(r: Any) -> float:
    """Size of a kept reading [ticks]; of a distance whose target nothing tells, that distance."""
    return float(r.value + (r.target or 0) if r.relative else r.value)


def word_of(feature: str) -> str:
    """What a feature is called, without its number."""
    return feature.partition("-")[0]


def _blocks(
    characteristic: str, operation: str, build: str, readings: Sequence[PastReading]
) -> Iterator[PastBlock]:
    first = [r for r in readings if r.pass_ in (None, 1)] or list(readings)
    for word in dict.fromkeys(word_of(r.feature) for r in first):
        mine = [r for r in first if word_of(r.feature) == word]
        yield _block(characteristic, operation, (build, word), mine)


def _block(
    characteristic: str, operation: str, told: tuple[str, str], first: Sequence[PastReading]
) -> PastBlock:
    features = [r.feature for r in first]
    nan = float("nan")
    station = np.array([nan if r.station is None else r.station for r in first])
    clock = np.array([nan if r.clock is None else r.clock for r in first])
    value = np.array([r.value for r in first], dtype=float)
    off = np.array([r.deviation for r in first])
    step = steps([r.text for r in first], [r.unit for r in first])
    aimed = aims(characteristic, operation, off)
    fit = fitted(aimed, features, station, clock, value, off, step)
    sizes = [sized(r) for r in first]
    build, word = told
    return PastBlock(build, tuple(first), fit, CATALOGUE[characteristic].coded, middle(np.array(sizes)), word)
