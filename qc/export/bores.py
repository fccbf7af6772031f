"""The bore values that charts and indices use, as a table an auditor can recompute from the readings."""

from collections.abc import Mapping
from typing import Any, Final

from qc.catalogue import CATALOGUE, Characteristic
from qc.export import json, plain
from qc.history import History, series_id, series_key
from qc.history.zone import iso

COLUMNS: Final = (
    "series", "block", "build", "feature", "pass", "value", "unit", "least", "greatest", "lower", "upper",
    "conforms",
    "complete", "reason", "made_at", "from", "readings",
)  # fmt: skip
OF_READINGS: Final = "the mean of its readings"
DERIVED: Final = "a formula of its parts"


def rows(found: History, readings: dict[str, dict[str, Any]]) -> list[dict[str, Any]]:
    """One row a bore, series and pass.

    Parameters
    ----------
    found : History
    readings : dict
        Rows of readings.csv by id, to say which bore values are just the mean of their readings.
    """
    ids = found.ids
    out = []
    for value in found.values.to_dict("records"):
        entry = CATALOGUE[value["characteristic"]]
        mine = [str(ids[row]) for row in value["rows"]]
        number = _given(value["value"])
        out.append({
            "series": series_id(series_key(value)), "block": value["block"],
            "build": value["build"], "feature": value["feature"], "pass": int(value["pass_no"]),
            "value": number,
            "unit": entry.unit, "least": _given(value["least"]), "greatest": _given(value["greatest"]),
            "lower": _lower(entry, value["lower_limit"]), "upper": _given(value["upper_limit"]),
            "conforms": value["conforms"],
            "complete": bool(value["complete"]), "reason": value["reason"], "made_at": iso(value["made_at"]),
            "from": _how(value, [readings[one] for one in mine if one in readings], len(mine)),
            "readings": json.compact(mine),
        })  # fmt: skip
    return out


def column(entry_key: str) -> str:
    """Column of readings.csv that the bore values of a characteristic are the mean of."""
    entry = CATALOGUE[entry_key]
    if entry.kind != "length":
        return "value"
    return "deviation_um" if entry.coded else "value_um"


def _how(value: Mapping[str, Any], readings: list[dict[str, Any]], wanted: int) -> str:
    number = _given(value["value"])
    if number is None or len(readings) < wanted or not readings:
        return DERIVED
    # a taper of nought may be the mean of deviations by accident: its parts are another characteristic
    if any(row[name] != value[name] for row in readings for name in ("characteristic", "method", "state")):
        return DERIVED
    texts = [{name: "" if cell is None else str(cell) for name, cell in row.items()} for row in readings]
    again = plain.bore_value(texts, column(str(value["characteristic"])))
    return OF_READINGS if plain.agree(again, number) else DERIVED


def _lower(entry: Characteristic, limit: Any) -> float | None:
    """A lower limit; a physical zero is none."""
    lower = _given(limit)
    return None if lower is not None and entry.floor is not None and lower <= entry.floor else lower


def _given(value: Any) -> float | None:
    return None if value is None or value != value else float(value)
