"""Specifications, events and gauges: one more from the command line, or the list of those in force.

What is added here goes in as a file of one row, by the same way and the same checks as a file from outside.
"""

import csv
import tempfile
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

import click

from qc.cli.answers import deliver
from qc.cli.files import report, taken_in
from qc.cli.options import FILTERS, Given, asks, given, shared, stacked, zone
from qc.cli.refusal import waits

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
    "correction": "What its certificate adds to its readings; kept, not applied.",
    "certificate": "Its number.",
}
_NEEDED: Final = {
    "spec": ("characteristic", "reading", "unit", "source"),
    "event": ("event", "at"),
    "gauge": ("gauge",),
}


Shows = Callable[[Mapping[str, Any], Any], str]


def _columns(kind: str, columns: Mapping[str, str]) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    return stacked([
        click.option(
            "--" + name.replace("_", "-"), f"row_{name}", metavar="TEXT", help=text,
            required=name in _NEEDED[kind],
        )
        for name, text in columns.items()
    ])  # fmt: skip


def _added(kind: str, options: dict[str, Any]) -> None:
    row = {name[4:]: options.pop(name) for name in list(options) if name.startswith("row_")}
    filled = {name: text for name, text in row.items() if text}
    command = given(options)
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / f"{kind} added by hand.csv"
        with place.open("w", encoding="utf-8", newline="") as out:
            csv.writer(out).writerows([list(filled), list(filled.values())])
        # an event may end a matter, and whoever logs it wants to see that
        taken = taken_in(command, [place], f"{kind} add", judge=kind == "event")
    document = report(taken, command)
    waits(any(one["held"] for one in document["files"]))


def _listed(kind: str, answer: str, command: Given, columns: Mapping[str, Shows]) -> None:
    from qc.cli import printed
    from qc.export import records

    with command.opened() as store:
        # a machine may have events before it has a reading: names are not held against the readings here
        times: dict[str, object] = {
            name: command.filters[name] for name in ("since", "until") if name in command.filters
        }
        asked = replace(command, filters=times).question(store)
        settings, here = store.settings(), zone(store)
        told = {**command.filters, **({"as_of": command.as_of} if command.as_of else {})}
        found = [one for one in getattr(store, kind)(asked.as_of) if _asked_for(one, asked, command.filters)]
        document = {
            "answer": answer, "version": 1, "revision": store.revision(asked.as_of),
            "asked": told,
            "zone": here, "cautions": [], answer: records.rows(found),
        }  # fmt: skip
    if command.json or command.out:
        deliver(document, command, settings)
        return
    how = printed.shown(settings, here)
    click.echo(f"{len(found)} {answer} at revision {document['revision']}.")
    rows = records.rows(found)
    printed.table(
        list(columns), [[shows(row, how) for shows in columns.values()] for row in rows], len(columns)
    )


def _asked_for(record: Any, asked: Any, filters: Mapping[str, Any]) -> bool:
    """Whether a record speaks of what is asked: what it leaves blank means any."""
    for name in FILTERS:
        wanted, own = filters.get(name), getattr(record, name, None)
        if wanted and own is not None and own not in wanted:
            return False
    at = getattr(record, "at", None)
    too_early = at is not None and asked.since is not None and at < asked.since
    return not too_early and not (at is not None and asked.until is not None and at > asked.until)


def _shows(*names: str) -> Shows:
    """Show the first of these fields that is filled, beside each other where there are several."""

    def shows(row: Mapping[str, Any], how: Any) -> str:
        return " ".join(_cell(row[name], name, how) for name in names if row[name] is not None) or "-"

    return shows


def _limits(row: Mapping[str, Any], how: Any) -> str:
    from qc.cli.printed import NOTHING, minus, span

    lower, target, upper = (
        NOTHING if row[name] is None else minus(f"{row[name]:g}") for name in ("lower", "target", "upper")
    )
    aim = "" if target == NOTHING else f", target {target}"
    about = " off target" if row["reading"] == "deviation" else ""
    return f"{span(lower, upper)} {row['unit']}{about}{aim}"


def _cell(value: object, column: str, how: Any) -> str:
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
    _listed("specs", "specifications", given(options), {
        "what": _shows("characteristic"), "limits": _limits,
        "for": _shows("build", "engine", "operation", "feature", "state"), "since": _shows("since"),
        "source": _shows("source"),
    })  # fmt: skip


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
    _listed("events", "events", given(options), {
        "day": _shows("at"), "on": _shows("machine", "gauge", "operation"), "event": _shows("event"),
        "note": _shows("note"),
    })  # fmt: skip


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
    _listed("gauges", "gauges", given(options), {
        "gauge": _shows("gauge"), "kind": _shows("kind"), "step": _shows("resolution"),
        "u": _shows("standard_uncertainty"), "unit": _shows("unit"), "calibrated": _shows("calibrated_on"),
        "due": _shows("due_on"), "master": _shows("master"), "certificate": _shows("certificate"),
    })  # fmt: skip


COMMANDS = (spec, event, gauge)
