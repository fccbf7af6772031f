"""Sheets that go out to the bench and come back filled in."""

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

import click

from qc.cli.options import Command, given, shared

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


COMMANDS = (sheet,)
