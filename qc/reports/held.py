"""What waits for a person: findings with cells, what was seen, doubted, proposed, what it would change."""

from collections.abc import Mapping
from typing import Any, Final
from zoneinfo import ZoneInfo

from qc.history import history
from qc.history.zone import shop_zone
from qc.records import Asked
from qc.reports.question import head
from qc.reports.words import day, plain, plural

DID: Final[Mapping[str, str]] = {
    "accept": "took it as written", "correct": "took it as corrected", "discard": "left it out for good",
    "undo": "took that back",
}  # fmt: skip


def answer(store: Any, asked: Asked, *, every: bool = False, number: int | None = None) -> dict[str, Any]:
    """Findings that wait; with `every` also those already decided and the notes that keep nothing back.

    A doubt of which the decision was taken back stands once, under the number under which it waits again,
    with its `history`; under the old number it is told only when `number` asks for it.
    """
    frame = store.findings(open_only=not every, as_of=asked.as_of)
    held = store.held(open_only=True, as_of=asked.as_of)
    waiting = held["finding_id"].value_counts().to_dict() if len(held) else {}
    zone = shop_zone(store.settings(asked.as_of))
    told = [r for r in frame.to_dict("records") if r["again"] is None or r["id"] == number]
    rows = [_finding(r, waiting, zone) for r in told]
    if not every:
        rows = [r for r in rows if r["held_rows"] or r["severity"] != "note"]
    if asked != Asked(as_of=asked.as_of):  # what a filter asks for can be told of held rows only
        let_through = set(history(store, asked).held["finding_id"])
        rows = [r for r in rows if r["id"] in let_through]
    settings = store.settings(asked.as_of)
    out = head("held", store.revision(asked.as_of), asked, settings)
    out["sentence"] = _sentence(rows)
    return {**out, "findings": plain(rows)}


def _finding(row: dict[str, Any], waiting: dict[Any, int], zone: ZoneInfo) -> dict[str, Any]:
    cells = [{"sheet": c.sheet, "row": c.row, "column": c.column, "text": c.text} for c in row["cells"][:200]]
    return {
        "id": row["id"], "file": row["file"], "severity": row["severity"], "code": row["code"],
        "count": row["count"], "cells": cells, "saw": row["saw"], "doubt": row["doubt"],
        "proposal": row["proposal"], "effect": row["effect"], "decided": row["decided"],
        "held_rows": int(waiting.get(row["id"], 0)), "again": row["again"],
        "history": [{**step, "sentence": _step(step, zone)} for step in row["history"]],
    }  # fmt: skip


def _step(step: dict[str, Any], zone: ZoneInfo) -> str:
    """One decision of before, or its taking back, in words."""
    why = f": {step['reason']}" if step["reason"] else ""
    words = f"{step['by']} {DID[step['decision']]} on {day(step['at'], zone)}{why}"
    return words if words.endswith(".") else f"{words}."


def _sentence(rows: list[dict[str, Any]]) -> str:
    if not rows:
        return "Nothing waits."
    held, asks = sum(r["held_rows"] for r in rows), sum(r["severity"] == "ask" for r in rows)
    parts = [f"{plural(held, 'row')} kept out of the figures until a person decides"] if held else []
    parts += [f"{plural(asks, 'question')} about cells that count meanwhile"] if asks else []
    return f"{'; '.join(parts) or 'A file waits that could not be read'}."
