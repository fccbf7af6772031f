"""Watching folders: what comes to rest there is taken in, and told in a line a file."""

import time
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from qc.cli.options import Given
from qc.errors import QcError

if TYPE_CHECKING:
    from qc.ingest.watch import Watched

Take = Callable[[list[Path]], dict[str, Any]]


def now() -> str:
    """The time of a line in the log, in the machine's zone."""
    return datetime.now(UTC).astimezone().isoformat(timespec="seconds")


def watch(command: Given, paths: Sequence[Path], layouts: Sequence[Path], every: float, take: Take) -> None:
    """Look at folders again and again until somebody stops it.

    Parameters
    ----------
    every : float
        Seconds between two looks.
    take : callable
        Takes files in and tells of each; its document.
    """
    from qc.ingest.watch import Watched

    with command.opened(create=True) as store:
        files = store.files()
        known = frozenset(files[files["status"] != "held"]["sha256"])
    watched = Watched(paths, command.store, known, layouts)
    click.echo("watching; stop with Ctrl+C", err=True)
    while True:
        _look(watched, take)
        time.sleep(every)


def _look(watched: "Watched", take: Take) -> None:
    before = watched.before
    ready, troubles = watched.troubles(watched.ready())
    if watched.before > before:
        many = watched.before - before
        click.echo(f"{now()} {many} file{'s' if many > 1 else ''} taken in before, left alone")
    for path, why in troubles:
        click.echo(f"{now()} {path.name}: stays where it is, {why}")
    if not ready:
        return
    try:
        document = take(ready)
    except QcError as fault:  # the store may be busy or away: the files are still there at the next look
        click.echo(f"{now()} {', '.join(p.name for p in ready[:3])}: not taken in, {fault}")
        return
    for path, one in _results(ready, document):
        if one["sha256"] is not None:
            watched.taken(path, waits=one["status"] in ("held", "part_held"))


def _results(ready: Sequence[Path], document: dict[str, Any]) -> list[tuple[Path, dict[str, Any]]]:
    """Each file with what became of it: files of one name in different folders share the worst."""
    by_name: dict[str, list[dict[str, Any]]] = {}
    for one in document["files"]:
        by_name.setdefault(one["file"], []).append(one)
    found = []
    for path in ready:
        mine = by_name.get(path.name, [])
        worst = next((one for one in mine if one["sha256"] is None), mine[0] if mine else None)
        if worst is not None:
            found.append((path, worst))
    return found
