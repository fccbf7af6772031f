"""The audit pack, and its recomputation from the pack alone."""

from pathlib import Path
from typing import Any

import click

from qc.cli.options import asks, given
from qc.cli.refusal import waits


@click.command()
@click.argument("place", metavar="OUT.zip", type=click.Path(dir_okay=False, path_type=Path))
@asks
def audit(place: Path, **options: Any) -> None:
    """Everything an auditor needs: answers, readings, limits, gauges, source files, and how to recompute."""
    from qc.export import pack

    command = given(options)
    with command.opened() as store:
        packed = pack.write_to(store, command.question(store), place)
    if not command.told_as_json(packed):
        click.echo(f"wrote {place}: {packed['entries']} files, revision {packed['revision']}")
        click.echo(f"SHA-256 of its manifest {packed['manifest']}: print it with the report")
        click.echo(f"Anyone can recompute it: qc verify {place.name}")


@click.command()
@click.argument("place", metavar="OUT.zip", type=click.Path(dir_okay=False, path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="One JSON document on stdout, nothing else there.")
def verify(place: Path, as_json: bool) -> None:
    """Recompute an audit pack from the pack alone, without a store.

    Exit code 1 when something disagrees.
    """
    from qc.export import verify as check

    document = check.answer(place)
    wrong = [one for one in document["checks"] if not one["agrees"]]
    if as_json:
        from qc.export import json

        click.echo(json.text(document), nl=False)
    else:
        for one in wrong[:40]:
            click.echo(f"{one['file']}: {one['what']}: expected {one['expected']}, found {one['found']}")
        if len(wrong) > 40:
            click.echo(f"and {len(wrong) - 40} more: see --json")
        agreed = len(document["checks"]) - len(wrong)
        verdict = "The pack agrees with itself." if not wrong else f"{len(wrong)} disagree."
        click.echo(f"{agreed} checks agree. {verdict}")
    waits(bool(wrong))


COMMANDS = (audit, verify)
