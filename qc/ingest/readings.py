"""A row of a readings file to a reading."""

from typing import Final

from qc import units
from qc.catalogue import CATALOGUE
from qc.ingest import keys
from qc.ingest.line import Line, unit_key
from qc.records import Reading

_READING: Final = {"size": "size", "deviation": "deviation", "dev": "deviation"}
MASTER: Final = "master_check"


def reading(line: Line) -> Reading | None:
    """The reading a row tells of; None, with doubts on the line, where a cell cannot be read."""
    characteristic = _characteristic(line)
    unit = _unit(line, characteristic)
    feature = _feature(line, characteristic)
    machine, operation = line.required("machine"), line.required("operation")
    state = line.one_of("state", keys.state, "unknown_state", keys.near_state) or "unstated"
    build = _build(line, characteristic, operation)
    measured = line.at("measured_at")
    if line.required("measured_at") is None:
        measured = None
    made = line.at("made_at") if line.text("made_at") else measured
    station = line.number_in("station_mm", "mm")
    clock = _clock(line, characteristic)
    trial, pass_, order = line.whole("trial"), line.whole("pass"), line.whole("order")
    part_c, gauge_c = line.decimal("part_c"), line.decimal("gauge_c")
    sizes = _sizes(line, characteristic, unit)
    if line.doubts or characteristic is None or measured is None or made is None or sizes is None:
        return None
    value, relative, target, lower, upper = sizes
    return Reading(
        source=line.source("value"),
        machine=machine or "",
        operation=operation or "",
        characteristic=characteristic,
        method=keys.method(characteristic, line.text("method")),
        state=state,
        feature=feature or "",
        value=value,
        unit=unit or "",
        measured_at=measured[0],
        made_at=made[0],
        build=build,
        engine=line.text("engine"),
        serial=line.text("serial"),
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
        gauge=line.text("gauge") or (machine if characteristic == MASTER else None),
        operator=line.text("operator"),
        sized_with=line.text("sized_with"),
        master=line.text("master"),
        torque=line.text("torque"),
        material=line.text("material"),
        part_c=part_c,
        gauge_c=gauge_c,
        note=line.text("note"),
    )


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


def _sizes(
    line: Line, characteristic: str | None, unit: str | None
) -> tuple[int, bool, int | None, int | None, int | None] | None:
    """Value, whether it is relative, target, lower, upper in ticks; sizes unless relative."""
    how = (
        line.one_of("reading", lambda t: _READING.get(t.casefold()), "unknown_reading", lambda _: "")
        or "size"
    )
    if line.required("value") is None or unit is None or characteristic is None:
        return None
    deviation = how == "deviation"
    if deviation and not CATALOGUE[characteristic].coded:
        line.doubt("not_coded", "reading", cause=characteristic, proposal="size")
        return None
    value = line.number_in("value", unit)
    target = line.number_in("target", units.TARGET_UNIT.get(unit, unit) if deviation else unit)
    lower, upper = line.number_in("lower", unit), line.number_in("upper", unit)
    if lower is not None and upper is not None and lower > upper:
        line.doubt("limits_reversed", "lower")
    if value is None:
        return None
    if not deviation:
        return value, False, target, lower, upper
    if target is None:
        return value, True, None, lower, upper
    return value + target, False, target, _shifted(lower, target), _shifted(upper, target)


def _shifted(distance: int | None, target: int) -> int | None:
    return None if distance is None else target + distance
