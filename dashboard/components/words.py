"""Everyday words for rows of an answer."""

from collections.abc import Mapping
from typing import Any

from dashboard.theme.shown import in_units
from qc.catalogue import CATALOGUE, said
from qc.reports.words import series_name

CONDITIONS = ("drifting", "stepped", "scattered", "steady", "thin")


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
    return series_name(dict(row))


def condition(key: str | None) -> str:
    """Everyday words of a condition."""
    return {"thin": "too few blocks"}.get(key or "", key or "")


def height(row: Mapping[str, Any], unit: str) -> str:
    """What the height of a series' ribbon means: `um off target`, `um`."""
    return f"{unit} off target" if row.get("coded") else unit


def sentence(row: Mapping[str, Any], units: str) -> str:
    """A series' headline in the shop's unit, without its name, for places where the name stands beside."""
    return headline(row.get("sentence"), units, name(row), characteristic=row["characteristic"])


def headline(told: object, units: str, before: str, *, characteristic: str = "") -> str:
    """A sentence in the shop's unit, without these words and the colon before it, with a capital."""
    text = str(told or "").removeprefix(f"{before}: ")
    return in_units(text[:1].upper() + text[1:], units, characteristic)
