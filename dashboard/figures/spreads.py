"""The second strip: spread in each block, on the same places as the ribbon above it."""

from html import escape
from typing import Any

import plotly.graph_objects as go

from dashboard.figures.ribbon_words import ticks
from dashboard.theme.colours import DATA, LIMIT, MUTED, RULE
from dashboard.theme.drawing import axis, base
from dashboard.theme.shown import Shown, day, number, spread
from qc.reports.picture import Ribbon


def figure(ribbon: Ribbon, how: Shown, zone: str, pooled: float | None) -> go.Figure:
    """Spread in block of each block, on the ribbon's own places, with the pooled one as a line."""
    dots = [d for d in ribbon.dots if d.spread is not None]
    heights = [d.spread * how.factor for d in dots if d.spread is not None]
    drawing = go.Figure(
        go.Scatter(
            x=[d.x for d in dots],
            y=heights,
            mode="markers",
            marker={"size": 7, "color": DATA},
            text=[f"<b>{escape(d.build)}</b>, {day(d.at, zone)}<br>{spread(d.spread, how)}" for d in dots],
            hovertemplate="%{text}<extra></extra>",
            cliponaxis=False,
        )
    )
    top = 1.15 * max([*heights, (pooled or 0) * how.factor], default=1.0)
    words: list[dict[str, Any]] = []
    if pooled is not None:
        drawing.add_shape(
            type="line",
            xref="paper",
            x0=0,
            x1=0.90,
            y0=pooled * how.factor,
            y1=pooled * how.factor,
            line={"color": LIMIT, "width": 1, "dash": "dash"},
            layer="below",
        )
        words.append(
            {
                "text": f"bore to bore, pooled {spread(pooled, how, unit=False)}",
                "showarrow": False,
                "xref": "paper",
                "x": 1.0,
                "xanchor": "left",
                "xshift": 8,
                "y": pooled * how.factor,
                "font": {"size": 12, "color": MUTED},
            }
        )
    places = [] if ribbon.by == "date" else ticks(ribbon, zone)
    more: dict[str, Any] = {"type": "linear"}
    if ribbon.by == "date":
        more = {"showticklabels": False}
    drawing.update_layout(
        **base(190, margin={"l": 46, "r": 190, "t": 12, "b": 40}),
        annotations=words,
        xaxis=axis(
            domain=[0, 0.90],
            range=[ribbon.left, ribbon.right],
            tickmode="array",
            tickvals=[p for _, p in places],
            ticktext=[t for t, _ in places],
            ticks="outside",
            ticklen=4,
            tickcolor=RULE,
            **more,
        ),
        yaxis=axis(
            range=[0, top], tickmode="array", tickvals=[0, top / 2.3], ticktext=["0", number(top / 2.3, 1)]
        ),
    )
    return drawing
