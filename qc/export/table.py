"""An answer as one table, for spreadsheets: a line for each smallest thing it tells of."""

from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from typing import Any, Final

from qc.export import json

# the lists to walk down to the lines of the table; what stands above is repeated on each line
_LINES: Final[Mapping[str, tuple[str, ...]]] = {
    "series": ("series",), "capability": ("series",), "drift": ("series",), "chart": ("series", "blocks"),
    "month": ("rows", "figures"), "clearance": ("builds", "positions"), "build": ("quantities",),
    "readings": ("readings",), "held": ("findings",), "ingest": ("files", "findings"), "verify": ("checks",),
    "specifications": ("specifications",), "events": ("events",), "gauges": ("gauges",),
    "settings": ("settings",), "matters": ("matters",), "reactions": ("reactions",),
    "backtest": ("settings", "events"),
}  # fmt: skip
_BEGINS_A_FORMULA: Final = ("=", "+", "-", "@", "\t", "\r")
_AS_THEY_ARE: Final = ("readings",)  # its columns are the contract's: no revision is put before them

Cell = str | int | float | Decimal | bool | None


def table(answer: Mapping[str, Any]) -> tuple[list[str], list[list[Cell]]]:
    """Columns and lines of an answer.

    Nested keys are joined by a dot, plain lists by "; ", lists of objects stay JSON. A thing without parts (a
    series without blocks) keeps one line.

    Parameters
    ----------
    answer : mapping
        A document of `qc.reports`.

    Returns
    -------
    (columns, lines)
        Every line has every column; None where the answer has nothing.
    """
    path = _LINES.get(str(answer["answer"]), ())
    lines = list(_walk(answer, path, {}))
    if answer["answer"] not in _AS_THEY_ARE:
        lines = [{"revision": answer.get("revision"), **line} for line in lines]
    columns = list(answer.get("columns") or dict.fromkeys(name for line in lines for name in line))
    return columns, [[line.get(name) for name in columns] for line in lines]


def _walk(node: Mapping[str, Any], path: Sequence[str], above: dict[str, Cell]) -> Iterator[dict[str, Cell]]:
    if not path:
        yield {**above, **flat(node)}
        return
    children = node.get(path[0]) or []
    inner = path[1:]
    for child in children:
        if not inner:
            yield {**above, **flat(child)}
            continue
        own = {**above, **flat({k: v for k, v in child.items() if k != inner[0]})}
        if child.get(inner[0]):
            yield from _walk(child, inner, own)
        else:
            yield own


def flat(node: Mapping[str, Any], before: str = "") -> dict[str, Cell]:
    """One line of a nested object: keys joined by a dot."""
    line: dict[str, Cell] = {}
    for key, value in node.items():
        name = f"{before}{key}"
        if isinstance(value, Mapping):
            line |= flat(value, f"{name}.")
        elif isinstance(value, list | tuple):
            line[name] = _joined(value)
        else:
            line[name] = value
    return line


def _joined(values: Sequence[Any]) -> str:
    if any(isinstance(value, Mapping | list | tuple) for value in values):
        return json.compact(values)
    return "; ".join(str(value) for value in values)


def harmless(text: str) -> str:
    """Text that no spreadsheet takes for a formula.

    A sign that begins one gets an apostrophe before it; a plain number keeps its sign.
    Source: OWASP, CSV Injection (from memory).
    """
    if text[:1] in _BEGINS_A_FORMULA and not _is_number(text):
        return "'" + text
    return text


def guarded(text: str) -> str:
    """The same so that `unguarded` gives back the very text: an apostrophe that stands first is doubled."""
    return "'" + text if text[:1] == "'" else harmless(text)


def unguarded(text: str) -> str:
    """Text as it was before `guarded`."""
    return text[1:] if text[:1] == "'" else text


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return text.strip() == text and not text.lower().strip("+-").startswith(("i", "n"))
