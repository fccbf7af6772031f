"""The ribbon as an image: small as the line of a list, large with its words for the printer."""

from collections.abc import Callable

from dashboard.figures.ribbon_words import limit_text
from dashboard.figures.svg import element, image
from dashboard.theme.shown import Shown
from qc.reports.picture import Ribbon, middle_of_fan, shape_of_fan

Place = Callable[[float], float]


def _scales(
    ribbon: Ribbon, width: float, height: float, side: float, over: float, under: float
) -> tuple[Place, Place]:
    across = (width - 4 - side) / ((ribbon.right - ribbon.left) or 1.0)
    up = (height - 4 - over - under) / ((ribbon.top - ribbon.bottom) or 1.0)
    return (
        lambda x: 2 + (x - ribbon.left) * across,
        lambda y: height - under - 2 - (y - ribbon.bottom) * up,
    )


def _points(corners: tuple[tuple[float, float], ...], x: Place, y: Place) -> str:
    return " ".join(f"{x(a):.1f},{y(b):.1f}" for a, b in corners)


def _bands(ribbon: Ribbon, x: Place, y: Place, dotted: bool) -> list[str]:
    top = y(ribbon.top if ribbon.upper is None else ribbon.upper)
    bottom = y(ribbon.bottom if ribbon.lower is None else ribbon.lower)
    spans = [(x(p.left), x(p.right)) for p in ribbon.pieces]
    parts = []
    for left, right in spans:
        dash = "2 3" if dotted else None
        parts.append(
            element(
                "rect",
                x=left,
                y=top,
                width=max(right - left, 1.0),
                height=max(bottom - top, 1.0),
                class_="band",
            )
        )
        for at, there in ((top, ribbon.upper), (bottom, ribbon.lower)):
            if there is not None or dotted:
                parts.append(
                    element(
                        "line",
                        x1=left,
                        x2=right,
                        y1=at,
                        y2=at,
                        class_="limit-line",
                        stroke_width=1,
                        stroke_dasharray=dash,
                    )
                )
    return parts


def _guards(ribbon: Ribbon, x: Place, y: Place) -> list[str]:
    if ribbon.guard is None or not ribbon.pieces:
        return []
    edges = [(ribbon.upper, 1), (ribbon.lower, -1)]
    return [
        element(
            "rect",
            x=x(p.left),
            width=max(x(p.right) - x(p.left), 1.0),
            y=min(y(at), y(at - side * ribbon.guard)),
            height=abs(y(at) - y(at - side * ribbon.guard)),
            class_="edge",
            opacity=0.8,
        )
        for p in ribbon.pieces
        for at, side in edges
        if at is not None
    ]


def _fan(ribbon: Ribbon, x: Place, y: Place) -> list[str]:
    if ribbon.fan is None:
        return []
    return [
        element("polygon", points=_points(shape_of_fan(ribbon), x, y), class_="forecast", opacity=0.35),
        element(
            "polyline",
            points=_points(middle_of_fan(ribbon), x, y),
            class_="forecast-line",
            stroke_width=1.5,
            stroke_dasharray="4 2",
        ),
    ]


def _dots(ribbon: Ribbon, x: Place, y: Place, radius: float, pale: frozenset[str]) -> list[str]:
    """Hairlines and dots as two strokes a colour: a picture of a hundred blocks stays small."""
    parts = []
    for colour in ("pale", "data"):
        mine = [d for d in ribbon.dots if (d.key in pale) == (colour == "pale")]
        if mine:
            hairs = "".join(f"M{x(d.x):.1f},{y(d.highest):.1f}V{y(d.lowest):.1f}" for d in mine)
            dots = "".join(f"M{x(d.x):.1f},{y(d.mean):.1f}h0" for d in mine)
            line = f"{colour}-line"
            parts.append(element("path", d=hairs, class_=line, stroke_width=radius / 3, opacity=0.6))
            parts.append(
                element("path", d=dots, class_=line, stroke_width=2 * radius, stroke_linecap="round")
            )
    for dot in ribbon.dots:
        if dot.words:
            at, height = x(dot.x), y(dot.mean)
            ring = element("circle", cx=at, cy=height, r=2.2 * radius, class_="person-line", stroke_width=1.2)
            parts.append(ring)
    return parts


def _lines(ribbon: Ribbon, x: Place, y: Place, chart_limits: bool) -> list[str]:
    wanted = {"target": "1 3"} | (
        {"block_upper": "6 3", "block_lower": "6 3", "centre": "1 2"} if chart_limits else {}
    )
    return [
        element(
            "line",
            x1=x(p.left),
            x2=x(p.right),
            y1=y(line.y),
            y2=y(line.y),
            class_="limit-line",
            stroke_width=0.8,
            stroke_dasharray=wanted[line.kind],
        )
        for line in ribbon.lines
        if line.kind in wanted
        for p in ribbon.pieces
    ]


def small(
    ribbon: Ribbon,
    *,
    width: int = 280,
    height: int = 56,
    thin: bool = False,
    pale: frozenset[str] = frozenset(),
) -> str:
    """The ribbon as the line of a list, without words; `pale` are builds that stand behind."""
    x, y = _scales(ribbon, width, height, 0, 0, 0)
    radius = 2.2 if len(ribbon.dots) < 50 else 1.7
    return image(
        width,
        height,
        [
            *_bands(ribbon, x, y, thin),
            *_lines(ribbon, x, y, False),
            *_fan(ribbon, x, y),
            *_dots(ribbon, x, y, radius, pale),
        ],
    )


def _words(ribbon: Ribbon, how: Shown, width: float, y: Place) -> list[str]:
    """Words of the limits at the right end, moved apart where they would touch."""
    parts, last = [], -100.0
    for line in sorted(ribbon.lines, key=lambda one: -one.y):
        at = max(y(line.y) + 4, last + 13)
        last = at
        text = limit_text(ribbon, line, how)
        parts.append(element("text", text, x=width - 186, y=at, font_size=11, class_="muted"))
    return parts


def _notches(ribbon: Ribbon, x: Place, height: float, under: float) -> list[str]:
    parts, free = [], [-1e9, -1e9]
    foot = height - under
    for notch in ribbon.notches:
        at = x(notch.x)
        parts.append(
            element(
                "path",
                d=f"M{at - 4:.1f},{foot + 7:.1f} L{at:.1f},{foot:.1f} L{at + 4:.1f},{foot + 7:.1f} Z",
                class_="event",
            )
        )
        row = 0 if at - 8 > free[0] else 1 if at - 8 > free[1] else None
        if row is not None:
            free[row] = at + 6.2 * len(notch.words)
            parts.append(
                element("text", notch.words, x=at - 4, y=foot + 19 + 13 * row, font_size=11, class_="muted")
            )
    return parts


def large(ribbon: Ribbon, how: Shown, *, width: int = 980, height: int = 330) -> str:
    """The ribbon with its words, for paper."""
    under = 40
    x, y = _scales(ribbon, width, height, 200, 14, under)
    parts = [
        *_bands(ribbon, x, y, False),
        *_guards(ribbon, x, y),
        *_lines(ribbon, x, y, True),
        *_fan(ribbon, x, y),
        *_dots(ribbon, x, y, 3.2, frozenset()),
        *_notches(ribbon, x, height, under),
        *_words(ribbon, how, width, y),
    ]
    if ribbon.fan:
        parts.append(
            element(
                "text",
                ribbon.fan.words,
                x=x(ribbon.right) - 4,
                y=y(ribbon.fan.limit) - 5,
                font_size=11,
                text_anchor="end",
                class_="ink",
            )
        )
    return image(width, height, parts)
