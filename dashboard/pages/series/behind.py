"""What lies behind the ribbon: the blocks as a table, and one block's readings with file, row and text."""

from collections.abc import Mapping, Sequence
from typing import Any

import dash_mantine_components as dmc
from dash import dcc, html
from dash.development.base_component import Component

from dashboard import ids
from dashboard.answers import Answers, Question
from dashboard.components import address
from dashboard.components.plain import Children, fold, named, table
from dashboard.pages.series import logic
from dashboard.theme.shown import Shown, day, many, number, quantity, shown
from qc.catalogue import said

Row = Mapping[str, Any]
MOST = 400


def choose(told: logic.Told, asked: Question) -> Component:
    """The blocks by name, newest first, for who does not point at dots."""
    data = [
        {"value": dot.key, "label": f"{dot.build or 'reading'}, {day(dot.at, told.zone)}"}
        for dot in reversed(told.ribbon.dots)
    ]
    select: Component = dmc.Select(
        id=ids.SERIES_BLOCK,
        data=data,
        value=address.one(asked, "block"),
        placeholder="Readings behind a block",
        searchable=True,
        clearable=True,
        size="md",
        className="pick block-pick",
        nothingFoundMessage="no such block",
        **named("Readings behind a block"),
    )
    return select


def blocks(told: logic.Told) -> Component:
    """Every block as a row."""
    unit = told.how.words
    head = ["build", "date", "bores", f"mean, {unit}", "lowest", "highest", "bore to bore", "gauge", ""]
    rows = [[build or "reading", *cells] for build, cells in logic.blocks(told)]
    return fold(
        f"{many(len(rows), 'block')} as a table",
        table(head, rows, name="blocks"),
        "blocks-fold",
        id="blocks",
    )


def _size_unit(told: logic.Told, found: Sequence[Row]) -> tuple[Shown, str, float]:
    """How the readings are shown: (unit, key of the value, what makes it that unit)."""
    if told.coded and all(r.get("deviation_um") is not None for r in found):
        return told.how, "deviation_um", 1.0
    lengths = [abs(r["value_um"]) for r in found if r.get("value_um") is not None]
    if lengths and max(lengths) >= 1000:
        return shown("mm", told.units), "value_um", 1e-3
    return told.how, "value_um" if lengths else "value", 1.0


def _value(reading: Row, how: Shown, key: str, scale: float) -> str:
    value = reading.get(key)
    sign = key == "deviation_um"
    return quantity(None if value is None else value * scale, how, sign=sign, unit=False)


def _place(reading: Row) -> str:
    parts = [str(reading.get("feature") or "")]
    if reading.get("station_mm") is not None:
        parts.append(f"{number(float(reading['station_mm']), 1)} mm")
    if reading.get("clock_deg") is not None:
        parts.append(f"{number(float(reading['clock_deg']), 0)}°")
    return ", ".join(p for p in parts if p)


def _of_block(answers: Answers, told: logic.Told, key: str) -> list[Row]:
    """Kept readings behind one block; those of its parts where the value is computed."""
    block = next((b for b in told.chart["blocks"] if (b["build"] or b["at"]) == key), None)
    if block is None:
        return []
    question = {"build": (key,)} if block["build"] else {k: (told.chart[k],) for k in address.IDENTITY}
    ids = set(block["readings"])
    return [r for r in answers.readings(question)["readings"] if r["id"] in ids]


def readings(answers: Answers, told: logic.Told, asked: Question) -> Children:
    """Readings of the block that the address names."""
    key = address.one(asked, "block")
    if key is None or not told.chart["blocks"]:
        return None
    found = _of_block(answers, told, key)
    rest = {k: v for k, v in asked.items() if k != "block"}
    title = html.H2(
        [
            f"Readings behind {key} ",
            dcc.Link("Close", href=address.SERIES + address.search(rest), className="close"),
        ]
    )
    if not found:
        return html.Section([title, html.P("No block of this series has that name.")], id="readings")
    how, name, scale = _size_unit(told, found)
    mixed = (
        len({r["characteristic"] for r in found}) > 1
    )  # a computed value stands on readings of several kinds
    unit = f"{how.words} off target" if name == "deviation_um" else how.words
    head: list[Children] = ["where", unit, "as read", "file", "row", "column", "gauge", "made"]
    rows: list[list[Children]] = [
        [
            (f"{said(r['characteristic'])}, " if mixed else "") + _place(r),
            _value(r, how, name, scale),
            str(r.get("text") or ""),
            *(str(r.get(column) or "") for column in ("file", "row", "column", "gauge")),
            day(r.get("made_at"), told.zone),
        ]
        for r in found[:MOST]
    ]
    return html.Section([title, table(head, rows, name="readings", words=1)], id="readings")
