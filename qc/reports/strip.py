"""The numbers of a chart of any kind, on the places of the ribbon above it. Nothing here draws or rounds."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from qc.reports import picture
from qc.reports.ribbon import Ribbon

Row = Mapping[str, Any]
SIZED: Final = ("ewma", "individuals", "mean_range", "mean_spread", "acceptance", "regression")
"""Kinds whose height is a size like the block means', so that those may stand behind."""
IN_UNIT: Final = (*SIZED, "cusum", "spread")
SIGNED: Final = (*SIZED, "cusum")
SEVERAL: Final = ("multivariate", "first_pass", "scrap")
"""Kinds that are about a machine's whole work and have places of their own."""
SHORT: Final[Mapping[str, str]] = {
    "ewma": "the level moved", "cusum": "the level moved", "individuals": "stands apart",
    "mean_range": "stands apart", "mean_spread": "stands apart", "short_run": "stands apart",
    "acceptance": "too near the limit", "regression": "off its line", "spread": "spread unlike the others",
    "multivariate": "unlike the others together", "first_pass": "stands apart", "scrap": "stands apart",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Point:
    """One block: its place, what is charted, the limits for it, why it matters (empty: it does not)."""

    x: float
    key: str
    at: str
    value: float | None
    lower: float | None
    upper: float | None
    mean: float | None
    line: float | None
    stretch: int
    words: str


@dataclass(frozen=True, slots=True)
class Strip:
    """A chart of a kind: its points, the centre, and how high the picture is."""

    kind: str
    points: tuple[Point, ...]
    center: float | None
    bottom: float
    top: float

    @property
    def sized(self) -> bool:
        """Whether block means may stand behind on the same scale."""
        return self.kind in SIZED

    @property
    def moving(self) -> bool:
        """Whether the limits differ from block to block, so that only the latest can be written out."""
        return len({round(p.upper, 9) for p in self.points if p.upper is not None}) > 1

    def last(self, end: str) -> float | None:
        """The limit (`lower`, `upper`) of the last block that has one."""
        return next((v for p in reversed(self.points) if (v := getattr(p, end)) is not None), None)


def strip(row: Row, ribbon: Ribbon) -> Strip | None:
    """Numbers of a row of another kind than block means, None where nothing is charted."""
    kind, blocks = row["kind"], row["blocks"]
    if kind == "block_means" or len(blocks) != len(ribbon.dots):
        return None
    points = tuple(
        Point(
            dot.x, dot.key, dot.at, b.get("statistic"), b.get("lower"), b.get("upper"),
            b.get("mean") if kind in SIZED else None, b.get("line"), dot.stretch,
            SHORT.get(kind, "look here") if b.get("signals") else "",
        )
        for b, dot in zip(blocks, ribbon.dots, strict=True)
    )  # fmt: skip
    heights = _heights(points)
    if not any(p.value is not None for p in points):
        return None
    low, high = min(heights), max(heights)
    pad = 0.08 * ((high - low) or abs(high) or 1.0)
    bottom = 0.0 if kind in ("spread", *SEVERAL) else low - pad
    return Strip(kind, points, row.get("center"), bottom, high + pad)


def own_places(row: Row) -> Ribbon:
    """Places by date of a row that is about a machine's whole work."""
    blocks = [
        {**b, "mean": b["statistic"] or 0.0, "build": b.get("month") or b["build"]} for b in row["blocks"]
    ]
    bare = {**row, "blocks": blocks, "window": None, "stretches": [], "events": []}
    return picture.ribbon(bare, by="date")


def _heights(points: Sequence[Point]) -> list[float]:
    return [v for p in points for v in (p.value, p.lower, p.upper, p.mean) if v is not None]
