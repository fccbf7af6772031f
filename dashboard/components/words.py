"""Everyday words for rows of an answer."""

from collections.abc import Mapping
from typing import Any

from dashboard.theme.shown import in_units
from qc.catalogue import CATALOGUE, said
from qc.reports.words import capital, series_name


def what(row: Mapping[str, Any]) -> str:
    """`bore size, plate on` of a row: what is measured and how the part was held."""
    parts = [said(row["characteristic"])]
    entry = CATALOGUE.get(row["characteristic"])
    method = row.get("method")
    if method and (entry is None or method != entry.methods[0]):
        parts[0] += f" ({said(method)})"
    if row.get("state") not in (None, "unstated"):
        parts.append(said(row["state"]))
    return ", ".join(parts)


def name(row: Mapping[str, Any]) -> str:
    """`hone-2, finish hone, bore size, plate on`."""
    return f"{row['machine']}, {said(row['operation'])}, {what(row)}"


def condition(key: str | None) -> str:
    """Everyday words of a condition."""
    return {"thin": "too few blocks"}.get(key or "", key or "")


def height(row: Mapping[str, Any], unit: str) -> str:
    """What the height of a series' ribbon means: `um off target`, `um`."""
    return f"{unit} off target" if row.get("coded") else unit


def _without_machine(row: Mapping[str, Any], called: str) -> str:
    """A series' name where the words before it have named the machine."""
    return called.removeprefix(f"{row['machine']}, ")


def sentence(row: Mapping[str, Any], units: str) -> tuple[str, str]:
    """A series' sentence in the shop's unit: (what to do, why and how sure), without the name beside it.

    What to do is empty where nothing is to be done.
    """
    told, called = str(row.get("sentence") or ""), series_name(dict(row))
    do, colon, why = told.partition(": ")
    if do == called:
        do = ""
    elif do.startswith(f"{called}, "):  # a row of one of several windows tells its limits with its name
        do, why = "", f"{do.removeprefix(f'{called}, ')}: {why}"
    elif not colon or not any(why.startswith(part) for part in (called, _without_machine(row, called))):
        do, why = told, ""
    for part in (called, _without_machine(row, called)):
        why = why.removeprefix(f"{part} ")
    shown = [in_units(capital(text), units, row["characteristic"]) for text in (do, why)]
    return shown[0], shown[1]


def headline(told: object, units: str, before: str) -> str:
    """A sentence in the shop's unit, without these words and the colon before it, with a capital."""
    text = str(told or "").removeprefix(f"{before}: ")
    return in_units(capital(text), units)
