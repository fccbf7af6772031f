"""Upkeep: does the store agree with itself, backup, restore, copy.

A backup is always a store in one SQLite file, whatever it was taken from. Files of a store in use are never
read or copied past its connections: closing such a file drops the locks that keep writers apart.
"""

import os
import sqlite3
import tempfile
from pathlib import Path

from qc.errors import StoreDamaged, StoreError, StoreMissing
from qc.store import checks
from qc.store.database import Database
from qc.store.pages import closing, copy_pages, copy_rows, driver, remove, without_log
from qc.store.refusals import refusals
from qc.store.store import Store


def check(store: Store) -> list[tuple[str, bool, str]]:
    """Each check of the store: what, whether it holds, and what was found.

    Reads everything: the database's own integrity, references, ids, versions and arrival numbers without
    gaps, summaries against the readings, contents against their SHA-256.
    """
    with store.database.reading() as connection:
        return list(checks.checks(connection))


def backup(store: Store, path: str | Path) -> None:
    """Write a backup of the store as it stands to a new file, while others go on using it.

    Raises
    ------
    StoreError
        When the file exists, or cannot be written.
    """
    target = _free(path)
    part = target.with_name(f"{target.name}.{os.getpid()}.part")
    with refusals(str(target)):
        remove(part)
        try:
            if store.database.path is None:
                _copy_to_file(store.database, part)
            else:
                with driver(store.database) as source:
                    copy_pages(source, part)
            os.replace(part, target)
        except OSError as error:
            raise StoreError(f"{target} cannot be written ({error.strerror}): name another place") from error
        finally:
            remove(part)


def restore(backup: str | Path, place: str | Path) -> None:
    """Put a backup in a place where no store is, or an empty one; the backup is only read.

    Raises
    ------
    StoreError
        When the place holds revisions already, or the backup is none, or contradicts itself.
    """
    source = Path(backup).expanduser().absolute()
    if not source.is_file():
        raise StoreMissing(f"there is no backup at {source}: name the file that qc store backup wrote")
    with tempfile.TemporaryDirectory(prefix="qc-restore-") as folder, refusals(str(source)):
        work = Path(folder) / "backup.db"
        with closing(sqlite3.connect(source.as_uri() + "?mode=ro", uri=True)) as read:
            copy_pages(read, work)
        with Store.open(work) as restored:
            troubles = [f"{what}: {detail}" for what, holds, detail in check(restored) if not holds]
            if troubles:
                raise StoreDamaged(f"{source} contradicts itself ({troubles[0]}): restore an older backup")
            copy(restored, place)


def copy(store: Store, place: str | Path) -> int:
    """Copy a store to a place where none is, or an empty one; the back ends may differ.

    Ids, revisions and times stay; every row of the copy is compared. How many rows there are.

    Raises
    ------
    StoreError
        When the place holds revisions already.
    """
    if _same(store, place):
        raise StoreError(f"{store.place} is that store itself: name another place")
    with Store.open(place, create=True) as target:
        there = target.revision()
        if there > 0:
            raise StoreError(
                f"{target.place} holds {there} revisions and is not overwritten: name another place"
            )
        return copy_rows(store.database, target.database)


def _same(store: Store, place: str | Path) -> bool:
    if store.database.path is None:
        return str(place) == store.place
    path = Path(str(place).removeprefix("sqlite:///"))
    return path.exists() and path.samefile(store.database.path)


def _copy_to_file(database: Database, path: Path) -> None:
    with Store.open(path, create=True) as empty:
        copy_rows(database, empty.database)
    with closing(sqlite3.connect(path)) as written:
        without_log(written)


def _free(path: str | Path) -> Path:
    target = Path(path).expanduser().absolute()
    if target.exists():
        raise StoreError(f"{target} exists: a backup never overwrites, name another file")
    if not target.parent.is_dir():
        raise StoreError(f"the folder {target.parent} does not exist: create it, or name another place")
    return target
