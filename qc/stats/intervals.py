from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Interval:
    """A range that holds an unknown figure with the stated confidence; an end that is open is None."""

    lower: float | None
    upper: float | None
    confidence: float


@dataclass(frozen=True, slots=True)
class ToleranceInterval:
    """A range that holds at least `content` of all bores with the stated confidence; an open end is None."""

    lower: float | None
    upper: float | None
    content: float
    confidence: float
