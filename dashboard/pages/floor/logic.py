"""What the Floor page shows, from the answers."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from dashboard.components import address, words
from dashboard.figures import ribbon_drawn, scales
from dashboard.theme.shown import many
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
    if has_left and why:
        why = why.partition(" About ")[0].partition("; meets the ")[0].rstrip(".") + "."
    return do, why


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
    loud = [r for r in rows if r.get("condition") not in QUIET]
    quiet = [r for r in rows if r.get("condition") in QUIET]
    lefts = picture.lefts(loud) | picture.lefts(quiet)  # two lists, two scales
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


Place = tuple[str, list[tuple[str, str, str]]]


def floor_map(drift: Row) -> tuple[list[Place], list[tuple[str, str, str]]]:
    """Machines with their (operation, words, address), and gauges as (gauge, words, address)."""
    found: dict[str, dict[str, Counter[str]]] = {}
    for row in drift["series"]:
        operations = found.setdefault(row["machine"], {})
        operations.setdefault(row["operation"], Counter())[row.get("condition") or "thin"] += 1
    machines: list[Place] = []
    gauges = []
    for machine, operations in sorted(found.items()):
        lines = [(op, _told(counts), _to(machine, op)) for op, counts in operations.items()]
        gauges += [(machine, words_.removeprefix("1 "), href) for op, words_, href in lines if op == "check"]
        worked = [(said(op), words_, href) for op, words_, href in lines if op != "check"]
        if worked:
            machines.append((machine, worked))
    return machines, gauges


def gauge_words(told: Sequence[str]) -> str:
    """`9 masters: 8 steady, 1 drifting` of the gauges' conditions."""
    counts = Counter(told)
    return f"{many(len(told), 'master')}: " + ", ".join(f"{n} {key}" for key, n in counts.most_common())


def _to(machine: str, operation: str) -> str:
    return address.SERIES + address.search({"machine": machine, "operation": operation})


def _told(counts: Counter[str]) -> str:
    order = [key for key in ("drifting", "stepped", "scattered", "steady") if counts[key]]
    parts = [f"{counts[key]} {key}" for key in order]
    if counts["thin"]:
        parts.append(f"{counts['thin']} too few blocks")
    return ", ".join(parts)
