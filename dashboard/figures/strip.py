"""A chart of any kind under the ribbon: what is charted, its limits written out, a ring where to look."""

from html import escape
from typing import Any, cast

import plotly.graph_objects as go

from dashboard.figures.ribbon_shapes import Scale
from dashboard.figures.ribbon_words import apart, ticks
from dashboard.theme.colours import DATA, LIMIT, MUTED, PALE, PERSON, RULE
from dashboard.theme.drawing import axis, base
from dashboard.theme.shown import Shown, day, number
from qc.reports.picture import Ribbon
from qc.reports.strip import IN_UNIT, SIGNED, Point, Strip

HEIGHT = 300
SHARE = 0.90  # of the width, as in the ribbon


def _broken(points: tuple[Point, ...], heights: list[float | None]) -> tuple[list[Any], list[Any]]:
    """A line that ends where a stretch ends."""
    xs: list[Any] = []
    ys: list[Any] = []
    before = points[0].stretch
    for point, height in zip(points, heights, strict=True):
        if point.stretch != before:
            xs.append(None)
            ys.append(None)
        xs.append(point.x)
        ys.append(height)
        before = point.stretch
    return xs, ys


class Drawn:
    """A strip in the shop's unit, or plain where what is charted is no size."""

    def __init__(self, strip: Strip, ribbon: Ribbon, how: Shown, zone: str) -> None:
        self.strip, self.ribbon, self.zone = strip, ribbon, zone
        self.how = how if strip.kind in IN_UNIT else Shown("", 1.0, 2)
        self._places = Scale(ribbon, self.how, zone)
        self.sign = strip.kind in SIGNED and ribbon.coded

    def y(self, value: float | None) -> float | None:
        """A height as shown."""
        return None if value is None else value * self.how.factor

    def x(self, place: float) -> Any:
        """A place as the ribbon above has it."""
        return self._places.x(place)

    def said(self, value: float | None) -> str:
        """A height in words."""
        text = number(self.y(value), self.how.decimals, sign=self.sign)
        return f"{text} {self.how.words}".strip()


def _line(drawn: Drawn, end: str, dash: str = "dash") -> go.Scatter:
    points = drawn.strip.points
    xs, ys = _broken(points, [drawn.y(getattr(p, end)) for p in points])
    # wear runs on between blocks; all other limits belong to the block
    shape = "linear" if drawn.strip.kind == "regression" else "hvh"
    return go.Scatter(
        x=[None if v is None else drawn.x(v) for v in xs], y=ys, mode="lines", hoverinfo="skip",
        line={"color": LIMIT, "width": 1, "dash": dash, "shape": shape}, connectgaps=False,
    )  # fmt: skip


def _means(drawn: Drawn) -> list[go.Scatter]:
    if drawn.strip.kind != "ewma":  # in the other kinds of this height the means are what is charted
        return []
    return [
        go.Scatter(
            x=[drawn.x(p.x) for p in drawn.strip.points], y=[drawn.y(p.mean) for p in drawn.strip.points],
            mode="markers", marker={"size": 6, "color": PALE}, hoverinfo="skip", cliponaxis=False,
        )
    ]  # fmt: skip


def _dots(drawn: Drawn) -> go.Scatter:
    points = [p for p in drawn.strip.points if p.value is not None]
    told = [
        f"<b>{escape(p.key)}</b>, {day(p.at, drawn.zone)}<br>{drawn.said(p.value)}"
        + (f"<br>{escape(p.words)}" if p.words else "")
        for p in points
    ]
    xs, ys = _broken(tuple(points), [drawn.y(p.value) for p in points])
    texts, at = [], iter(told)
    for x in xs:
        texts.append("" if x is None else next(at))
    joined = drawn.strip.kind in ("ewma", "cusum")
    return go.Scatter(
        x=[None if v is None else drawn.x(v) for v in xs], y=ys, text=texts,
        mode="lines+markers" if joined else "markers", hovertemplate="%{text}<extra></extra>",
        marker={"size": 7, "color": DATA}, line={"color": DATA, "width": 1.2}, cliponaxis=False,
        connectgaps=False,
    )  # fmt: skip


