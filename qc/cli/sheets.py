"""Sheets that go out to the bench and come back filled in."""

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

import click

from qc.cli.options import Command, Given, given, shared
from qc.cli.refusal import waits
from qc.errors import FileError

_MANY: Final = ("machine", "operation", "characteristic", "state", "feature")


def _many(name: str) -> Callable[[Command], Command]:
    return click.option(f"--{name}", multiple=True, metavar="NAME", help=f"Only this {name} (repeatable).")


@click.command()
@click.argument("build")
@_many("machine")
@_many("operation")
@_many("characteristic")
@_many("state")
@_many("feature")
@click.option("--engine", metavar="NAME", help="Engine family of a build the store does not know yet.")
@click.option("--station", multiple=True, metavar="MM", help="Depth to measure at (repeatable).")
@click.option("--clock", multiple=True, metavar="DEG", help="Direction to measure in (repeatable).")
@click.option(
    "--as", "reading", type=click.Choice(["deviation", "size"]), help="Distances from the target, or sizes."
)
@click.option("--unit", metavar="UNIT", help="mm, um, in, thou, tenth (at first as the shop's setting says).")
@click.option("--pass", "pass_", type=click.IntRange(1, 99), help="2 for readings after rework.")
@click.option(
    "--out",
    "place",
    required=True,
    metavar="FILE.xlsx",
    type=click.Path(dir_okay=False, path_type=Path),
    help="The workbook to write.",
)
@shared
def sheet(build: str, place: Path, **options: Any) -> None:
    """Write a bench sheet for a build: printed, filled in, taken in with qc ingest.

    What to measure is what was measured on such engines before, where the measuring plan says; targets and
    limits are those in force.
    """
    from qc import units
    from qc.ingest import bench_plan, bench_sheet

    command = given({**options, **dict.fromkeys(_MANY, ())})
    many: dict[str, Any] = {n: tuple(options[n]) for n in _MANY}
    many["station"] = tuple(units.ticks(units.number(t), "mm") for t in options["station"])
    many["clock"] = tuple(units.ticks(units.number(t), "deg") for t in options["clock"])
    wanted = bench_plan.Wanted(build, options["engine"], **many)
    with command.opened() as store:
        plan = bench_plan.planned(store, wanted, time.time_ns() // 1000)
        metric = store.settings().get("units") != "inch"
    unit = units.unit(options["unit"]) if options["unit"] else None
    keys = [t.head["characteristic"] for t in plan.tables]
    forms = {key: bench_sheet.form_of(key, options["reading"], unit, metric) for key in keys}
    bench_sheet.write(plan, forms, place, pass_=options["pass_"])
    cells = sum(len(t.columns) * len(t.positions) for t in plan.tables)
    click.echo(f"wrote {place}: {len(plan.tables)} tables, {cells} readings to fill in")


@click.group()
def layout() -> None:
    """What the cells of a foreign sheet mean, written once and used for every such file."""


@layout.command("try")
@click.argument("path", metavar="FILE", type=click.Path(path_type=Path))
@click.option(
    "--layout",
    "named",
    metavar="LAYOUT.toml",
    type=click.Path(path_type=Path),
    help="Try this one alone; else those in layouts/ beside the store, as qc ingest would.",
)
@click.option(
    "--write",
    "place",
    metavar="LAYOUT.toml",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write a first layout guessed from the file, for a person to complete.",
)
@shared
def try_(path: Path, named: Path | None, place: Path | None, **options: Any) -> None:
    """Show what each cell of a file would become; nothing is taken in.

    Exit code 1 when something would wait.
    """
    from qc.ingest import tried

    command = given(options)
    if place is not None:
        _write(place, tried.first_layout(path))
        return
    found = tried.tried(path, *_known(command, named))
    findings = [f.saw for f in found.findings]
    told = {"answer": "layout_try", "version": 1, "cells": list(found.cells), "findings": findings}
    if not command.told_as_json(told):
        from qc.cli import grids

        grids.show(found.cells)
        grids.waiting(found.cells)
        for finding in found.findings:
            click.echo(f"{finding.severity}: {finding.saw}")
            click.echo(f"    {finding.proposal}")
    waits(found.waits)


def _known(command: Given, named: Path | None) -> tuple[Any, Any, Any]:
    """The shop, the layouts that would be used, and the one that is to be tried alone."""
    from qc.errors import StoreMissing
    from qc.ingest import shelf, times
    from qc.ingest.line import Shop

    settings: dict[str, str] = {}
    try:
        with command.opened() as store:
            settings = store.settings()
    except StoreMissing:  # a layout can be tried before there is a store
        settings = {}
    shop = Shop(times.shop_zone(settings.get("zone")), settings.get("date_order"))
    only = None if named is None else shelf.read(named)
    return shop, () if named else shelf.layouts(command.store), only


def _write(place: Path, text: str) -> None:
    if place.exists():
        raise FileError(f"{place.name} is there already and is left alone: name another file")
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_text(text, encoding="utf-8", newline="\n")
    except OSError as fault:
        raise FileError(f"{place.name} cannot be written ({fault.strerror}): name another folder") from None
    click.echo(f"wrote {place}: complete the lines behind #, then qc layout try FILE --layout {place}")


COMMANDS = (sheet, layout)
