"""Where layouts are kept: the folder `layouts` beside the store, and files named in a command."""

from collections.abc import Sequence
from pathlib import Path
from typing import Final

from qc.errors import FileError
from qc.ingest.addresses import Cells
from qc.ingest.layout import Layout, layout

FOLDER: Final = "layouts"


def folder(store: str) -> Path:
    """Folder of the layouts of a store: beside its file, for a database server here."""
    return Path(FOLDER) if "://" in store else Path(store).resolve().parent / FOLDER


def layouts(store: str, named: Sequence[Path] = ()) -> tuple[Layout, ...]:
    """Layouts named in a command, then those of the store's folder.

    Raises
    ------
    FileError
        When one cannot be read.
    """
    place = folder(store)
    kept = sorted(place.glob("*.toml")) if place.is_dir() else []
    paths = list(dict.fromkeys([*(p.resolve() for p in named), *(p.resolve() for p in kept)]))
    return tuple(read(path) for path in paths)


def read(path: Path) -> Layout:
    """The layout in a file.

    Raises
    ------
    FileError
        When it is not there or is no layout.
    """
    try:
        data = path.read_bytes()
    except OSError as fault:
        raise FileError(f"the layout {path.name} cannot be read ({fault.strerror}): check its name") from None
    return layout(path.name, data)


def fitting(shelf: Sequence[Layout], name: str, cells: Cells) -> tuple[list[Layout], list[str]]:
    """Layouts that fit a tab of a file, and why those for such files that do not fit do not."""
    fit, why = [], []
    for one in shelf:
        if one.traces or not one.for_file(name):
            continue
        unlike = one.unlike(cells)
        if unlike is None:
            fit.append(one)
        elif unlike:
            why.append(f"{one.name}: {unlike}")
    return fit, why
