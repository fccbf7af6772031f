"""The nouns of a ribbon and how a chart's row becomes them: places, gaps, notches, limits, forecast.

Nothing here draws, rounds or knows a colour. Lengths are in the row's own unit; words carry no number with a
unit, so that a face may add it in the shop's units.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import pairwise
from typing import Any, Literal

By = Literal["bores", "date"]
Row = Mapping[str, Any]
LIMIT_WORDS = {
    "upper": "upper limit",
    "lower": "lower limit",
    "target": "target",
    "block_upper": "limit for block means",
    "block_lower": "limit for block means",
    "centre": "mean of blocks",
}


SHORT = {
    "one_block_off": "stands apart",
    "step": "the level moved",
    "slope": "walks away",
    "spread_grown": "wider from bore to bore",
    "block_to_block_grown": "wider from block to block",
    "change_early": "change early",
    "gauge_shift": "gauge shift",
}


@dataclass(frozen=True, slots=True)
class Dot:
    """One block: `x` in bores or microseconds, its mean, and the hairline of its bores."""

    x: float
    mean: float
    lowest: float
    highest: float
    spread: float | None
    build: str  # empty where the block is of no build (a master's readings)
    at: str
    bores: int
    stretch: int
    words: str  # why it matters, empty when it does not
    gauges: tuple[str, ...]
    wear: float | None  # what wear is counted in, since the last renewal

    @property
    def key(self) -> str:
        """What the block is called in an address."""
        return self.build or self.at


@dataclass(frozen=True, slots=True)
class Line:
    """One limit across the ribbon; `kind` is a key of LIMIT_WORDS."""

    kind: str
    y: float

    @property
    def words(self) -> str:
        """Its everyday words, without the number."""
        return LIMIT_WORDS[self.kind]


@dataclass(frozen=True, slots=True)
class Notch:
    """An event under the ribbon: `renews` leaves a gap, a joint only a notch."""

    x: float
    at: str
    words: str
    renews: bool


@dataclass(frozen=True, slots=True)
class Piece:
    """The band of one stretch, from left to right."""

    left: float
    right: float


@dataclass(frozen=True, slots=True)
class Fan:
    """A forecast: from (x, level) to the limit, met at `median`, between `lower` and `upper`."""

    x: float
    level: float
    limit: float
    median: float
    lower: float
    upper: float | None  # None: no end within the interval
    words: str


@dataclass(frozen=True, slots=True)
class Ribbon:
    """The one picture of a series; within `guard` inside a limit the gauge cannot tell."""

    id: str
    unit: str
    coded: bool
    by: By
    lower: float | None
    upper: float | None
    guard: float | None
    pieces: tuple[Piece, ...]
    dots: tuple[Dot, ...]
    lines: tuple[Line, ...]
    notches: tuple[Notch, ...]
    fan: Fan | None
    left: float
    right: float
    bottom: float
    top: float


def moment(text: str) -> float:
    """Microseconds since 1970 UTC of an answer's ISO 8601 time."""
    at = datetime.fromisoformat(text)
    return (at if at.tzinfo else at.replace(tzinfo=UTC)).timestamp() * 1e6


def event_words(key: str | None) -> str:
    """Everyday words of an event's key."""
    return (key or "").replace("_", " ")


def _signal_words(block: Row) -> str:
    """A short phrase for the first thing that was seen at a block."""
    for signal in block.get("signals") or ():
        return SHORT.get(signal["signal"], str(signal["signal"]).replace("_", " "))
    return ""


def places(blocks: Sequence[Row], by: By) -> list[float]:
    """Where each block stands: its time, or the bores before it with a gap where a new stretch begins."""
    if by == "date":
        return [moment(b["at"]) for b in blocks]
    gap = max(2.0, 0.03 * sum(b["n"] for b in blocks))
    places, done, before = [], 0.0, None
    for block in blocks:
        if before is not None and block.get("stretch") != before:
            done += gap
        places.append(done + block["n"] / 2)
        done += block["n"]
        before = block.get("stretch")
    return places


