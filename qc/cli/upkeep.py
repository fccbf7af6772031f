"""Upkeep of the store: does it hold together, a copy of it, the copy put back."""

from pathlib import Path
from typing import Any

import click

from qc.cli.options import given, shared
from qc.cli.refusal import waits


@click.group()
def store() -> None:
    """Upkeep: check, backup, restore."""


@store.command("check")
@shared
def check(**options: Any) -> None:
    """Whether the store contradicts itself.

    Exit code 1 when it does.
    """
    from qc.store import upkeep

    command = given(options)
    with command.opened() as opened:
        troubles = list(upkeep.check(opened))
        revision = opened.revision()
    if command.json:
        from qc.export import json

        document = {"answer": "store_check", "version": 1, "revision": revision, "agree": not troubles,
                    "troubles": troubles}  # fmt: skip
        click.echo(json.text(document), nl=False)
    else:
        for trouble in troubles:
            click.echo(trouble)
        click.echo("The store agrees with itself." if not troubles else f"{len(troubles)} disagreements.")
    waits(bool(troubles))


@store.command("backup")
@click.argument("place", metavar="FILE", type=click.Path(dir_okay=False, path_type=Path))
@shared
def backup(place: Path, **options: Any) -> None:
    """A copy of the store as it stands, also while others write."""
    from qc.store import upkeep

    with given(options).opened() as opened:
        upkeep.backup(opened, place)
    click.echo(f"wrote {place}")


@store.command("restore")
@click.argument("place", metavar="FILE", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@shared
def restore(place: Path, **options: Any) -> None:
    """A copy put in the place of a store that is not there."""
    from qc.store import upkeep

    command = given(options)
    upkeep.restore(place, command.store)
    click.echo(f"restored {command.store}")


COMMANDS = (store,)
