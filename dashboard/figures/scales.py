"""Small pictures on a scale: bores left, an index, a tolerance interval, parts of a spread, a clearance."""

from dashboard.figures.svg import element, image
from qc.reports.picture import Clearance, Clearances, Index, Left, Window

Parts = list[str]


def _whisker(
    left: float,
    right: float,
    y: float,
    *,
    colour: str = "ink",
    end: float = 4,
    open_ends: tuple[bool, bool] = (False, False),
) -> Parts:
    caps = [x for x, is_open in ((left, open_ends[0]), (right, open_ends[1])) if not is_open]
    return [
        element("line", x1=left, x2=right, y1=y, y2=y, class_=f"{colour}-line", stroke_width=1.4),
        *(
            element("line", x1=x, x2=x, y1=y - end, y2=y + end, class_=f"{colour}-line", stroke_width=1.4)
            for x in caps
        ),
    ]


def bores_left(left: Left, *, width: int = 150, height: int = 16) -> str:
    """Bores left as a length on the scale that all rows share; an arrow where the interval runs on."""
    room, y = width - 8, height / 2
    end = min(left.median / left.scale, 1.0) * room
    early = max(0.0, min(left.lower / left.scale, 1.0)) * room
    late = room if left.upper is None else min(left.upper / left.scale, 1.0) * room
    parts = [
        element("line", x1=0, x2=width, y1=height - 1.5, y2=height - 1.5, class_="rule-line", stroke_width=1),
        element("rect", x=0, y=y - 4, width=max(end, 2.0), height=6, class_="forecast"),
        element("line", x1=early, x2=late, y1=y - 1, y2=y - 1, class_="ink-line", stroke_width=1.2),
    ]
    if left.upper is None or max(left.upper, left.median) > left.scale:
        parts.append(element("path", d=f"M{room},{y - 4} l6,3 l-6,3", class_="ink-line", stroke_width=1.2))
    return image(width, height, parts)


def index_scale(index: Index, *, wanted: float | None = None, width: int = 420, height: int = 44) -> str:
    """An index with its interval on a scale from 0; a value the shop wants is marked."""
    room = width - 20
    span = index.right - index.left

    def x(value: float) -> float:
        return 10 + (value - index.left) / span * room

    y = 14
    parts = [
        element("line", x1=x(index.left), x2=x(index.right), y1=y, y2=y, class_="rule-line", stroke_width=1)
    ]
    step = 0.5 if span <= 4 else 1.0 if span <= 8 else 5.0
    for i in range(int(index.right / step) + 1):
        parts.append(
            element(
                "line", x1=x(i * step), x2=x(i * step), y1=y, y2=y + 6, class_="rule-line", stroke_width=1
            )
        )
        parts.append(
            element(
                "text",
                f"{i * step:g}",
                x=x(i * step),
                y=y + 20,
                font_size=11,
                text_anchor="middle",
                class_="muted",
            )
        )
    if wanted is not None and wanted <= index.right:
        parts.append(
            element(
                "line", x1=x(wanted), x2=x(wanted), y1=2, y2=y + 8, class_="person-line", stroke_width=1.6
            )
        )
    if index.lower is not None and index.upper is not None:
        parts += _whisker(x(index.lower), x(index.upper), y, colour="data", end=5)
    parts.append(element("circle", cx=x(index.value), cy=y, r=4.5, class_="data"))
    return image(width, height, parts)


def tolerance(window: Window, *, width: int = 420, height: int = 40) -> str:
    """A tolerance interval (bar) against the limits (uprights), the mean as a dot."""
    room = width - 8
    span = (window.right - window.left) or 1.0

    def x(value: float) -> float:
        return 4 + (value - window.left) / span * room

    y = height / 2
    low = x(window.left if window.lower is None else window.lower)
    high = x(window.right if window.upper is None else window.upper)
    parts = [element("rect", x=low, y=y - 12, width=max(high - low, 1.0), height=24, class_="band")]
    parts += [
        element("line", x1=x(v), x2=x(v), y1=y - 14, y2=y + 14, class_="limit-line", stroke_width=1.4)
        for v in (window.lower, window.upper)
        if v is not None
    ]
    left = window.left if window.interval_lower is None else window.interval_lower
    right = window.right if window.interval_upper is None else window.interval_upper
    no_ends = (window.interval_lower is None, window.interval_upper is None)
    parts += _whisker(x(left), x(right), y, colour="data", end=6, open_ends=no_ends)
    if window.mean is not None:
        parts.append(element("circle", cx=x(window.mean), cy=y, r=4.5, class_="data"))
    return image(width, height, parts)


def parts_of_spread(within: float, between: float, *, width: int = 420, height: int = 14) -> str:
    """The spread's variance as one bar: in one block (full), block to block (pale)."""
    cut = within / (within + between) * width
    return image(
        width,
        height,
        [
            element("rect", x=0, y=2, width=max(cut - 1, 0.0), height=10, class_="data"),
            element("rect", x=cut + 1, y=2, width=max(width - cut - 1, 0.0), height=10, class_="pale"),
        ],
    )


def clearance(row: Clearance, scale: Clearances, *, width: int = 460, height: int = 34) -> str:
    """One position: the planned window as a bar, its target as a tick, the achieved value with whisker."""
    span = (scale.right - scale.left) or 1.0

    def x(value: float) -> float:
        return 4 + (value - scale.left) / span * (width - 8)

    y = height / 2
    parts = [
        element("line", x1=x(0.0), x2=x(0.0), y1=0, y2=height, class_="rule-line", stroke_width=1),
        element("line", x1=x(0.0), x2=width, y1=y, y2=y, class_="rule-line", stroke_width=0.6),
    ]
    if row.lower is not None or row.upper is not None:
        left = x(scale.left if row.lower is None else row.lower)
        right = float(width) if row.upper is None else x(row.upper)
        parts.append(element("rect", x=left, y=y - 6, width=max(right - left, 1.0), height=12, class_="edge"))
        parts += [
            element("line", x1=x(v), x2=x(v), y1=y - 7, y2=y + 7, class_="limit-line", stroke_width=1.2)
            for v in (row.lower, row.upper)
            if v is not None
        ]
    if row.planned is not None:
        parts.append(
            element(
                "line",
                x1=x(row.planned),
                x2=x(row.planned),
                y1=y - 6,
                y2=y + 6,
                class_="limit-line",
                stroke_width=1,
                stroke_dasharray="2 2",
            )
        )
    if row.achieved is not None:
        colour = "person" if row.verdict in ("does_not_conform", "undecided") else "data"
        if row.guard:
            parts += _whisker(x(row.achieved - row.guard), x(row.achieved + row.guard), y, colour=colour)
        parts.append(element("circle", cx=x(row.achieved), cy=y, r=4.5, class_=colour))
    return image(width, height, parts)


def mark(condition: str) -> str | None:
    """The mark of a condition, 22 by 14; `steady` has none."""
    strokes = {
        "drifting": [element("path", d="M3,12 L19,2", class_="person-line", stroke_width=2)],
        "stepped": [element("path", d="M2,11 H11 V3 H20", class_="person-line", stroke_width=2)],
        "scattered": [element("path", d="M19,1 L3,7 L19,13", class_="person-line", stroke_width=2)],
        "thin": [
            element(
                "rect",
                x=2,
                y=3,
                width=18,
                height=8,
                class_="limit-line",
                stroke_width=1.2,
                stroke_dasharray="2 2",
            )
        ],
    }.get(condition)
    return image(22, 14, strokes) if strokes else None
