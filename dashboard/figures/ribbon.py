"""The large ribbon for the screen: every dot tells its block and can be chosen."""

from html import escape
from typing import Any, cast

import plotly.graph_objects as go

from dashboard.figures.ribbon_shapes import FOOT, Scale, shapes
from dashboard.figures.ribbon_words import event_words, limit_words, signal_words, ticks
from dashboard.theme.colours import DATA, FORECAST, INK, LIMIT, PERSON, RULE
from dashboard.theme.drawing import axis, base
from dashboard.theme.shown import Shown, day, many, number, spread
from qc.reports.picture import Dot, Ribbon, middle_of_fan, pile, shape_of_fan

HEIGHT = 430
RIGHT = 190  # room for the words of the limits


def _said(dot: Dot, how: Shown, zone: str, coded: bool) -> str:
    name, sign = escape(dot.build or "Reading"), coded
    low, high, mean = (
        number(v * how.factor, how.decimals, sign=sign) for v in (dot.lowest, dot.highest, dot.mean)
    )
    lines = [f"<b>{name}</b>, {day(dot.at, zone)}", f"mean {mean} {how.words}"]
    if dot.bores > 1:
        lines.append(f"{many(dot.bores, 'bore')}, {low} to {high}")
    if dot.spread is not None:
        lines.append(f"bore to bore {spread(dot.spread, how)}")
    if dot.gauges:
        lines.append("read with " + escape(", ".join(dot.gauges)))
    if dot.words:
        lines.append(escape(dot.words))
    return "<br>".join(lines)


def _hairlines(ribbon: Ribbon, scale: Scale) -> go.Scatter:
    xs: list[Any] = []
    ys: list[Any] = []
    for dot in ribbon.dots:
        xs += [scale.x(dot.x), scale.x(dot.x), None]
        ys += [scale.y(dot.lowest), scale.y(dot.highest), None]
    return go.Scatter(
        x=xs, y=ys, mode="lines", line={"color": DATA, "width": 1}, opacity=0.55, hoverinfo="skip"
    )


def _dots(ribbon: Ribbon, scale: Scale, zone: str) -> go.Scatter:
    return go.Scatter(
        x=[scale.x(d.x) for d in ribbon.dots],
        y=[scale.y(d.mean) for d in ribbon.dots],
        mode="markers",
        marker={"size": 9 if len(ribbon.dots) < 60 else 7, "color": DATA},
        customdata=[d.key for d in ribbon.dots],
        text=[_said(d, scale.how, zone, ribbon.coded) for d in ribbon.dots],
        hovertemplate="%{text}<extra></extra>",
        cliponaxis=False,
    )


def _rings(ribbon: Ribbon, scale: Scale, chosen: str | None) -> list[go.Scatter]:
    kinds = [
        (PERSON, 15, 1.8, [d for d in ribbon.dots if d.words]),
        (INK, 20, 1.6, [d for d in ribbon.dots if d.key == chosen]),
    ]
    return [
        go.Scatter(
            x=[scale.x(d.x) for d in dots],
            y=[scale.y(d.mean) for d in dots],
            mode="markers",
            hoverinfo="skip",
            marker={"size": size, "color": "rgba(0,0,0,0)", "line": {"color": colour, "width": width}},
        )
        for colour, size, width, dots in kinds
        if dots
    ]


def _fan(ribbon: Ribbon, scale: Scale) -> list[go.Scatter]:
    if ribbon.fan is None:
        return []
    corners, middle = shape_of_fan(ribbon), middle_of_fan(ribbon)
    return [
        go.Scatter(
            x=[scale.x(a) for a, _ in corners],
            y=[scale.y(b) for _, b in corners],
            mode="lines",
            fill="toself",
            fillcolor="rgba(86,180,233,0.30)",
            line={"width": 0},
            hoverinfo="skip",
        ),
        go.Scatter(
            x=[scale.x(a) for a, _ in middle],
            y=[scale.y(b) for _, b in middle],
            mode="lines",
            line={"color": FORECAST, "width": 2, "dash": "dash"},
            hoverinfo="skip",
        ),
    ]


def _pile(ribbon: Ribbon, scale: Scale) -> go.Scatter:
    places = pile(ribbon)
    return go.Scatter(
        x=[under for under, _ in places],
        y=[scale.y(ribbon.dots[i].mean) for _, i in places],
        xaxis="x2",
        mode="markers",
        marker={"size": 6, "color": DATA},
        opacity=0.75,
        hoverinfo="skip",
    )


def figure(ribbon: Ribbon, how: Shown, zone: str, *, chosen: str | None = None, off: str = "") -> go.Figure:
    """The large ribbon.

    Parameters
    ----------
    ribbon : Ribbon
    how : Shown
        Unit the heights are shown in.
    zone : str
        The shop's zone.
    chosen : str, optional
        Build whose readings are listed below.
    off : str
        Words over the left end: what the height means.
    """
    scale = Scale(ribbon, how, zone)
    columns = max((under for under, _ in pile(ribbon)), default=0) + 1
    traces = [
        *_fan(ribbon, scale),
        _hairlines(ribbon, scale),
        _dots(ribbon, scale, zone),
        *_rings(ribbon, scale, chosen),
        _pile(ribbon, scale),
    ]
    drawing = go.Figure(cast(Any, traces))
    inside = HEIGHT - 30 - 44
    words = [
        *limit_words(ribbon, how, inside / (1 + FOOT[scale.rows])),
        *event_words(ribbon, scale.x, scale.foot, scale.bottom, max(scale.rows, 1)),
        *signal_words(ribbon, scale.x, scale.y),
        {
            "x": 0,
            "xref": "paper",
            "y": 1,
            "yref": "paper",
            "yanchor": "bottom",
            "xanchor": "left",
            "yshift": 8,
            "text": off,
            "showarrow": False,
            "font": {"color": LIMIT},
        },
    ]
    shown, at = [], []
    for text, place in ticks(ribbon, zone):
        shown.append(text)
        at.append(scale.x(place))
    span = [scale.x(ribbon.left), scale.x(ribbon.right)]
    drawing.update_layout(
        **base(HEIGHT, margin={"l": 46, "r": RIGHT, "t": 30, "b": 44}),
        shapes=shapes(ribbon, scale),
        annotations=words,
        xaxis=axis(
            domain=[0, 0.90],
            range=span,
            type="date" if ribbon.by == "date" else "linear",
            tickmode="array",
            tickvals=at,
            ticktext=shown,
            ticks="outside",
            ticklen=4,
            tickcolor=RULE,
        ),
        xaxis2=axis(domain=[0.91, 0.985], range=[-0.8, max(6, columns)], showticklabels=False),
        yaxis=axis(range=[scale.foot, scale.top], tickmode="array", **_heights(scale)),
    )
    return drawing


def _heights(scale: Scale) -> dict[str, Any]:
    """Round heights for the left axis, none of them under the ribbon."""
    room = scale.top - scale.bottom
    rough = room / 5
    power = 10.0 ** _exponent(rough)
    step = next(power * m for m in (1, 2, 5, 10) if power * m >= rough)
    first = int(scale.bottom / step) - 1
    places = [step * i for i in range(first, first + 30) if scale.bottom <= step * i <= scale.top]
    decimals = max(0, -_exponent(step))
    return {"tickvals": places, "ticktext": [number(v, decimals) for v in places]}


def _exponent(value: float) -> int:
    return int(f"{value:e}".split("e")[1])
