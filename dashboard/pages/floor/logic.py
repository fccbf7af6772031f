"""What the Floor page shows, from the answers."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from dashboard.components import address, words
from dashboard.figures import ribbon_drawn, scales
from qc.catalogue import said
from qc.reports import picture

Row = Mapping[str, Any]
QUIET = ("steady", "thin")


@dataclass(frozen=True, slots=True)
class Matter:
    """One line of the list."""

    id: str
    condition: str
    mark: str | None
    name: str
    do: str
    why: str
    ribbon: str | None
    left: str | None
    left_words: str
    href: str


def _said(row: Row, units: str, has_left: bool) -> tuple[str, str]:
    """What to do and why; how many bores are left stands in its own column."""
    do, why = words.sentence(row, units)
    return do, (why.partition(" About ")[0] if has_left else why)


def _left_words(row: Row) -> str:
    left = row.get("bores_to_limit")
    if not left or left.get("median") is None:
        return ""
    of = left.get("of") or "bores"
    if left["median"] <= 0:
        return "beyond the limit"
    end = "no end in sight" if left.get("upper") is None else f"{left['upper']:.0f}"
    return f"about {left['median']:.0f} {of} left, {left['lower']:.0f} to {end}"


def matters(drift: Row, chart: Row, units: str) -> list[Matter]:
    """Every series as a line, in the answer's order of urgency."""
    rows: Sequence[Row] = drift["series"]
    charts = {r["id"]: r for r in chart["series"]}
    lefts = picture.lefts(rows)
    found = []
    for row in rows:
        key, condition = row["id"], row.get("condition") or "thin"
        drawn = None
        if key in charts and charts[key].get("blocks"):
            numbers = picture.ribbon(charts[key], row)
            drawn = ribbon_drawn.small(numbers, thin=condition == "thin")
        left = scales.bores_left(lefts[key]) if key in lefts else None
        found.append(
            Matter(
                key,
                condition,
                scales.mark(condition),
                words.name(row),
                *_said(row, units, left is not None),
                drawn,
                left,
                _left_words(row),
                address.of_series(row),
            )
        )
    return found


def rest(quiet: Sequence[Matter]) -> str:
    """`11 steady, 3 too few blocks to say`."""
    counts = Counter(m.condition for m in quiet)
    parts = []
    if counts["steady"]:
        parts.append(f"{counts['steady']} steady")
    if counts["thin"]:
        parts.append(f"{counts['thin']} too few blocks to say")
    return ", ".join(parts)


def head(loud: int) -> str:
    """The page's first words."""
    if loud == 0:
        return "Nothing is leaving its tolerance"
    return "One series needs a look" if loud == 1 else f"{loud} series need a look"


def floor_map(drift: Row) -> list[tuple[str, list[tuple[str, str, str]]]]:
    """Machines by operations: (machine, [(operation, words, address)])."""
    found: dict[str, dict[str, Counter[str]]] = {}
    for row in drift["series"]:
        operations = found.setdefault(row["machine"], {})
        operations.setdefault(row["operation"], Counter())[row.get("condition") or "thin"] += 1
    return [
        (
            machine,
            [
                (
                    said(op),
                    _told(counts),
                    address.SERIES + address.search({"machine": machine, "operation": op}),
                )
                for op, counts in operations.items()
            ],
        )
        for machine, operations in sorted(found.items())
    ]


def _told(counts: Counter[str]) -> str:
    order = [key for key in ("drifting", "stepped", "scattered", "steady") if counts[key]]
    parts = [f"{counts[key]} {key}" for key in order]
    if counts["thin"]:
        parts.append(f"{counts['thin']} too few blocks")
    return ", ".join(parts)
