"""A first layout of a foreign sheet: tables found by their headings, and only what its cells say outright."""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Final

from qc import units
from qc.catalogue import CATALOGUE, SAID, STATES
from qc.errors import NumberError
from qc.ingest import keys, typed_numbers
from qc.ingest.addresses import Block, Cells
from qc.ingest.kinds import folded
from qc.ingest.line import unit_key

LABELS: Final = {
    "build": "build", "engine": "engine", "serial": "serial", "machine": "machine", "operation": "operation",
    "characteristic": "characteristic", "state": "state", "unit": "unit", "gauge": "gauge", "date": "date",
    "operator": "operator", "measuredby": "operator", "measuredat": "date", "reading": "reading",
}  # fmt: skip
_QUANTITIES: Final = {folded(k): k for k in CATALOGUE} | {folded(e.label): k for k, e in CATALOGUE.items()}
_CONDITIONS: Final = {folded(k): k for k in STATES if k != "unstated"} | {
    folded(SAID[k]): k for k in STATES if k in SAID and k != "unstated"
}
_DEVIATION = re.compile(r"\b(deviations?|dev|off target|from target)\b|\+\s*/?\s*-|±", re.IGNORECASE)
_INSIDE = re.compile(r"\(([^()]*)\)")
_WORD = re.compile(r"[A-Za-z]{4,}")
_OTHER_UNITS: Final = (
    "depth", "station", "distance", "target", "nominal", "aim", "temperature", "resolution",
)  # fmt: skip
_RIGHT: Final = 4  # cells joined to a label, at most
_LARGE: Final = 10 * 1000 * units.TICKS_PER_UM  # no deviation is 10 mm: such a figure is a size [ticks]
_LONGEST: Final = 200  # rows of one table


@dataclass(slots=True)
class Draft:
    """What was made out of one table.

    said : texts of a layout's keys as TOML; doubtful : what cannot be proved from the file, by key
    """

    values: Block
    said: dict[str, str] = field(default_factory=dict)
    doubtful: dict[str, str] = field(default_factory=dict)


def drafts(cells: Cells) -> list[Draft]:
    """The tables of a tab that look like features across and readings below."""
    found: list[Draft] = []
    row, free_from = 1, 1
    while row <= cells.last_row:
        header = _features(cells, row)
        values = _body(cells, row, header) if header else None
        if header and values is not None:
            draft = Draft(values)
            _lines(cells, row, header, draft)
            _meaning(cells, free_from, row, draft)
            found.append(draft)
            row = free_from = values.bottom + 1
        row += 1
    return found


def named(cells: Cells, row: int) -> bool:
    """Whether features are named in a row."""
    return bool(_features(cells, row))


def _feature(text: str) -> tuple[str, bool] | None:
    """A feature, and whether the text names it beyond doubt."""
    if len(text) > 16:
        return None
    sure = keys.feature(text)
    if sure is not None:
        return sure, True
    near = keys.near_feature(text) if any(c.isdigit() for c in text) else ""
    return (near, folded(text).startswith("cylinder")) if near else None


def _features(cells: Cells, row: int) -> dict[int, tuple[str, bool]]:
    """Features named in a row by column; bare numbers 1, 2, 3, ... count as names that say no word."""
    named: dict[int, tuple[str, bool]] = {}
    numbers: dict[int, tuple[str, bool]] = {}
    for _, column, text in cells.filled_row(row):
        one = _feature(text)
        if one is not None:
            named[column] = one
        elif text == str(len(numbers) + 1):
            numbers[column] = ("", False)
    if len(named) >= 2:
        return named
    return numbers if len(numbers) >= 3 else {}


def _body(cells: Cells, header: int, features: dict[int, tuple[str, bool]]) -> Block | None:
    left, right = min(features), max(features)
    gaps = {b - a for a, b in zip(sorted(features), sorted(features)[1:], strict=False)}
    if gaps and max(gaps) > 1:
        right += max(gaps) - 1  # each name stands over several columns
    top = bottom = None
    for row in range(header + 1, min(cells.last_row, header + _LONGEST) + 1):
        texts = [cells.text(row, c) for c in range(left, right + 1)]
        if any(typed_numbers.decimals(t) is not None for t in texts) and not _features(cells, row):
            top, bottom = top or row, row
        elif top is not None or not any(texts):
            break
    return None if top is None or bottom is None else Block(top, left, bottom, right)


