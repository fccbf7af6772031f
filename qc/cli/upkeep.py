"""Upkeep of the store: does it hold together, a copy of it, the copy put back."""

from pathlib import Path
from typing import Any

import click

from qc.cli.options import given, shared
from qc.cli.refusal import waits


@click.group()
def store() -> None:
    """Upkeep: check, backup, restore, copy."""


@store.command("check")
@shared
def check(**options: Any) -> None:
    """Whether the store contradicts itself.

    Exit code 1 when it does.
    """
    from qc.store import upkeep

    command = given(options)
    with command.opened() as opened:
        found = upkeep.check(opened)
        revision = opened.revision()
    wrong = [(what, said) for what, holds, said in found if not holds]
    rows = [{"what": what, "agrees": holds, "found": said} for what, holds, said in found]
    document = {
        "answer": "store_check",
        "version": 1,
        "revision": revision,
        "agree": not wrong,
        "checks": rows,
    }
    if not command.told_as_json(document):
        for what, said in wrong:
            click.echo(f"{what}: {said}")
        verdict = "The store agrees with itself." if not wrong else f"{len(wrong)} disagree."
        click.echo(f"{len(found) - len(wrong)} checks agree. {verdict}")
    waits(bool(wrong))


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


@store.command("copy")
@click.argument("place", metavar="PATH|URL")
@shared
def copy(place: str, **options: Any) -> None:
    """The whole store to another place, from a file to a server or back."""
    from qc.store import upkeep

    with given(options).opened() as opened:
        rows = upkeep.copy(opened, place)
        told = opened.counts()
    click.echo(
        f"copied and compared: {told['readings']} readings, {told['revision']} revisions, "
        f"all {rows} rows are equal"
    )


COMMANDS = (store,)