def _rings(drawn: Drawn) -> list[go.Scatter]:
    looked = [p for p in drawn.strip.points if p.words and p.value is not None]
    if not looked:
        return []
    return [
        go.Scatter(
            x=[drawn.x(p.x) for p in looked], y=[drawn.y(p.value) for p in looked], mode="markers",
            hoverinfo="skip",
            marker={"size": 14, "color": "rgba(0,0,0,0)", "line": {"color": PERSON, "width": 1.8}},
        )
    ]  # fmt: skip


def _limit_words(drawn: Drawn) -> list[dict[str, Any]]:
    strip = drawn.strip
    now = ", latest block" if strip.moving else ""
    wanted = [
        (f"upper limit{now}", strip.last("upper")),
        ("centre", strip.center),
        (f"lower limit{now}", strip.last("lower")),
    ]
    lines = sorted(((v, t) for t, v in wanted if v is not None), key=lambda one: one[0])
    per = (HEIGHT - 62) / ((strip.top - strip.bottom) or 1.0)
    placed = apart([v * per for v, _ in lines], 15.0)
    return [
        {
            "text": f"{text} {drawn.said(value)}", "showarrow": False, "xref": "paper", "x": SHARE,
            "xanchor": "left", "xshift": 8, "y": drawn.y(value), "yanchor": "middle",
            "yshift": to - value * per, "font": {"size": 12, "color": MUTED},
        }
        for (value, text), to in zip(lines, placed, strict=True)
    ]  # fmt: skip


def _signal_words(drawn: Drawn) -> list[dict[str, Any]]:
    """The phrase beside the first ring of the last run of neighbours."""
    looked = [i for i, p in enumerate(drawn.strip.points) if p.words and p.value is not None]
    if not looked:
        return []
    first = looked[-1]
    while first - 1 in looked:
        first -= 1
    point = drawn.strip.points[first]
    late = point.x > (drawn.ribbon.left + drawn.ribbon.right) / 2
    return [{
        "text": escape(point.words), "showarrow": False, "x": drawn.x(point.x), "y": drawn.y(point.value),
        "xanchor": "right" if late else "left", "xshift": -12 if late else 12, "yanchor": "bottom",
        "yshift": 4, "font": {"size": 12},
    }]  # fmt: skip


def figure(strip: Strip, ribbon: Ribbon, how: Shown, zone: str, off: str) -> go.Figure:
    """The chart of a kind, on one vertical scale.

    Parameters
    ----------
    strip : Strip
    ribbon : Ribbon
        Above it, for its places.
    how : Shown
        Unit of the ribbon.
    zone : str
    off : str
        Words over the left end: what the height means.
    """
    drawn = Drawn(strip, ribbon, how, zone)
    lines = [_line(drawn, "lower"), _line(drawn, "upper")]
    if any(p.line is not None for p in strip.points):
        lines.append(_line(drawn, "line", "dashdot"))
    traces = [*_means(drawn), *lines, *_rings(drawn), _dots(drawn)]
    drawing = go.Figure(cast(Any, traces))
    if strip.center is not None:
        drawing.add_shape(
            type="line", xref="paper", x0=0, x1=SHARE, y0=drawn.y(strip.center), y1=drawn.y(strip.center),
            line={"color": LIMIT, "width": 0.8, "dash": "dashdot"}, layer="below",
        )  # fmt: skip
    places = ticks(ribbon, zone)
    over = {
        "x": 0, "xref": "paper", "y": 1, "yref": "paper", "yanchor": "bottom", "xanchor": "left", "yshift": 6,
        "text": off, "showarrow": False, "font": {"size": 12, "color": LIMIT},
    }  # fmt: skip
    drawing.update_layout(
        **base(HEIGHT, margin={"l": 46, "r": 190, "t": 26, "b": 40}),
        annotations=[over, *_limit_words(drawn), *_signal_words(drawn)],
        xaxis=axis(
            domain=[0, SHARE], range=[drawn.x(ribbon.left), drawn.x(ribbon.right)],
            type="date" if ribbon.by == "date" else "linear", tickmode="array",
            tickvals=[drawn.x(p) for _, p in places], ticktext=[t for t, _ in places], ticks="outside",
            ticklen=4, tickcolor=RULE,
        ),
        yaxis=axis(range=[drawn.y(strip.bottom), drawn.y(strip.top)], nticks=6),
    )  # fmt: skip
    return drawing
