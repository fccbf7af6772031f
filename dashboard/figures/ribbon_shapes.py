"""Places and shapes of the large ribbon: band, soft edge, limits, notches."""

from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

from dashboard.figures.ribbon_words import event_rows
from dashboard.theme.colours import BAND, EDGE, EVENT, LIMIT
from dashboard.theme.shown import Shown
from qc.reports.picture import Ribbon

FOOT = (0.04, 0.11, 0.16)  # share of the height under the ribbon for none, one or two rows of event words


class Scale:
    """Places of the ribbon in the figure's own coordinates."""

    def __init__(self, ribbon: Ribbon, how: Shown, zone: str) -> None:
        self.how, self.by, self.zone = how, ribbon.by, ZoneInfo(zone)
        self.bottom, self.top = ribbon.bottom * how.factor, ribbon.top * how.factor
        self.rows = max((row + 1 for _, row in event_rows(ribbon)), default=0)
        self.foot = self.bottom - FOOT[self.rows] * (self.top - self.bottom)

    def x(self, place: float) -> Any:
        """Place along the figure: bores, or the shop's time as text."""
        if self.by == "bores":
            return place
        return datetime.fromtimestamp(place / 1e6, UTC).astimezone(self.zone).replace(tzinfo=None).isoformat()

    def y(self, value: float) -> float:
        """Height in the shop's unit."""
        return value * self.how.factor


def _rect(left: Any, right: Any, low: float, high: float, colour: str, **more: Any) -> dict[str, Any]:
    return {
        "type": "rect",
        "x0": left,
        "x1": right,
        "y0": low,
        "y1": high,
        "fillcolor": colour,
        "line": {"width": 0},
        "layer": "below",
        **more,
    }


def _line(left: Any, right: Any, y: float, width: float, dash: str, colour: str = LIMIT) -> dict[str, Any]:
    return {
        "type": "line",
        "x0": left,
        "x1": right,
        "y0": y,
        "y1": y,
        "layer": "below",
        "line": {"color": colour, "width": width, "dash": dash},
    }


_DASH = {
    "upper": (1.4, "solid"),
    "lower": (1.4, "solid"),
    "target": (0.8, "dot"),
    "centre": (0.8, "dashdot"),
    "block_upper": (1.0, "dash"),
    "block_lower": (1.0, "dash"),
}


def shapes(ribbon: Ribbon, scale: Scale) -> list[dict[str, Any]]:
    """Band, soft edges and limits of each stretch, and the notches under them."""
    low = scale.y(ribbon.bottom if ribbon.lower is None else ribbon.lower)
    high = scale.y(ribbon.top if ribbon.upper is None else ribbon.upper)
    spans = [(scale.x(p.left), scale.x(p.right)) for p in ribbon.pieces]
    shapes = []
    for left, right in spans:
        shapes.append(_rect(left, right, low, high, BAND))
        if ribbon.guard is not None:
            edge = scale.y(ribbon.guard)
            if ribbon.upper is not None:
                shapes.append(_rect(left, right, high - edge, high, EDGE, opacity=0.7))
            if ribbon.lower is not None:
                shapes.append(_rect(left, right, low, low + edge, EDGE, opacity=0.7))
        shapes += [_line(left, right, scale.y(line.y), *_DASH[line.kind]) for line in ribbon.lines]
    return shapes + _notches(ribbon, scale)


def _notches(ribbon: Ribbon, scale: Scale) -> list[dict[str, Any]]:
    deep = scale.bottom - 0.035 * (scale.top - scale.bottom)
    return [
        {
            "type": "line",
            "x0": scale.x(n.x),
            "x1": scale.x(n.x),
            "y0": scale.bottom,
            "y1": deep,
            "line": {"color": EVENT, "width": 2},
        }
        for n in ribbon.notches
    ]
