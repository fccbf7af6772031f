"""The one way in: files and folders into the store, one transaction a file, all of a file or nothing."""

from collections.abc import Callable, Sequence
from pathlib import Path

from qc.ingest import shelf, sources
from qc.ingest.desk import Desk
from qc.ingest.results import FileResult, Ingested
from qc.store import Store

__all__ = ["FileResult", "Ingested", "ingest"]


def ingest(
    store: Store,
    paths: Sequence[str | Path],
    *,
    by: str,
    progress: Callable[..., None] | None = None,
    command: str = "ingest",
    layouts: Sequence[str | Path] = (),
) -> Ingested:
    """Take files and folders in.

    Parameters
    ----------
    store : Store
    paths : sequence of path
        Folders with all that is in them, in order of name; builds, specifications, events and other
        records before
        readings, which are judged by them.
    by, command : str
        Who takes them in, and by which command: kept with each revision.
    layouts : sequence of path
        Layout files that say what the cells of foreign sheets mean, besides those in the folder `layouts`
        beside the store.
    progress : callable, optional
        Called after each file with its number ("3 of 12") and its name.

    Raises
    ------
    FileError
        When there is no file at all.
    StoreError
        When the store refuses; files told of before are kept.
    """
    files = sources.found([Path(p) for p in paths], store.place)
    if len(files) > 1:
        files.sort(key=lambda one: sources.precedence(one.path, one.name))
    known = shelf.layouts(store.place, [Path(p) for p in layouts])
    desk = Desk(store, by=by, command=command, layouts=known)
    results: list[FileResult] = []
    for result in desk.take(files):
        results.append(result)
        if progress is not None:
            progress(f"{len(results)} of {len(files)}", result.file)
    return Ingested(results)
