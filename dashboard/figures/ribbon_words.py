"""The words of a ribbon: limits at the right end, events under it, phrases over rings, the forecast."""

from collections.abc import Callable
from html import escape
from typing import Any

from dashboard.theme.colours import INK, MUTED
from dashboard.theme.shown import Shown, day, number
from qc.reports.picture import Dot, Line, Notch, Ribbon

Words = list[dict[str, Any]]
WIDE = 480  # pixels of a ribbon on the smallest screen, to judge which words have room


def _word(text: str, **where: Any) -> dict[str, Any]:
    return {
        "text": escape(text, quote=False),
        "showarrow": False,
        "font": {"size": 12, "color": MUTED},
        **where,
    }


def limit_text(ribbon: Ribbon, line: Line, how: Shown) -> str:
    """`upper limit +8.0`: a limit's words and number, with a sign where it is a distance from target."""
    signed = ribbon.coded and line.kind != "target"
    return f"{line.words} {number(line.y * how.factor, how.decimals, sign=signed)}"


def limit_words(ribbon: Ribbon, how: Shown, pixels: float) -> Words:
    """Limits written out at the right end, apart from each other; `pixels` is the ribbon's height."""
    per = pixels / ((ribbon.top - ribbon.bottom) or 1.0)
    lines = sorted(ribbon.lines, key=lambda line: line.y)
    wanted = [line.y * per for line in lines]
    placed = apart(wanted, 15.0)
    return [
        _word(
            limit_text(ribbon, line, how),
            xref="paper",
            x=0.985,
            xanchor="left",
            xshift=8,
            y=line.y * how.factor,
            yanchor="middle",
            yshift=to - at,
            font={"size": 12, "color": INK if line.kind in ("upper", "lower") else MUTED},
        )
        for line, at, to in zip(lines, wanted, placed, strict=True)
    ]


def apart(wanted: list[float], room: float) -> list[float]:
    """Rising places moved just so far that neighbours stand `room` apart."""
    placed = list(wanted)
    for _ in range(60):
        moved = False
        for i in range(len(placed) - 1):
            short = room - (placed[i + 1] - placed[i])
            if short > 0.01:
                placed[i] -= short / 2
                placed[i + 1] += short / 2
                moved = True
        if not moved:
            break
    return placed


def event_rows(ribbon: Ribbon) -> list[tuple[Notch, int]]:
    """Events whose words have room under the ribbon, with their row, 0 or 1."""
    per = WIDE / ((ribbon.right - ribbon.left) or 1.0)
    free = [-1e9, -1e9]
    placed = []
    for notch in ribbon.notches:
        at = (notch.x - ribbon.left) * per
        row = next((r for r in (0, 1) if at - 4 >= free[r]), None)
        if row is not None:
            free[row] = at + 6.6 * len(notch.words) + 12
            placed.append((notch, row))
    return placed


def event_words(ribbon: Ribbon, x: Callable[[float], Any], foot: float, bottom: float, rows: int) -> Words:
    """Words of the events under their notches."""
    room = bottom - foot
    return [
        _word(
            notch.words,
            x=x(notch.x),
            xanchor="left",
            xshift=-3,
            y=bottom - room * (0.26 + 0.74 * row / rows),
            yanchor="top",
        )
        for notch, row in event_rows(ribbon)
    ]


def _runs(ribbon: Ribbon) -> list[list[Dot]]:
    """Neighbouring dots that matter for the same reason; the last three runs, to keep words off dots."""
    runs: list[list[Dot]] = []
    before = ""
    for dot in ribbon.dots:
        if dot.words and dot.words == before:
            runs[-1].append(dot)
        elif dot.words:
            runs.append([dot])
        before = dot.words
    return runs[-3:]


def _over(ribbon: Ribbon, run: list[Dot], late: bool) -> float:
    """Height over every hairline that the words of a run would touch."""
    width = 6.8 * len(run[0].words) * (ribbon.right - ribbon.left) / WIDE
    left, right = (run[-1].x - width, run[-1].x) if late else (run[0].x, run[0].x + width)
    spare = 0.02 * (ribbon.right - ribbon.left)
    return max(d.highest for d in ribbon.dots if left - spare <= d.x <= right + spare)


def signal_words(ribbon: Ribbon, x: Callable[[float], Any], y: Callable[[float], float]) -> Words:
    """A short phrase beside the first ring of each run, and the forecast's words where it meets the edge."""
    words: Words = []
    above = 0.06 * (ribbon.top - ribbon.bottom)  # the height of a line of words
    last = -1e9
    for run in _runs(ribbon):
        late = run[-1].x > ribbon.left + 0.5 * (ribbon.right - ribbon.left)
        height = _over(ribbon, run, late)
        height = last + above if abs(height - last) < above else height
        last = height
        words.append(
            _word(
                run[0].words,
                x=x(run[-1].x if late else run[0].x),
                y=y(height),
                xanchor="right" if late else "left",
                xshift=10 if late else -10,
                yshift=4,
                yanchor="bottom",
                font={"size": 12, "color": INK},
            )
        )
    fan = ribbon.fan
    if fan is not None:
        over = fan.limit >= fan.level
        words.append(
            _word(
                fan.words,
                x=x(ribbon.right),
                xanchor="right",
                y=y(fan.limit),
                xshift=-2,
                yanchor="bottom" if over else "top",
                font={"size": 12, "color": INK},
            )
        )
    return words


def ticks(ribbon: Ribbon, zone: str) -> list[tuple[str, float]]:
    """About six places along the ribbon: the day of a block, by bores with the bores made up to it."""
    if not ribbon.dots:
        return []
    count = min(6, len(ribbon.dots))
    chosen = sorted({round(i * (len(ribbon.dots) - 1) / max(count - 1, 1)) for i in range(count)})
    width, apart_enough = (ribbon.right - ribbon.left) / 9, [chosen[0]]
    for i in chosen[1:]:
        if ribbon.dots[i].x - ribbon.dots[apart_enough[-1]].x > width:
            apart_enough.append(i)
    done = 0
    made = [done := done + dot.bores for dot in ribbon.dots]
    return [
        (
            f"{day(ribbon.dots[i].at, zone)[:-5]}" + (f"<br>{made[i]} bores" if ribbon.by == "bores" else ""),
            ribbon.dots[i].x,
        )
        for i in apart_enough
    ]
