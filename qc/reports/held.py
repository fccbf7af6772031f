"""What waits for a person: findings with cells, what was seen, doubted, proposed, what it would change."""

from typing import Any

from qc.history import history
from qc.records import Asked
from qc.reports.question import head
from qc.reports.words import plain, plural


def answer(store: Any, asked: Asked, *, every: bool = False) -> dict[str, Any]:
    """Findings that wait; with `every` also those already decided and the notes that keep nothing back."""
    frame = store.findings(open_only=not every, as_of=asked.as_of)
    held = store.held(open_only=True, as_of=asked.as_of)
    waiting = held["finding_id"].value_counts().to_dict() if len(held) else {}
    rows = [_finding(r, waiting) for r in frame.to_dict("records")]
    if not every:
        rows = [r for r in rows if r["held_rows"] or r["severity"] != "note"]
    if asked != Asked(as_of=asked.as_of):  # what a filter asks for can be told of held rows only
        let_through = set(history(store, asked).held["finding_id"])
        rows = [r for r in rows if r["id"] in let_through]
    settings = store.settings(asked.as_of)
    out = head("held", store.revision(asked.as_of), asked, settings)
    out["sentence"] = _sentence(rows)
    return {**out, "findings": plain(rows)}


def _finding(row: dict[str, Any], waiting: dict[Any, int]) -> dict[str, Any]:
    cells = [{"sheet": c.sheet, "row": c.row, "column": c.column, "text": c.text} for c in row["cells"][:200]]
    return {
        "id": row["id"], "file": row["file"], "severity": row["severity"], "code": row["code"],
        "count": row["count"], "cells": cells, "saw": row["saw"], "doubt": row["doubt"],
        "proposal": row["proposal"], "effect": row["effect"], "decided": row["decided"],
        "held_rows": int(waiting.get(row["id"], 0)),
    }  # fmt: skip


def _sentence(rows: list[dict[str, Any]]) -> str:
    if not rows:
        return "Nothing waits."
    held, asks = sum(r["held_rows"] for r in rows), sum(r["severity"] == "ask" for r in rows)
    parts = [f"{plural(held, 'row')} kept out of the figures until a person decides"] if held else []
    parts += [f"{plural(asks, 'question')} about cells that count meanwhile"] if asks else []
    return f"{'; '.join(parts) or 'A file waits that could not be read'}."
