"""Records of the store as rows, and back: values in the row's own unit, times in UTC."""

from collections.abc import Iterable, Mapping
from dataclasses import fields
from datetime import UTC, datetime, timedelta
from decimal import Decimal, InvalidOperation
from typing import Any, Final

from qc.errors import FileError
from qc.records import Build, Event, Gauge, Machine, PlanRow, Spec
from qc.units import exact, ticks

NOUNS: Final[Mapping[str, type]] = {
    "specifications": Spec, "events": Event, "gauges": Gauge, "builds": Build, "machines": Machine,
    "plan": PlanRow,
}  # fmt: skip
TIMES: Final = ("since", "at", "calibrated_on", "due_on", "received_on", "shipped_on")
LENGTHS: Final = (
    "lower", "target", "upper", "resolution", "standard_uncertainty", "common_part", "value", "correction",
)  # fmt: skip
_PLACES: Final = {"station": ("station_mm", "mm"), "clock": ("clock_deg", "deg")}
# a specification's column `source` says who; where the row itself was read is its place
_CALLED: Final[Mapping[str, str]] = {"said_by": "source", "source": "place"}
_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)


def rows(records: Iterable[Any]) -> list[dict[str, Any]]:
    """Rows of records of `qc.records`, numbers as floats, with the file contract's column names."""
    return [{name: _float(value) for name, value in one.items()} for one in exact_rows(records)]


def exact_rows(records: Iterable[Any]) -> list[dict[str, Any]]:
    """The same with numbers as exact decimals, from which `read` gives the record again."""
    return [_row(record) for record in records]


def columns(noun: type) -> list[str]:
    """Columns of the rows of one kind of record."""
    return [_CALLED.get(name, _PLACES.get(name, (name,))[0]) for name in (f.name for f in fields(noun))]


def read(noun: type, row: Mapping[str, str]) -> Any:
    """The record a pack's row tells of; where it was read is not told again.

    Raises
    ------
    FileError
        When a cell is no number or no time.
    """
    unit = row.get("unit") or "mm"
    given: dict[str, Any] = {}
    for field in fields(noun):
        if field.name == "source":
            continue
        name, own_unit = _PLACES.get(field.name, (_CALLED.get(field.name, field.name), unit))
        text = row.get(name, "")
        if field.name in TIMES:
            given[field.name] = microseconds(text)
        elif field.name in LENGTHS or field.name in _PLACES:
            given[field.name] = whole(text, own_unit)
        elif field.type is bool:
            given[field.name] = text == "true"
        else:
            given[field.name] = text or None
    return noun(**given)


def _row(record: Any) -> dict[str, Any]:
    unit = getattr(record, "unit", None) or "mm"
    row: dict[str, Any] = {}
    for name in (field.name for field in fields(record)):
        value = getattr(record, name)
        if name in _PLACES:
            name, place_unit = _PLACES[name]
            value = decimal(value, place_unit)
        elif name in LENGTHS:
            value = decimal(value, unit)
        elif name in TIMES:
            value = None if value is None else utc(value)
        elif name == "source":
            value = None if value is None else value.place
        row[_CALLED.get(name, name)] = value
    return row


def _float(value: Any) -> Any:
    return float(value) if isinstance(value, Decimal) else value


def decimal(count: int | None, unit: str) -> Decimal | None:
    """Exact value of ticks in a unit, without an exponent."""
    return None if count is None else exact(int(count), unit)


def whole(text: str, unit: str) -> int | None:
    """Ticks of an exact decimal's text, None where blank."""
    if not text:
        return None
    try:
        return ticks(Decimal(text), unit)
    except (InvalidOperation, OverflowError) as error:
        raise FileError(f"{text[:40]!r} in the pack is no number: ask for the pack again") from error


def utc(at: int) -> str:
    """ISO 8601 text of a time in microseconds."""
    return (_EPOCH + timedelta(microseconds=int(at))).isoformat()


def microseconds(text: str) -> int | None:
    """Time in microseconds of an ISO 8601 text, None where blank."""
    if not text:
        return None
    try:
        when = datetime.fromisoformat(text)
        return (when - _EPOCH) // timedelta(microseconds=1)
    except (ValueError, TypeError, OverflowError) as error:
        raise FileError(f"{text[:40]!r} in the pack is no time: ask for the pack again") from error
