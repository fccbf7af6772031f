"""Specifications, events and gauges: one more from the command line, or the list of those in force.

What is added here goes in as a file of one row, by the same way and the same checks as a file from outside.
"""

import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, Final

import click

from qc.cli.answers import deliver
from qc.cli.files import report, taken_in
from qc.cli.options import Given, asks, given, shared, zone

# column of the file -> what to write there; the first line of each kind are the ones it cannot do without
_SPEC: Final = {
    "characteristic": "What is limited, as in `qc series` (bore_diameter, ra, main_clearance ...).",
    "reading": "deviation (lower, upper are signed distances from the build's target) or size.",
    "unit": "mm, um, in, thou, tenth, uin, deg, %, min.",
    "source": "Who says so: book, drawing, builder.",
    "lower": "Lower limit.",
    "target": "Target (a size), or its offset (a deviation).",
    "upper": "Upper limit.",
    "build": "This build's plan only.",
    "engine": "This engine family only.",
    "operation": "This operation only.",
    "feature": "This hole or journal only (cyl-3, main-2).",
    "station_mm": "This depth only [mm].",
    "clock_deg": "This direction only [deg].",
    "state": "This state only (plate_on, caps_torqued ...).",
    "since": "From this day on.",
    "revision": "The document's own revision.",
}
_EVENT: Final = {
    "event": "stones_changed, stones_dressed, gauge_reset, coolant_changed ...",
    "at": "When: a day, or a day and time (2026-05-04, 2026-05-04T10:30).",
    "machine": "On this machine.",
    "gauge": "On this gauge.",
    "operation": "This operation only (blank: all of the machine's).",
    "note": "In your words.",
}
_GAUGE: Final = {
    "gauge": "Its name.",
    "kind": "bore_gauge, micrometer, master ...",
    "resolution": "Its smallest step.",
    "standard_uncertainty": "One standard uncertainty.",
    "common_part": "The part of it all its readings share.",
    "unit": "Unit of these values.",
    "calibrated_on": "Day.",
    "due_on": "Day.",
    "master": "What it is set on.",
    "value": "A master's certified size.",
    "correction": "A master's correction.",
    "certificate": "Its number.",
}
_NEEDED: Final = {
    "spec": ("characteristic", "reading", "unit", "source"),
    "event": ("event", "at"),
    "gauge": ("gauge",),
}


def _columns(kind: str, columns: Mapping[str, str]) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    def decorate(command: Callable[..., Any]) -> Callable[..., Any]:
        for name, text in reversed(list(columns.items())):
            flag = "--" + name.replace("_", "-")
            command = click.option(
                flag, f"row_{name}", metavar="TEXT", help=text, required=name in _NEEDED[kind]
            )(command)
        return command

    return decorate


def _added(kind: str, options: dict[str, Any]) -> None:
    from qc.export import csv

    row = {name[4:]: options.pop(name) for name in list(options) if name.startswith("row_")}
    filled = {name: text for name, text in row.items() if text}
    command = given(options)
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / f"{kind} added by hand.csv"
        place.write_text(csv.lines(list(filled), [list(filled.values())]), encoding="utf-8", newline="")
        taken = taken_in(command, [place], f"{kind} add")
    report(taken, command)


def _listed(name: str, answer: str, command: Given, columns: tuple[str, ...]) -> None:
    from qc.cli import printed
    from qc.export import records

    with command.opened() as store:
        as_of = None if command.as_of is None else store.revision(command.as_of)
        listed = records.rows(getattr(store, name)(as_of))
        document = {
            "answer": answer,
            "version": 1,
            "revision": store.revision() if as_of is None else as_of,
            "asked": {} if command.as_of is None else {"as_of": command.as_of},
            "zone": zone(store),
            "cautions": [],
            answer: listed,
        }
        if command.json or command.out:
            deliver(document, command, store.settings())
            return
        how = printed.shown(store.settings(), zone(store))
    click.echo(f"{len(listed)} {answer} at revision {document['revision']}.")
    printed.table(
        [column.replace("_", " ") for column in columns],
        [[_cell(row[column], column, how) for column in columns] for row in listed],
        left=len(columns),
    )


def _cell(value: object, column: str, how: Any) -> str:
    if value is None:
        return "-"
    if column in ("since", "at", "calibrated_on", "due_on"):
        return str(how.day(value))
    return f"{value:g}" if isinstance(value, float) else str(value)


@click.group()
def spec() -> None:
    """Limits and targets: add one, or list those in force."""


@spec.command("add")
@_columns("spec", _SPEC)
@shared
def spec_add(**options: Any) -> None:
    """One specification, with who says so."""
    _added("spec", options)


@spec.command("list")
@asks
def spec_list(**options: Any) -> None:
    """The specifications in force."""
    columns = (
        "characteristic",
        "engine",
        "build",
        "operation",
        "feature",
        "state",
        "reading",
        "lower",
        "target",
        "upper",
        "unit",
        "since",
        "source",
    )
    _listed("specs", "specifications", given(options), columns)


@click.group()
def event() -> None:
    """What happened to a machine or a gauge: add one, or list them."""


@event.command("add")
@_columns("event", _EVENT)
@shared
def event_add(**options: Any) -> None:
    """One event: stones changed, gauge re-set ..."""
    _added("event", options)


@event.command("list")
@asks
def event_list(**options: Any) -> None:
    """The events in the store."""
    _listed("events", "events", given(options), ("at", "machine", "gauge", "operation", "event", "note"))


@click.group()
def gauge() -> None:
    """Gauges and masters: add a line of one's history, or list them."""


@gauge.command("add")
@_columns("gauge", _GAUGE)
@shared
def gauge_add(**options: Any) -> None:
    """One line of a gauge's history: what it can, when it is due."""
    _added("gauge", options)


@gauge.command("list")
@asks
def gauge_list(**options: Any) -> None:
    """The gauges and masters in the store."""
    columns = (
        "gauge",
        "kind",
        "resolution",
        "standard_uncertainty",
        "unit",
        "calibrated_on",
        "due_on",
        "master",
        "certificate",
    )
    _listed("gauges", "gauges", given(options), columns)


COMMANDS = (spec, event, gauge)
