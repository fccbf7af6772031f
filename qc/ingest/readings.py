"""A row of a readings file to a reading."""

from typing import Any, Final, NamedTuple

from qc import units
from qc.catalogue import CATALOGUE
from qc.ingest import keys
from qc.ingest.line import Line, unit_key
from qc.records import Reading

_READING: Final = {"size": "size", "deviation": "deviation", "dev": "deviation"}
MASTER: Final = "master_check"
# columns whose cells are mostly the same down a sheet: what they say together is worked out once
_TEXTS: Final = ("engine", "serial", "operator", "sized_with", "master", "torque", "material", "note")
_TOGETHER: Final = (
    *_TEXTS, "build", "machine", "operation", "characteristic", "unit", "state", "method", "reading", "gauge",
    "part_c", "gauge_c",
)  # fmt: skip
_MOST_REMEMBERED: Final = 4096

Sizes = tuple[int, bool, int | None, int | None, int | None]


class Said(NamedTuple):
    """What the columns say that are mostly the same down a sheet; None where a cell cannot be read."""

    characteristic: str | None
    unit: str | None
    deviation: bool
    fields: dict[str, Any]


def reading(line: Line) -> Reading | None:
    """The reading a row tells of; None, with doubts on the line, where a cell cannot be read."""
    said = _said(line)
    feature = _feature(line, said.characteristic)
    line.required("measured_at")
    measured = line.at("measured_at")
    made = line.at("made_at") if line.text("made_at") else measured
    station = line.number_in("station_mm", "mm")
    clock = _clock(line, said.characteristic)
    trial, pass_, order = line.whole("trial"), line.whole("pass"), line.whole("order")
    sizes = _sizes(line, said)
    if line.doubts or measured is None or made is None or sizes is None:
        return None
    value, relative, target, lower, upper = sizes
    return Reading(
        source=line.source("value"),
        feature=feature or "",
        value=value,
        measured_at=measured[0],
        made_at=made[0],
        relative=relative,
        target=target,
        lower=lower,
        upper=upper,
        station=station,
        clock=clock,
        trial=trial or 1,
        pass_=pass_,
        order=order,
        made_is_date=made[1],
        **said.fields,
    )


def _said(line: Line) -> Said:
    key = tuple(map(line.texts.get, _TOGETHER))
    known: Said | None = line.shop.rows_said.get(key)
    if known is not None:
        return known
    said = _together(line)
    if not line.doubts:
        if len(line.shop.rows_said) > _MOST_REMEMBERED:
            line.shop.rows_said.clear()
        line.shop.rows_said[key] = said
    return said


def _together(line: Line) -> Said:
    characteristic = _characteristic(line)
    unit = _unit(line, characteristic)
    machine, operation = line.required("machine"), line.required("operation")
    fields: dict[str, Any] = {name: line.text(name) for name in _TEXTS}
    fields |= {
        "build": _build(line, characteristic, operation),
        "machine": machine,
        "operation": operation,
        "characteristic": characteristic,
        "unit": unit,
        "state": line.one_of("state", keys.state, "unknown_state", keys.near_state) or "unstated",
        "method": keys.method(characteristic, line.text("method")) if characteristic else None,
        "gauge": line.text("gauge") or (machine if characteristic == MASTER else None),
        "part_c": line.decimal("part_c"),
        "gauge_c": line.decimal("gauge_c"),
    }
    return Said(characteristic, unit, _deviation(line, characteristic), fields)


def _characteristic(line: Line) -> str | None:
    line.required("characteristic")
    return line.one_of(
        "characteristic", keys.characteristic, "unknown_characteristic", keys.near_characteristic
    )


def _unit(line: Line, characteristic: str | None) -> str | None:
    line.required("unit")
    unit = line.one_of("unit", unit_key, "unknown_unit", lambda _: "")
    if unit and characteristic and units.kind(unit) != CATALOGUE[characteristic].kind:
        line.doubt("unit_kind", "unit", cause=f"{characteristic}:{unit}")
        return None
    return unit


def _deviation(line: Line, characteristic: str | None) -> bool:
    how = line.one_of("reading", lambda t: _READING.get(t.casefold()), "unknown_reading", lambda _: "")
    if how == "deviation" and characteristic is not None and not CATALOGUE[characteristic].coded:
        line.doubt("not_coded", "reading", cause=characteristic, proposal="size")
    return how == "deviation"


def _feature(line: Line, characteristic: str | None) -> str | None:
    line.required("feature")
    feature = line.one_of("feature", keys.feature, "unknown_feature", keys.near_feature)
    if feature and characteristic and (feature == "master") != (characteristic == MASTER):
        proposal = "master" if characteristic == MASTER else ""
        line.doubt("master_check", "feature", cause="feature", proposal=proposal)
    return feature


def _build(line: Line, characteristic: str | None, operation: str | None) -> str | None:
    if characteristic != MASTER:
        return line.required("build")
    if line.text("build"):
        line.doubt("master_check", "build", cause="build")
    if operation and operation != "check":
        line.doubt("master_check", "operation", cause="operation", proposal="check")
    return None


def _clock(line: Line, characteristic: str | None) -> int | None:
    text = line.text("clock_deg")
    if text is None:
        return None
    clock = keys.clock(text, characteristic)
    if clock is None:
        line.doubt("not_a_direction", "clock_deg")
    return clock


def _sizes(line: Line, said: Said) -> Sizes | None:
    """Value, whether it is relative, target, lower, upper in ticks; sizes unless relative."""
    unit = said.unit
    if line.required("value") is None or unit is None or said.characteristic is None:
        return None
    value = line.number_in("value", unit)
    target = line.number_in("target", units.TARGET_UNIT.get(unit, unit) if said.deviation else unit)
    lower, upper = line.number_in("lower", unit), line.number_in("upper", unit)
    if lower is not None and upper is not None and lower > upper:
        line.doubt("limits_reversed", "lower")
    if value is None:
        return None
    if not said.deviation:
        line.doubt_marks(("value", "target", "lower", "upper"), unit, said.characteristic)
        return value, False, target, lower, upper
    if target is None:
        return value, True, None, lower, upper
    return value + target, False, target, _shifted(lower, target), _shifted(upper, target)


def _shifted(distance: int | None, target: int) -> int | None:
    return None if distance is None else target + distance