def _lines(cells: Cells, header: int, features: dict[int, tuple[str, bool]], draft: Draft) -> None:
    v = draft.values
    across = Block(header, v.left, header, v.right)
    span = (v.right - v.left + 1) // len(features)
    told = f'cells = "{across.text}"' + (f", span = {span}" if span > 1 else "")
    doubtful = [c for c, (_, sure) in features.items() if not sure]
    if not all(key for key, _ in features.values()):
        told += ', word = ""'
        draft.doubtful["features"] = 'which holes the bare numbers count: word = "cyl" (or main, rod)'
    elif doubtful:
        pairs = ", ".join(f'"{cells.text(header, c)}" = "{features[c][0]}"' for c in sorted(features))
        told += f", names = {{{pairs}}}"
        first = doubtful[0]
        draft.doubtful["features"] = f"whether {cells.text(header, first)!r} is {features[first][0]}"
    if span > 1 and len(features) * span != v.right - v.left + 1:
        draft.doubtful["features"] = "which columns belong to which feature"
    draft.said["features"] = f"{{{told}}}"
    if v.top > header + 1:
        where = Block(header + 1, v.left, header + 1, v.right)
        names = dict.fromkeys(cells.text(r, c) for r, c in where.cells() if cells.text(r, c))
        pairs = ", ".join(f'"{n}" = ""' for n in names)
        draft.said["directions"] = f'{{cells = "{where.text}", names = {{{pairs}}}}}'
        draft.doubtful["directions"] = "which direction each name means, in degrees"
    elif span > 1:
        draft.doubtful["directions"] = f"what the {span} columns of each feature are"
    _stations(cells, header, draft)


def _stations(cells: Cells, header: int, draft: Draft) -> None:
    v = draft.values
    column = next((c for c in range(v.left - 1, -1, -1) if any(
        cells.text(r, c) for r in range(v.top, v.bottom + 1))), None)  # fmt: skip
    if column is None:
        draft.doubtful["stations"] = "at which depths its rows were measured"
        return
    where = Block(v.top, column, v.bottom, column)
    texts = [cells.text(r, column) for r in range(v.top, v.bottom + 1)]
    unit = _inside(cells.text(header, column)) or _inside(cells.text(v.top - 1, column))
    if all(typed_numbers.decimals(t) is not None for t in texts) and unit and units.kind(unit) == "length":
        draft.said["stations"] = f'{{cells = "{where.text}", unit = "{unit}"}}'
        return
    names = ", ".join(f'"{t}" = ""' for t in dict.fromkeys(texts) if typed_numbers.decimals(t) is None)
    more = f", names = {{{names}}}" if names else ', unit = ""'
    draft.said["stations"] = f'{{cells = "{where.text}"{more}}}'
    draft.doubtful["stations"] = (
        "what depth in mm each name means" if names else "in which unit its depths are written"
    )


def _inside(text: str) -> str:
    """The one unit that a heading names outright, blank where it names none or several."""
    found = _units_in(text)
    return next(iter(found)) if len(found) == 1 else ""


def _units_in(text: str) -> set[str]:
    """Units a heading names: all of the text, what stands in parentheses or behind a comma."""
    candidates = (text, *_INSIDE.findall(text), text.rpartition(",")[2])
    return {u for u in map(unit_key, candidates) if u is not None}


def _beside(cells: Cells, row: int, column: int) -> int | None:
    """Column of the cell that a label speaks of: the next one, past cells joined to the label."""
    label, at = cells.text(row, column), column + 1
    while at <= column + _RIGHT and not cells.text(row, at) and cells.joined(row, at) == label:
        at += 1
    return at if cells.text(row, at) else None


def _heading(cells: Cells, first: int, header: int, draft: Draft) -> Iterator[tuple[int, int, str]]:
    """Cells above a table, those of its header row left of it, and those at its right on the same rows."""
    v = draft.values
    for row, column, text in cells.filled():
        above = first <= row < header or (row == header and column < v.left)
        aside = header <= row <= v.bottom and column > v.right
        if above or aside:
            yield row, column, text


