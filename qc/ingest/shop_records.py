"""Rows of files that are no readings: specifications, events, gauges, builds, machines, measuring plan."""

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Final, Literal

from qc import units
from qc.catalogue import CATALOGUE
from qc.ingest import keys
from qc.ingest.line import Line, unit_key
from qc.ingest.readings import reading
from qc.records import Build, Event, Gauge, Machine, PlanRow, Record, Spec

_HOW: Final[Mapping[str, Literal["deviation", "size"]]] = {
    "deviation": "deviation", "dev": "deviation", "size": "size",
}  # fmt: skip


def _day(line: Line, column: str) -> int | None:
    at = line.at(column, "start")
    return None if at is None else at[0]


def _place(line: Line) -> tuple[str | None, str | None, int | None, int | None, str | None]:
    """Characteristic, feature, station, clock and state that a limit or a planned position is about."""
    line.required("characteristic")
    characteristic = line.one_of(
        "characteristic", keys.characteristic, "unknown_characteristic", keys.near_characteristic
    )
    feature = line.one_of("feature", keys.feature, "unknown_feature", keys.near_feature)
    station = line.number_in("station_mm", "mm")
    clock = None
    if (text := line.text("clock_deg")) is not None:
        clock = keys.clock(text, characteristic)
        if clock is None:
            line.doubt("not_a_direction", "clock_deg")
    return characteristic, feature, station, clock, line.one_of(
        "state", keys.state, "unknown_state", keys.near_state
    )  # fmt: skip


def spec(line: Line) -> Spec | None:
    """The limits a row gives; None, with doubts on the line, where a cell cannot be read."""
    characteristic, feature, station, clock, state = _place(line)
    unit = _unit(line, characteristic)
    how = line.one_of("reading", lambda t: _HOW.get(t.casefold()), "unknown_reading", lambda _: "")
    since = _day(line, "since")
    if characteristic is None or unit is None:
        return None
    lower, target, upper = (line.number_in(column, unit) for column in ("lower", "target", "upper"))
    form = _form(line, characteristic, how, lower)
    _doubt_limits(line, lower, upper)
    if form == "size":
        line.doubt_marks(("lower", "target", "upper"), unit, characteristic)
    if line.doubts or form is None:
        return None
    return Spec(
        characteristic, form, unit, lower, target, upper, line.text("build"), line.text("engine"),
        line.text("operation"), feature, station, clock, state, since, line.text("revision"),
        line.text("source"),
        line.source("characteristic"),
    )  # fmt: skip


def _unit(line: Line, characteristic: str | None) -> str | None:
    line.required("unit")
    unit = line.one_of("unit", unit_key, "unknown_unit", lambda _: "")
    if unit and characteristic and units.kind(unit) != CATALOGUE[characteristic].kind:
        line.doubt("unit_kind", "unit", cause=f"{characteristic}:{unit}")
        return None
    return unit


def _form(
    line: Line, characteristic: str, how: str | None, lower: int | None
) -> Literal["deviation", "size"] | None:
    coded = CATALOGUE[characteristic].coded
    if how == "deviation" and not coded:
        line.doubt("not_coded", "reading", cause=characteristic, proposal="size")
        return None
    if how is None and coded and lower is not None and lower <= 0:
        # a size below nought is hardly meant, a distance below its target usually is
        line.doubt("reading_unsaid", "reading", proposal="deviation")
        return None
    return _HOW[how or "size"]


def _doubt_limits(line: Line, lower: int | None, upper: int | None) -> None:
    if not any(line.text(c) for c in ("lower", "target", "upper")):
        line.doubt("no_limit", "lower")
    if lower is not None and upper is not None and lower > upper:
        line.doubt("limits_reversed", "lower")


def event(line: Line) -> Event | None:
    """The event a row tells of; None, with doubts on the line, where a cell cannot be read."""
    line.required("event")
    key = line.one_of("event", keys.event, "unknown_event", keys.near_event)
    line.required("at")
    at = line.at("at", "start")
    machine, gauge = line.text("machine"), line.text("gauge")
    if machine is None and gauge is None:
        line.doubt("missing_value", "machine", cause="machine or gauge")
    if line.doubts or key is None or at is None:
        return None
    return Event(
        key, at[0], machine, gauge, line.text("operation"), at[1], line.text("note"), line.source("event")
    )


def gauge(line: Line) -> Gauge | None:
    """The row of a gauge's history; None, with doubts on the line, where a cell cannot be read."""
    name = line.required("gauge")
    unit = line.one_of("unit", unit_key, "unknown_unit", lambda _: "")
    sizes = ("resolution", "standard_uncertainty", "common_part", "value", "correction")
    if unit is None and not line.text("unit") and any(line.text(c) for c in sizes):
        line.doubt("missing_value", "unit")
    resolution, uncertainty, common, value, correction = (
        line.number_in(c, unit) if unit else None for c in sizes
    )  # fmt: skip
    calibrated, due = _day(line, "calibrated_on"), _day(line, "due_on")
    if line.doubts or name is None:
        return None
    return Gauge(
        name, line.text("kind"), resolution, uncertainty, common, unit, calibrated, due, line.text("master"),
        value, correction, line.text("certificate"), line.source("gauge"),
    )  # fmt: skip


def build(line: Line) -> Build | None:
    """The build a row tells of; None, with doubts on the line, where a cell cannot be read."""
    name = line.required("build")
    received, shipped = _day(line, "received_on"), _day(line, "shipped_on")
    if line.doubts or name is None:
        return None
    return Build(
        name, line.text("engine"), line.text("serial"), line.text("material"), received, shipped,
        line.text("note"),
        line.source("build"),
    )  # fmt: skip


def machine(line: Line) -> Machine | None:
    """The machine a row tells of; None, with doubts on the line, where a cell cannot be read."""
    name = line.required("machine")
    since = _day(line, "since")
    if line.doubts or name is None:
        return None
    return Machine(name, line.text("kind"), since, line.text("note"), line.source("machine"))


def plan_row(line: Line) -> PlanRow | None:
    """The planned position a row gives; None, with doubts on the line, where a cell cannot be read."""
    characteristic, feature, station, clock, state = _place(line)
    since = _day(line, "since")
    if line.doubts or characteristic is None:
        return None
    return PlanRow(
        characteristic, line.text("engine"), feature, station, clock, state, since, line.text("revision"),
        line.source("characteristic"),
    )  # fmt: skip


TYPED: Final[Mapping[str, Callable[[Line], Record | None]]] = MappingProxyType({
    "readings": reading, "specifications": spec, "events": event, "gauges": gauge, "builds": build,
    "machines": machine, "measuring_plan": plan_row,
})  # fmt: skip