def dots_of(blocks: Sequence[Row], places: Sequence[float]) -> tuple[Dot, ...]:
    """Dots of a chart row's blocks."""
    return tuple(
        Dot(
            x,
            b["mean"],
            _or(b.get("lowest"), b["mean"]),
            _or(b.get("highest"), b["mean"]),
            b.get("spread"),
            str(b["build"] or ""),
            b["at"],
            b["n"],
            b.get("stretch") or 0,
            _signal_words(b),
            tuple(b.get("gauges") or ()),
            b.get("wear"),
        )
        for b, x in zip(blocks, places, strict=True)
    )


def _or(value: float | None, instead: float) -> float:
    return instead if value is None else value


def _half_step(dots: Sequence[Dot], by: By) -> float:
    """Half of the room that one block takes."""
    if by == "bores" or len(dots) < 2:
        return max((d.bores for d in dots), default=1) / 2 if by == "bores" else 86_400e6
    return max((dots[-1].x - dots[0].x) / len(dots) / 2, 3_600e6)


def pieces_of(dots: Sequence[Dot], by: By) -> tuple[Piece, ...]:
    """The band, broken where a new stretch begins."""
    half = _half_step(dots, by)
    groups: list[list[Dot]] = []
    for dot in dots:
        if groups and groups[-1][-1].stretch == dot.stretch:
            groups[-1].append(dot)
        else:
            groups.append([dot])
    spans = [[g[0].x - half, g[-1].x + half] for g in groups]
    for one, two in pairwise(spans):
        if one[1] >= two[0]:  # by date, blocks of two stretches stand closer than a block's room
            middle, slit = (one[1] + two[0]) / 2, half / 4
            one[1], two[0] = middle - slit, middle + slit
    return tuple(Piece(left, right) for left, right in spans)


def _place_of(at: str, dots: Sequence[Dot], by: By) -> float | None:
    """Where an event falls: its time, or half-way between the blocks around it; None before the first."""
    when = moment(at)
    if not dots or when < moment(dots[0].at):
        return None
    if by == "date":
        return when
    after = next((i for i, d in enumerate(dots) if moment(d.at) >= when), None)
    if after is None:
        return dots[-1].x + dots[-1].bores / 2
    return (dots[after - 1].x + dots[after].x) / 2 if after else dots[0].x


def notches_of(chart: Row, dots: Sequence[Dot], by: By) -> tuple[Notch, ...]:
    """Events under the ribbon, in their order."""
    told = {
        (s["began_at"], s["event"]): (s["event"], True) for s in chart.get("stretches") or () if s["event"]
    }
    for event in chart.get("events") or ():
        renews = event.get("effect") == "renews"
        told[event["at"], event["event"]] = (event.get("words") or event["event"], renews)
    found = []
    for (at, _), (words, renews) in told.items():
        x = _place_of(at, dots, by)
        if x is not None:
            found.append(Notch(x, at, event_words(words), renews))
    return tuple(sorted(found, key=lambda n: n.x))


def lines_of(chart: Row, window: Row | None) -> tuple[Line, ...]:
    """Limits across the ribbon; a target only where values are coded."""
    window = window or {}
    values = {
        "upper": window.get("upper"),
        "lower": window.get("lower"),
        "target": 0.0 if chart.get("coded") and window else None,
        "block_upper": chart.get("upper_limit"),
        "block_lower": chart.get("lower_limit"),
        "centre": chart.get("center"),
    }
    return tuple(Line(kind, float(y)) for kind, y in values.items() if y is not None)


def frame(dots: Sequence[Dot], lines: Sequence[Line], floored: bool) -> tuple[float, float]:
    """Bottom and top of the picture: all bores and limits with a little room; the floor is zero."""
    heights = [y for d in dots for y in (d.lowest, d.highest)] + [line.y for line in lines]
    low, high = (min(heights), max(heights)) if heights else (-1.0, 1.0)
    pad = 0.05 * ((high - low) or abs(high) or 1.0)
    return (0.0 if floored and low >= 0 else low - pad), high + pad
