"""The numbers of each figure, from an answer's row: page, PDF and audit pack draw the same picture from them.

Nothing here draws, rounds or knows a colour.
"""

from qc.gauge.conformity import GUARD_FACTOR
from qc.reports.fan import fan_of, fan_words
from qc.reports.ribbon import (
    LIMIT_WORDS,
    By,
    Dot,
    Fan,
    Line,
    Notch,
    Piece,
    Ribbon,
    Row,
    dots_of,
    frame,
    lines_of,
    moment,
    notches_of,
    pieces_of,
    places,
)
from qc.reports.scales import (
    Clearance,
    Clearances,
    Index,
    Left,
    Window,
    clearances,
    index,
    lefts,
    spread_parts,
    window,
)

__all__ = [
    "GUARD",
    "LIMIT_WORDS",
    "By",
    "Clearance",
    "Clearances",
    "Dot",
    "Fan",
    "Index",
    "Left",
    "Line",
    "Notch",
    "Piece",
    "Ribbon",
    "Window",
    "clearances",
    "fan_words",
    "index",
    "lefts",
    "middle_of_fan",
    "moment",
    "pile",
    "ribbon",
    "shape_of_fan",
    "spread_parts",
    "window",
]
GUARD = GUARD_FACTOR
"""Guard band in standard uncertainties."""


def ribbon(
    chart: Row,
    drift: Row | None = None,
    *,
    window: Row | None = None,
    uncertainty: float | None = None,
    by: By = "bores",
) -> Ribbon:
    """Numbers of a series' ribbon.

    Parameters
    ----------
    chart : mapping
        Row of the `chart` answer.
    drift : mapping, optional
        Row of the `drift` answer of the same series: its forecast becomes the fan.
    window : mapping, optional
        Limits in the chart's unit (`lower`, `upper`, `bounded`); default the chart's own `window`.
    uncertainty : float, optional
        Standard uncertainty of the gauge in the chart's unit; the soft edge is 1.645 of it (ISO 14253-1).
    by : {"bores", "date"}
        What runs to the right.
    """
    window = window or chart.get("window") or {}
    blocks = chart.get("blocks") or ()
    dots = dots_of(blocks, places(blocks, by))
    lines, pieces, fan = lines_of(chart, window), pieces_of(dots, by), fan_of(drift, dots, by)
    floored = not chart.get("coded") and window.get("bounded") == "above"
    bottom, top = frame(dots, lines, floored)
    left = pieces[0].left if pieces else 0.0
    right = pieces[-1].right if pieces else 1.0
    if fan:  # room for the fan, never so much that the past shrinks to nothing
        wanted = fan.upper if fan.upper is not None else 1.5 * fan.median - 0.5 * fan.x
        right = max(right, min(wanted, right + 0.45 * (right - left)))
        pieces = (*pieces[:-1], Piece(pieces[-1].left, right))
    return Ribbon(
        id=str(chart.get("id", "")),
        unit=str(chart.get("unit", "")),
        by=by,
        coded=bool(chart.get("coded")),
        lower=window.get("lower"),
        upper=window.get("upper"),
        guard=None if uncertainty is None else GUARD * uncertainty,
        pieces=pieces,
        dots=dots,
        lines=lines,
        notches=notches_of(chart, dots, by),
        fan=fan,
        left=left,
        right=right,
        bottom=bottom,
        top=top,
    )


def pile(ribbon: Ribbon, rows: int = 36) -> tuple[tuple[int, int], ...]:
    """The dots piled up at the right edge: (how many lie under it there, index of the dot) a block."""
    height = (ribbon.top - ribbon.bottom) / rows
    under: dict[int, int] = {}
    found = []
    for at, dot in enumerate(ribbon.dots):
        row = int((dot.mean - ribbon.bottom) / height)
        found.append((under.get(row, 0), at))
        under[row] = under.get(row, 0) + 1
    return tuple(found)


def _meet(ribbon: Ribbon, fan: Fan, end: float | None) -> tuple[float, float]:
    """Where an edge of the fan meets the limit, or the right end of the picture before it."""
    if end is None:
        return ribbon.right, fan.level
    if end <= ribbon.right:
        return end, fan.limit
    return ribbon.right, fan.level + (ribbon.right - fan.x) / (end - fan.x) * (fan.limit - fan.level)


def shape_of_fan(ribbon: Ribbon) -> tuple[tuple[float, float], ...]:
    """Corners of the fan, cut off where the picture ends; empty without a forecast."""
    fan = ribbon.fan
    if fan is None:
        return ()
    early, late = _meet(ribbon, fan, fan.lower), _meet(ribbon, fan, fan.upper)
    corner = [(ribbon.right, fan.limit)] if early[1] == fan.limit != late[1] else []
    return ((fan.x, fan.level), early, *corner, late)


def middle_of_fan(ribbon: Ribbon) -> tuple[tuple[float, float], ...]:
    """The forecast's own line, cut off where the picture ends; empty without a forecast."""
    fan = ribbon.fan
    return () if fan is None else ((fan.x, fan.level), _meet(ribbon, fan, fan.median))
