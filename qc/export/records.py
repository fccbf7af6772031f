"""Records of the store as rows of an answer: values in the row's own unit, times in UTC."""

from collections.abc import Iterable, Mapping
from dataclasses import fields
from datetime import UTC, datetime
from typing import Any, Final

from qc.units import exact

TIMES: Final = ("since", "at", "calibrated_on", "due_on", "received_on", "shipped_on")
LENGTHS: Final = (
    "lower", "target", "upper", "resolution", "standard_uncertainty", "common_part", "value", "correction",
)  # fmt: skip
_PLACES: Final = {"station": ("station_mm", "mm"), "clock": ("clock_deg", "deg")}
_CALLED: Final[Mapping[str, str]] = {
    "said_by": "source",
    "source": "place",
}  # the row's own column is `source`


def rows(records: Iterable[Any]) -> list[dict[str, Any]]:
    """Rows of records of `qc.records`, with the file contract's column names where it has them."""
    return [_row(record) for record in records]


def _row(record: Any) -> dict[str, Any]:
    unit = getattr(record, "unit", None) or "mm"
    row: dict[str, Any] = {}
    for name in (field.name for field in fields(record)):
        value = getattr(record, name)
        if name in _PLACES:
            name, place_unit = _PLACES[name]
            value = _value(value, place_unit)
        elif name in LENGTHS:
            value = _value(value, unit)
        elif name in TIMES:
            value = None if value is None else utc(value)
        elif name == "source":
            value = None if value is None else value.place
        row[_CALLED.get(name, name)] = value
    return row


def _value(ticks: int | None, unit: str) -> float | None:
    return None if ticks is None else float(exact(ticks, unit))


def utc(microseconds: int) -> str:
    """ISO 8601 text of a time."""
    return (
        datetime.fromtimestamp(microseconds // 1_000_000, UTC)
        .replace(microsecond=microseconds % 1_000_000)
        .isoformat()
    )
