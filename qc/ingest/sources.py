"""Files and folders to the content of files, and which reader reads it."""

import hashlib
import os
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType
from typing import Final

from qc.errors import FileError
from qc.ingest import delimited, fixed_width, json_lines, parquet, qif, trace_sdf, trace_x3p, workbook
from qc.ingest.grid import Grid
from qc.ingest.kinds import kind_of
from qc.ingest.rows import tables

LARGEST: Final = 50_000_000
READERS: Final[tuple[ModuleType, ...]] = (workbook, parquet, json_lines, qif, fixed_width, delimited)
_HEAD: Final = 65_536
_SAID: Final = (
    (b"%PDF", "a PDF, which holds a picture of figures and no figures"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"GIF8", "a picture"),
    (b"\xd0\xcf\x11\xe0", "an old workbook (XLS) or another office document of that age"),
    (b"SQLite format 3", "a database"),
    (b"<?xml", "an XML document, but no results in QIF (ISO 23952)"),
    (b"\xef\xbb\xbf<?xml", "an XML document, but no results in QIF (ISO 23952)"),
)


@dataclass(frozen=True, slots=True)
class Found:
    """A file to be taken in: where it is, and its name as told to people."""

    path: Path
    name: str


def _hidden_name(name: str) -> bool:
    return name.startswith((".", "~$"))


def of_store(place: str) -> frozenset[Path]:
    """Files of a store kept in a file and the folder of its backups, which are never taken in.

    Reading them plainly in the process that writes the store would drop its locks.
    """
    if "://" in place:
        return frozenset()
    path = Path(place).absolute()
    endings = ("", "-wal", "-shm", "-journal")
    backups = path.with_name(f"{path.stem}-backups")
    return frozenset(path.with_name(path.name + e) for e in endings) | {backups}


def found(paths: Sequence[Path], store: str | None = None) -> list[Found]:
    """Every file at these paths, folders with all that is in them, in order of name; each once.

    The files of the store itself (`store`: its place) are passed over.

    Raises
    ------
    FileError
        When there is no file at all.
    """
    listed: dict[Path, Found] = {}
    own = of_store(store) if store else frozenset()
    for path in paths:
        for one in _under(path) if path.is_dir() else [Found(path, path.name)]:
            place = one.path.absolute()
            if place not in own and not own.intersection(place.parents):
                listed.setdefault(one.path.absolute(), one)
    if not listed:
        raise FileError(
            f"there is no file in {', '.join(p.name or str(p) for p in paths)}: name a file or a folder"
        )
    return list(listed.values())


def _under(folder: Path) -> Iterator[Found]:
    places = []
    for root, folders, names in os.walk(folder):
        folders[:] = [f for f in folders if not _hidden_name(f)]
        # layouts say what files mean and are none themselves
        places += [Path(root, n) for n in names if not _hidden_name(n) and not n.endswith(".toml")]
    for place in sorted(places, key=lambda p: p.relative_to(folder).parts):
        yield Found(place, place.relative_to(folder).as_posix())


def batches(files: Sequence[Found], most: int, most_bytes: int) -> Iterator[list[Found]]:
    """Yield the files in order, some at a time: at most so many, and not much more bytes than that."""
    some: list[Found] = []
    size = 0
    for one in files:
        some.append(one)
        with suppress(OSError):
            size += one.path.stat().st_size
        if len(some) >= most or size > most_bytes:
            yield some
            some, size = [], 0
    if some:
        yield some


def content(path: Path) -> bytes:
    """Content of a file.

    Raises
    ------
    FileError
        When it is not there, may not be read, is held by another program, or is too large.
    """
    try:
        size = path.stat().st_size
        if size > LARGEST:
            raise FileError(
                f"it has {size // 1_000_000} MB; at most {LARGEST // 1_000_000} MB are read: split it"
            )
        data = path.read_bytes()
        if path.stat().st_size != len(data):
            raise FileError("it is still being written: wait until it is whole and take it in again")
        return data
    except FileNotFoundError:
        raise FileError("there is no such file: check the name, or whether it was moved") from None
    except IsADirectoryError:
        raise FileError("it is a folder inside a list of files: name it alone") from None
    except PermissionError:
        raise FileError(
            "it may not be read: close it in the other program and try again, or allow reading"
        ) from None
    except OSError as fault:
        raise FileError(
            f"it cannot be read ({fault.strerror or fault}): close it in the other program and try again"
        ) from None


def sha256(data: bytes) -> str:
    """SHA-256 of a file's content, hex."""
    return hashlib.sha256(data).hexdigest()


def grids(data: bytes, name: str) -> list[Grid]:
    """Cells of a file by the reader that claims it.

    Raises
    ------
    FileError
        When no reader does, or the one that does cannot read it.
    """
    if not data.strip(b"\x00 \t\r\n"):
        raise FileError("the file is empty: nothing to read")
    for reader in READERS:
        if reader.claims(data[:_HEAD], name):
            cells: list[Grid] = reader.cells(data)
            return cells
    what = next((said for mark, said in _SAID if data.startswith(mark)), "none of the kinds we read")
    raise FileError(
        f"this is {what}: save the figures as CSV or XLSX with a header we know (see qc template)"
    )


def precedence(path: Path, name: str) -> int:
    """0 for a file of records only (builds, specifications, events, ...), 1 for a mixed one, 2 for
    readings or none.

    Readings are judged by specifications and builds, so these come first within one call.
    """
    try:
        data = content(path)
        if any(reader.claims(data, name) for reader in (trace_sdf, trace_x3p)):
            return 2
        rows_of_text = next((r for r in READERS if r.claims(data[:_HEAD], name)), None) is delimited
        kinds = _text_kinds(data) if rows_of_text else _kinds(data, name)
    except FileError:
        return 2
    if "readings" not in kinds:
        return 0 if kinds else 2
    return 1 if len(kinds) > 1 else 2


def _text_kinds(data: bytes) -> set[str]:
    return {k for k in map(kind_of, delimited.first_rows(data)) if k is not None}


def _kinds(data: bytes, name: str) -> set[str]:
    found_tables, _ = tables(grids(data, name))
    return {t.kind for t in found_tables}
