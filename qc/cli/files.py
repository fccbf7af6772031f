"""The commands by which files come in, and the empty ones that go out."""

import time
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from qc.cli.options import Given, given, shared, zone
from qc.cli.refusal import waits
from qc.errors import FileError

if TYPE_CHECKING:
    from qc.ingest.run import Ingested
    from qc.notify.after import Watch
    from qc.store import Store

WAITING: Final = ("part_held", "held")
_LOOK_AGAIN: Final = 5.0  # seconds between two looks at a watched folder


@click.command()
@click.argument("paths", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--watch", is_flag=True, help="Keep watching the folders and take in what appears there.")
@click.option(
    "--layout",
    "layouts",
    multiple=True,
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="A layout of foreign sheets, besides those in layouts/ beside the store (repeatable).",
)
@click.option(
    "--no-judge", is_flag=True, help="Only take in: do not work out what changed, send no notices."
)
@shared
def ingest(
    paths: tuple[Path, ...], watch: bool, layouts: tuple[Path, ...], no_judge: bool, **options: Any
) -> None:
    """Files and folders into the store; what is doubted waits for a person, what changed is told.

    Exit code 1 when something is held.
    """
    command = given(options)
    missing = [str(path) for path in paths if not path.exists()]
    if len(missing) == len(paths):
        raise FileError(f"nothing stands at {', '.join(missing)}: name a file or a folder that is there")
    if watch:
        _watched(command, paths, layouts, judge=not no_judge)
        return
    document = report(taken_in(command, paths, "ingest", layouts, judge=not no_judge), command)
    waits(any(one["status"] in WAITING for one in document["files"]))


def taken_in(
    command: Given, paths: Sequence[Path], name: str, layouts: Sequence[Path] = (), *, judge: bool = False
) -> tuple["Ingested", dict[str, Any]]:
    """Take files in; the result and the head of its document, with what changed where that is judged."""
    from qc.ingest.run import ingest as take

    with command.opened(create=True) as store:
        watch = _watch(store, command) if judge else None
        taken = take(
            store, list(paths), by=command.by, progress=_progress, command=name, layouts=list(layouts)
        )
        told: dict[str, Any] = watch.told() if watch is not None else {}
        head = {
            "answer": "ingest", "version": 1, "revision": store.revision(),
            "asked": {"paths": [str(path) for path in paths]}, "zone": zone(store), "cautions": [],
            **told,
        }  # fmt: skip
    return taken, head


def _watch(store: "Store", command: Given) -> "Watch":
    from qc.notify.after import Watch

    return Watch(store, by=command.by)


def report(taken: tuple["Ingested", dict[str, Any]], command: Given) -> dict[str, Any]:
    """Tell what became of each file."""
    result, head = taken
    names = ("changed", "notices", "not_given")
    changed: dict[str, Any] = {name: head.pop(name) for name in names if name in head}
    document = {**head, "files": [one.document() for one in result.files], **changed}
    if command.json:
        from qc.export import json

        click.echo(json.text(document), nl=False)
        return document
    from qc.cli.printed import said

    for one in document["files"]:
        click.echo(_line(one))
        for finding in one["findings"]:
            if finding["severity"] != "note" and not finding["decided"]:
                said(f"{finding['severity']} {finding['id']}: {finding['saw']} {finding['doubt']}", "    ")
    held = sum(one["held"] for one in document["files"])
    if held:
        click.echo(f"{held} {'row waits' if held == 1 else 'rows wait'} for you: see qc held")
    from qc.cli import judged

    judged.printed(document)
    return document


def _line(one: dict[str, Any]) -> str:
    parts = [f"{one['kept']} kept"]
    parts += [
        f"{one[key]} {words}"
        for key, words in (("held", "held"), ("already_kept", "already kept"))
        if one[key]
    ]
    notes = sum(finding["severity"] == "note" for finding in one["findings"])
    parts += [f"{notes} {'note' if notes == 1 else 'notes'}"] if notes else []
    kind = one["kind"] or "no known kind"
    return f"{one['file']}: {one['status'].replace('_', ' ')}, {kind}, {', '.join(parts)}"


def _progress(*told: Any) -> None:
    click.echo("  " + " ".join(str(part) for part in told), err=True)


def _watched(command: Given, paths: Sequence[Path], layouts: Sequence[Path], *, judge: bool) -> None:
    seen: dict[Path, tuple[int, int]] = {}
    done: dict[Path, tuple[int, int]] = {}
    click.echo("watching; stop with Ctrl+C", err=True)
    while True:
        now = {path: (s.st_size, s.st_mtime_ns) for path in _files(paths) if (s := path.stat())}
        # a file still being written changes between two looks: it is taken when it has come to rest
        ready = [path for path, state in now.items() if seen.get(path) == state and done.get(path) != state]
        if ready:
            report(taken_in(command, ready, "ingest --watch", layouts, judge=judge), command)
            done |= {path: now[path] for path in ready}
        seen = now
        time.sleep(_LOOK_AGAIN)


def _files(paths: Sequence[Path]) -> list[Path]:
    found = [p for path in paths for p in (sorted(path.rglob("*")) if path.is_dir() else [path])]
    return [path for path in found if path.is_file() and not path.name.startswith((".", "~"))
            and path.suffix != ".toml"]  # fmt: skip


@click.command()
@click.argument("kind")
@click.argument("place", metavar="FILE", type=click.Path(dir_okay=False, path_type=Path))
def template(kind: str, place: Path) -> None:
    """Write an empty file with header, lists and explanations.

    KIND is readings, specifications, events, gauges, builds, plan or machines.
    """
    from qc.ingest import template as empty

    empty.write(kind, place)
    click.echo(f"wrote {place}")


COMMANDS = (ingest, template)