def _meaning(cells: Cells, first: int, header: int, draft: Draft) -> None:
    spots = list(_heading(cells, first, header, draft))
    by_label: dict[str, list[str]] = {}
    for row, column, text in spots:
        label, _, rest = text.partition(":")
        key = LABELS.get(folded(label))
        if key is None:
            _target(cells, row, column, text, draft)
            continue
        spot = Block(row, column, row, column)
        if rest.strip():
            by_label.setdefault(key, []).append(f'{{cell = "{spot.text}", after = "{label}:"}}')
            continue
        at = _beside(cells, row, column)
        if at is not None and folded(cells.text(row, at).partition(":")[0]) not in LABELS:
            by_label.setdefault(key, []).append(f'{{cell = "{Block(row, at, row, at).text}"}}')
    for key, found in by_label.items():
        if len(found) == 1:
            draft.said[key] = found[0]
        else:
            draft.doubtful[key] = f"which of the {len(found)} cells called {key} is meant"
    texts = [t for _, _, t in spots]
    _literal(draft, "characteristic", {_QUANTITIES.get(folded(_INSIDE.sub("", t))) for t in texts})
    _literal(draft, "state", set(states_named(texts)))
    _unit(draft, texts)
    _reading(cells, draft, texts)


def _target(cells: Cells, row: int, column: int, text: str, draft: Draft) -> None:
    """Note a cell called target or nominal; only one that names its unit is proved."""
    word = folded(_INSIDE.sub("", text).rstrip(": "))
    at = _beside(cells, row, column)
    if word not in ("target", "nominal", "aim") or at is None:
        return
    unit = _inside(text)
    draft.said["target"] = f'{{cell = "{Block(row, at, row, at).text}", unit = "{unit}"}}'
    if word != "target" or not unit:
        draft.doubtful["target"] = "whether that is the build's target, and in which unit"


def _literal(draft: Draft, key: str, found: Iterable[str | None]) -> None:
    known = sorted(f for f in found if f)
    if key in draft.said or not known:
        return
    if len(known) == 1:
        draft.said[key] = f'"{known[0]}"'
    else:
        draft.doubtful[key] = f"whether {' or '.join(known)} is meant"


def units_named(texts: Iterable[str]) -> list[str]:
    """Units that headings name outright, those of depths and targets left out."""
    told = [t for t in texts if not folded(t).startswith(_OTHER_UNITS)]
    named = {u for t in told for u in _units_in(t)}
    return sorted(named | {u for t in told for w in _WORD.findall(t) if (u := unit_key(w.lower()))})


def states_named(texts: Iterable[str]) -> list[str]:
    """States that headings name outright."""
    return sorted({_CONDITIONS[folded(t)] for t in texts if folded(t) in _CONDITIONS})


def tells_meaning(text: str) -> bool:
    """Whether a heading names a unit, a state or that figures are deviations."""
    return bool(units_named([text]) or states_named([text]) or _DEVIATION.search(text))


def _unit(draft: Draft, texts: list[str]) -> None:
    known = units_named(texts)
    if "unit" in draft.said:
        return
    if len(known) == 1:
        draft.said["unit"] = f'"{known[0]}"'
    elif known:
        draft.doubtful["unit"] = f"which of {', '.join(known)} its figures are in"


def _reading(cells: Cells, draft: Draft, texts: list[str]) -> None:
    if "reading" in draft.said:
        return
    if any(_DEVIATION.search(t) for t in texts):
        draft.said["reading"] = '"deviation"'
    elif _all_large(cells, draft):
        draft.said["reading"] = '"size"'


def _all_large(cells: Cells, draft: Draft) -> bool:
    unit = draft.said.get("unit", "").strip('"')
    sizes = []
    for row, column in draft.values.cells():
        try:
            sizes.append(units.ticks(units.number(cells.text(row, column)), unit))
        except (NumberError, KeyError):
            continue
    return bool(sizes) and units.kind(unit) == "length" and min(sizes) > Decimal(_LARGE)
