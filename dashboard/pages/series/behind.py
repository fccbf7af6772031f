"""What lies behind the ribbon: the blocks as a table, and one block's readings with file, row and text."""

from collections.abc import Mapping
from typing import Any

from dash import dcc, html
from dash.development.base_component import Component

from dashboard.answers import Answers, Question
from dashboard.components import address
from dashboard.components.plain import Children, fold, table
from dashboard.pages.series import logic
from dashboard.theme.shown import day, many, number, quantity

Row = Mapping[str, Any]
MOST = 400


def _to_block(asked: Question, build: str) -> str:
    return address.SERIES + address.search({**asked, "block": build})


def blocks(told: logic.Told, asked: Question) -> Component:
    """Every block as a row; its name leads to its readings."""
    unit = told.how.words
    head: list[Children] = [
        "build",
        "date",
        "bores",
        f"mean, {unit}",
        "lowest",
        "highest",
        "bore to bore",
        "gauge",
        "",
    ]
    rows: list[list[Children]] = [
        [dcc.Link(build, href=_to_block(asked, build), className="row-link"), *cells]
        for build, cells in logic.blocks(told)
    ]
    return fold(
        f"{many(len(rows), 'block')} as a table", table(head, rows, name="blocks"), "blocks-fold", id="blocks"
    )


def _value(reading: Row, told: logic.Told) -> str:
    deviation = reading.get("deviation_um")
    if told.coded and deviation is not None:
        return quantity(deviation, told.how, sign=True, unit=False)
    value = reading.get("value_um", reading.get("value"))
    return quantity(reading.get("value") if value is None else value, told.how, unit=False)


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
    head: list[Children] = ["where", told.how.words, "as read", "file", "row", "column", "gauge", "made"]
    rows: list[list[Children]] = [
        [
            _place(r),
            _value(r, told),
            html.Code(str(r.get("text") or "")),
            *(str(r.get(name) or "") for name in ("file", "row", "column", "gauge")),
            day(r.get("made_at"), told.zone),
        ]
        for r in found[:MOST]
    ]
    return html.Section([title, table(head, rows, name="readings")], id="readings")
