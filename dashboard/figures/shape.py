"""The shape of the bores: their pile against the limits, rungs of the family and its runner-up, to scale."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from dashboard.figures.svg import element, image
from dashboard.theme.shown import Shown, number

Row = Mapping[str, Any]
WIDTH: Final = 940
LEFT: Final = 190  # for the names of the rows
RIGHT: Final = 16
TOP: Final = 22
ROW: Final = 34
DOT: Final = 7
TALLEST: Final = 150
ROOM: Final = 56  # of a label
_SHARES: Final = ("1 in 740", "1 in 40", "1 in 6", "half", "1 in 6", "1 in 40", "1 in 740")
_FIRST: Final = (3, 0, 6, 1, 5, 2, 4)  # which labels come first where there is no room for all


@dataclass(frozen=True, slots=True)
class Across:
    """Places along the picture of values."""

    low: float
    high: float

    def x(self, value: float) -> float:
        """Where a value stands [px]."""
        return LEFT + (value - self.low) / ((self.high - self.low) or 1.0) * (WIDTH - LEFT - RIGHT)


def _across(row: Row) -> Across:
    ends = [float(v) for v in row["values"]]
    ends += [p["at"] for one in row["families"] for p in one["points"]]
    ends += [v for v in (row["window"] or {}).values() if v is not None]
    pad = 0.03 * ((max(ends) - min(ends)) or 1.0)
    return Across(min(ends) - pad, max(ends) + pad)


def _pile(values: Sequence[float], across: Across) -> tuple[list[str], float]:
    columns: dict[int, int] = {}
    places = []
    for value in values:
        column = round(across.x(value) / DOT)
        under = columns.get(column, 0)
        columns[column] = under + 1
        places.append((column * DOT, under))
    step = min(float(DOT), TALLEST / max(columns.values()))
    height = TOP + step * max(columns.values()) + 8
    dots = "".join(f"M{x:.1f},{height - 4 - step * (under + 0.5):.1f}h0" for x, under in places)
    parts = [
        element(
            "path", d=dots, class_="data-line", stroke_width=min(step, DOT) * 0.86, stroke_linecap="round"
        ),
        element("line", x1=LEFT, x2=WIDTH - RIGHT, y1=height, y2=height, class_="rule-line", stroke_width=1),
    ]
    return parts, height


def _rungs(
    name: str, points: Sequence[Mapping[str, float]], y: float, across: Across, colour: str
) -> list[str]:
    xs = [across.x(p["at"]) for p in points]
    parts = [
        element("text", name, x=0, y=y + 4, font_size=12, class_="ink"),
        element("line", x1=min(xs), x2=max(xs), y1=y, y2=y, class_=f"{colour}-line", stroke_width=1.4),
    ]
    for x, point in zip(xs, points, strict=True):
        tall = 9 if abs(point["share"] - 0.5) < 1e-9 else 6
        parts.append(
            element("line", x1=x, x2=x, y1=y - tall, y2=y + tall, class_=f"{colour}-line", stroke_width=1.4)
        )
    return parts


def _labels(points: Sequence[Mapping[str, float]], y: float, across: Across) -> list[str]:
    if len(points) != len(_SHARES):
        return []
    placed: list[float] = []
    parts = []
    for i in _FIRST:
        x = across.x(points[i]["at"])
        if all(abs(x - other) >= ROOM for other in placed):
            placed.append(x)
            parts.append(
                element("text", _SHARES[i], x=x, y=y, font_size=11, text_anchor="middle", class_="muted")
            )
    return parts


def _limits(row: Row, across: Across, bottom: float, how: Shown, sign: bool) -> list[str]:
    parts = []
    for key, anchor in (("lower", "start"), ("upper", "end")):
        value = (row["window"] or {}).get(key)
        if value is None:
            continue
        x = across.x(value)
        text = f"{key} limit {number(value * how.factor, how.decimals, sign=sign)}"
        parts += [
            element("line", x1=x, x2=x, y1=TOP - 6, y2=bottom, class_="limit-line", stroke_width=1.4),
            element("text", text, x=x, y=TOP - 10, font_size=11, text_anchor=anchor, class_="ink"),
        ]
    return parts


def drawn(row: Row, how: Shown, names: Mapping[str, str], *, sign: bool) -> str | None:
    """The bores piled up, and the rungs of what was counted, of the family taken and of its runner-up.

    Parameters
    ----------
    row : mapping
        Of the answer `shape`.
    how : Shown
        Unit the limits are written in.
    names : mapping
        Everyday words of the families.
    sign : bool
        Whether heights are distances from a target.
    """
    if not row["families"]:
        return None
    across = _across(row)
    parts, y = _pile(row["values"], across)
    rows = [("as counted", row["counted"], "ink")] if len(row["counted"]) > 1 else []
    for one in row["families"]:
        words = names.get(one["name"], one["name"])
        rows.append((f"if {words}" + (" (taken)" if one["taken"] else ""), one["points"],
                     "data" if one["taken"] else "limit"))  # fmt: skip
    for name, points, colour in rows:
        y += ROW
        parts += _rungs(name, points, y, across, colour)
    bottom = y + 14
    parts += _labels(row["families"][0]["points"], bottom + 12, across)
    parts += _limits(row, across, bottom, how, sign)
    return image(WIDTH, bottom + 20, parts)
