"""The commands by which files come in, and the empty ones that go out."""

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
@click.option(
    "--every", type=click.FloatRange(0.1, 3600), default=_LOOK_AGAIN, show_default=True, metavar="SECONDS",
    help="With --watch: how often to look.",
)
@shared
def ingest(
    paths: tuple[Path, ...], watch: bool, layouts: tuple[Path, ...], no_judge: bool, every: float,
    **options: Any,
) -> None:
    """Files and folders into the store; what is doubted waits for a person, what changed is told.

    Exit code 1 when something is held.
    """
    command = given(options)
    missing = [str(path) for path in paths if not path.exists()]
    if len(missing) == len(paths):
        raise FileError(f"nothing stands at {', '.join(missing)}: name a file or a folder that is there")
    if watch:
        _watched(command, paths, layouts, every, judge=not no_judge)
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


def report(taken: tuple["Ingested", dict[str, Any]], command: Given, at: str = "") -> dict[str, Any]:
    """Tell what became of each file; `at` before each line, in a log."""
    result, head = taken
    names = ("changed", "notices", "not_given")
    changed: dict[str, Any] = {name: head.pop(name) for name in names if name in head}
    document = {**head, "files": [one.document() for one in result.files], **changed}
    if command.told_as_json(document):
        return document
    from qc.cli.printed import said

    for one in document["files"]:
        click.echo(f"{at} {_line(one)}".strip())
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


def _watched(
    command: Given, paths: Sequence[Path], layouts: Sequence[Path], every: float, *, judge: bool
) -> None:
    from qc.cli import watching

    def take(ready: list[Path]) -> dict[str, Any]:
        taken = taken_in(command, ready, "ingest --watch", layouts, judge=judge)
        return report(taken, command, watching.now())

    watching.watch(command, paths, layouts, every, take)


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
