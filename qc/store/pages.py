"""A store's pages and rows taken to another place, through its connections only."""

import os
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from itertools import zip_longest
from pathlib import Path
from typing import Any, Final

from sqlalchemy import Connection, Table, insert, inspect, select

from qc.errors import StoreDamaged
from qc.store import tables
from qc.store.database import Database, add_many

_AT_A_TIME: Final = 10_000


def copy_pages(source: sqlite3.Connection, path: Path) -> None:
    """Write all pages of a database to a new file that needs no log beside it."""
    with closing(sqlite3.connect(path)) as target:
        source.backup(target)
        without_log(target)


def without_log(written: sqlite3.Connection) -> None:
    """Leave one file without a log beside it, which can be read where nothing may be written."""
    written.execute("PRAGMA journal_mode = DELETE")


@contextmanager
def closing(connection: sqlite3.Connection) -> Iterator[sqlite3.Connection]:
    """Close a connection whatever happens."""
    try:
        yield connection
    finally:
        connection.close()


@contextmanager
def driver(database: Database) -> Iterator[sqlite3.Connection]:
    """The driver's own connection to a store in a file."""
    raw = database.engine.raw_connection()
    try:
        found: Any = raw.driver_connection
        yield found
    finally:
        raw.close()


def remove(*paths: Path) -> None:
    """Remove files that may not be there."""
    for path in paths:
        path.unlink(missing_ok=True)


def copy_rows(source: Database, target: Database) -> int:
    """All rows in the order of their references, in one transaction, then compared; how many there are.

    Raises
    ------
    StoreDamaged
        When a row of the copy is not that of the source.
    """
    with source.reading() as read:
        with target.writing() as write:
            _rows(read, write, tables.metadata.sorted_tables)
        with target.reading() as there:
            return sum(_equal(read, there, table) for table in tables.metadata.sorted_tables)


def _equal(read: Connection, there: Connection, table: Table) -> int:
    """Number of rows of a table that is equal in both."""
    statement = select(table).order_by(*table.primary_key.columns)
    both = [c.execution_options(yield_per=_AT_A_TIME).execute(statement) for c in (read, there)]
    count = 0
    for mine, copied in zip_longest(*both):
        if mine is None or copied is None or tuple(mine) != tuple(copied):
            raise StoreDamaged(
                f"the copy is not equal to the store ({table.name}, row {count + 1}): "
                "remove it and copy again"
            )
        count += 1
    return count


def _rows(read: Connection, write: Connection, some_tables: Sequence[Table]) -> None:
    for table in some_tables:
        if table is tables.meta:
            continue
        names = [column.name for column in table.columns]
        rows = read.execution_options(yield_per=_AT_A_TIME).execute(
            select(table).order_by(*table.primary_key.columns)
        )
        for some in rows.partitions():
            add_many(write, table, names, [tuple(row) for row in some])
    told = {row.name: row.value for row in read.execute(select(tables.meta))}
    there = set(write.scalars(select(tables.meta.c.name)))
    missing = [{"name": name, "value": value} for name, value in told.items() if name not in there]
    if missing:
        write.execute(insert(tables.meta), missing)


def copy_as_it_is(database: Database, path: Path) -> None:
    """Write a store of an older schema, as it stands, to a new SQLite file of that schema."""
    part = path.with_name(f"{path.name}.{os.getpid()}.part")
    remove(part)
    try:
        if database.path is not None:
            with driver(database) as source:
                copy_pages(source, part)
        else:
            _older_rows(database, part)
        os.replace(part, path)
    finally:
        remove(part)


def _older_rows(database: Database, path: Path) -> None:
    target = Database(path, create=True)
    try:
        with database.reading() as read, target.writing() as write:
            there = set(inspect(read).get_table_names())
            mine = [t for t in tables.metadata.sorted_tables if t.name in there]
            tables.metadata.create_all(write, tables=mine)
            tables.guard(write, [t.name for t in mine if t not in tables.DERIVED])
            _rows(read, write, mine)
    finally:
        target.close()
    with closing(sqlite3.connect(path)) as written:
        without_log(written)
