"""The audit figures of a pack a second time, by plain arithmetic from its tables alone."""

import json
import math
from collections.abc import Iterator, Mapping
from typing import Any, Final

from qc.export import bores, packed, plain

Found = tuple[str, str, Any, Any, bool]
Entries = Mapping[str, bytes | None]
_CAPABILITY: Final = "answers/capability.json"
_BY_EYE: Final = 1e-6  # um: limits of one window differ by less


def checks(entries: Entries, manifest: Mapping[str, Any]) -> Iterator[Found]:
    """Compare bore values with the means of their readings, and audit figures with those of their bores."""
    rows = packed.table(entries, "bores.csv")
    yield from _bores(entries, rows)
    document = packed.document(entries, _CAPABILITY)
    by_series: dict[str, list[dict[str, str]]] = {}
    for row in rows:
        if row["pass"] == "1" and row["complete"] == "true":
            by_series.setdefault(row["series"], []).append(row)
    filtered = bool(set(document["asked"]) - {"as_of"})
    for row in document["series"]:
        if row["window"] and not row["window"]["scaled"] and not filtered:
            yield from _figures(row, by_series.get(row["id"], []))


def _bores(entries: Entries, rows: list[dict[str, str]]) -> Iterator[Found]:
    readings = {row["id"]: row for row in packed.table(entries, "readings.csv") if row["status"] != "held"}
    wrong = counted = 0
    for row in rows:
        if row["from"] != bores.OF_READINGS:
            continue
        mine = [readings[one] for one in json.loads(row["readings"]) if one in readings]
        # not out of the series' name: a machine's may have a slash in it
        again = plain.bore_value(mine, bores.column(mine[0]["characteristic"])) if mine else math.nan
        counted += 1
        if not plain.agree(again, float(row["value"])):
            wrong += 1
            yield (
                f"mean of the readings of {row['build']} {row['feature']}",
                "bores.csv",
                row["value"],
                again,
                False,
            )
    yield "bore values that are the mean of their readings", "bores.csv", counted, counted - wrong, wrong == 0


def _figures(row: Mapping[str, Any], candidates: list[dict[str, str]]) -> Iterator[Found]:
    window = row["window"]
    parts = 10 if row["coded"] else 1 / _BY_EYE
    mine = [
        one for one in candidates
        if all(_equal(one[side], window[side], parts) for side in ("lower", "upper"))
    ]  # fmt: skip
    what = f"{row['id']} {window['lower']} to {window['upper']}"
    yield _compared(f"{what} bores", row["bores"], len(mine))
    yield _compared(f"{what} blocks", row["blocks"], len({one["block"] for one in mine}))
    beyond = sum(one["conforms"] == "false" for one in mine)
    yield _compared(f"{what} bores_not_conforming", row["bores_not_conforming"], beyond)
    if not mine:
        return
    counts = window["bounded"]
    limits = plain.Window(
        window["lower"] if counts != "above" else None, window["upper"] if counts != "below" else None
    )
    family = (row["family"] or {}).get("name", "")
    found = plain.figures([float(one["value"]) for one in mine], limits, family)
    for name, value in found.items():
        # a figure that is not given (too few bores, no spread) has its reason; there is nothing to compare
        if row[name] is not None:
            yield _compared(f"{what} {name} by plain arithmetic", row[name], value)


def _equal(text: str, limit: float | None, parts: float) -> bool:
    """Whether two limits are equal to a tenth of a um, as windows are told apart; uncoded ones plainly."""
    if limit is None or text == "":
        return limit is None and text == ""
    return round(float(text) * parts) == round(limit * parts)


def _compared(what: str, expected: Any, found: Any) -> Found:
    return what, _CAPABILITY, expected, found, plain.agree(expected, found)
