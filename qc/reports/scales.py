"""The numbers of the small pictures: bores left, clearances, an index, a tolerance interval, spreads."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from qc.gauge.conformity import GUARD_FACTOR
from qc.reports.ribbon import Row


@dataclass(frozen=True, slots=True)
class Left:
    """Bores left before the limit as a length: `median`, and the interval, on a scale that all rows share.

    `upper` None: no end within the interval; `scale` is the longest length that is drawn.
    """

    id: str
    median: float
    lower: float
    upper: float | None
    of: str
    scale: float


def lefts(rows: Sequence[Row]) -> dict[str, Left]:
    """Bores left of each drift row that has a forecast, by id, all on one scale."""
    told = {row["id"]: row.get("bores_to_limit") or {} for row in rows}
    known = {key: left for key, left in told.items() if left.get("median") is not None}
    medians = sorted(left["median"] for left in known.values())
    # one that is far from its limit must not shrink all others to nothing
    scale = min(1.3 * medians[-1], 5 * medians[len(medians) // 4]) if medians else 0.0
    return {
        key: Left(
            key, left["median"], left.get("lower") or 0.0, left.get("upper"), left.get("of", "bores"), scale
        )
        for key, left in known.items()
    }


@dataclass(frozen=True, slots=True)
class Clearance:
    """One position: the planned window, and the achieved value with its guard band (None: missing)."""

    lower: float | None
    planned: float | None
    upper: float | None
    achieved: float | None
    guard: float | None
    verdict: str | None


@dataclass(frozen=True, slots=True)
class Clearances:
    """A build's positions on one scale, in the order of the answer (tightest first)."""

    left: float
    right: float
    rows: tuple[Clearance, ...]


def clearances(positions: Sequence[Row]) -> Clearances:
    """Numbers of the clearance rows of a build; zero, metal on metal, is always on the scale."""
    rows = tuple(
        Clearance(
            p.get("lower"),
            p.get("planned"),
            p.get("upper"),
            p.get("achieved"),
            None if p.get("standard_uncertainty") is None else GUARD_FACTOR * p["standard_uncertainty"],
            p.get("verdict"),
        )
        for p in positions
    )
    ends = [v for r in rows for v in (r.lower, r.planned, r.upper) if v is not None]
    ends += [r.achieved + s * (r.guard or 0.0) for r in rows if r.achieved is not None for s in (-1, 1)]
    left, right = min([0.0, *ends]), max([0.0, *ends])
    pad = 0.04 * ((right - left) or 1.0)
    return Clearances(left - (pad if left < 0 else 0.0), right + pad, rows)


@dataclass(frozen=True, slots=True)
class Index:
    """An index on its scale: value, interval, and how far the scale reaches."""

    key: str
    value: float
    lower: float | None
    upper: float | None
    left: float
    right: float


def index(row: Row, key: str) -> Index | None:
    """Numbers of one index of a capability row (`ppk`, `cpk`, ...), None where the answer has none."""
    value, interval = row.get(key), row.get(f"{key}_interval") or {}
    if value is None:
        return None
    lower, upper = interval.get("lower"), interval.get("upper")
    seen = [v for v in (value, lower, upper) if v is not None]
    return Index(key, value, lower, upper, min(0.0, *seen), max(2.0, *(1.08 * v for v in seen)))


@dataclass(frozen=True, slots=True)
class Window:
    """A tolerance interval against the limits, on one scale."""

    lower: float | None
    upper: float | None
    interval_lower: float | None
    interval_upper: float | None
    mean: float | None
    left: float
    right: float


def window(row: Row) -> Window | None:
    """Numbers of a capability row's tolerance interval against its limits, None without an interval."""
    limits: dict[str, Any] = dict(row.get("window") or {})
    interval = row.get("tolerance_interval")
    if not interval:
        return None
    ends = [source.get(key) for source in (limits, interval) for key in ("lower", "upper")] + [
        row.get("mean")
    ]
    seen = [float(v) for v in ends if v is not None]
    pad = 0.08 * ((max(seen) - min(seen)) or 1.0)
    return Window(ends[0], ends[1], ends[2], ends[3], ends[4], min(seen) - pad, max(seen) + pad)


def spread_parts(row: Row) -> tuple[float, float] | None:
    """Shares of the variance (bore to bore in one block, block to block); None where a spread is missing."""
    within, between = row.get("spread_in_block"), row.get("spread_between_blocks")
    if within is None or between is None or within**2 + between**2 == 0:
        return None
    total = within**2 + between**2
    return within**2 / total, between**2 / total
