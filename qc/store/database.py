"""The two back ends: connections, transactions, and the short way for many rows."""

import sqlite3
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

from sqlalchemy import (
    URL,
    BigInteger,
    Connection,
    Dialect,
    Double,
    Engine,
    LargeBinary,
    QueuePool,
    Table,
    create_engine,
    event,
    make_url,
)
from sqlalchemy.exc import ArgumentError

from qc.errors import StoreError, StoreMissing
from qc.store.refusals import refusals

PATIENCE_MS: Final = 30_000
# any fixed number: the lock that makes writers of one database take turns
_WRITERS: Final = 0x71635F73746F7265 % 2**62
_ABSENT: Final = "there is no store at {place}: name another with --store, or take files in with qc ingest"


class Database:
    """One store's connections.

    Parameters
    ----------
    place : str or Path
        A file's path, or a `postgresql://` URL.
    create : bool
        Whether a file that is not there may be made.

    Raises
    ------
    StoreMissing
        When nothing is there and `create` is false.
    StoreError
        When the place cannot be a store.
    """

    def __init__(self, place: str | Path, *, create: bool = False) -> None:
        text = str(place)
        self.path: Path | None = None
        if text.startswith(("postgresql://", "postgres://", "postgresql+psycopg://")):
            url = _server(text)
            self.place = url.set(drivername="postgresql").render_as_string(hide_password=True)
            self.engine = _postgresql(url)
        else:
            self.path = _file(text, create=create)
            self.place = str(self.path)
            self.engine = _sqlite(self.path, create=create)

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """One unchanging view of the store."""
        options: dict[str, Any] = {}
        if self.path is None:
            options = {"isolation_level": "REPEATABLE READ", "postgresql_readonly": True}
        with refusals(self.place), self.engine.connect() as raw:
            connection = raw.execution_options(**options)
            with connection.begin():
                yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """The only writing transaction there is: others wait until it has ended."""
        options: dict[str, Any] = {"writes": True}
        if self.path is None:
            options["isolation_level"] = "READ COMMITTED"
        with refusals(self.place), self.engine.connect() as raw:
            connection = raw.execution_options(**options)
            with connection.begin():
                if self.path is None:
                    # before anything is read, so that the number read next is the newest committed one
                    connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({_WRITERS})")
                yield connection

    def close(self) -> None:
        """Close all connections."""
        self.engine.dispose()


def add_many(connection: Connection, table: Table, names: Sequence[str], rows: Sequence[tuple]) -> None:
    """Insert many rows the short way: prepared statement on SQLite, COPY on PostgreSQL.

    Parameters
    ----------
    names : sequence of str
        Column of each item of a row.
    rows : sequence of tuple
        In the order of the primary key where speed matters.
    """
    if not rows:
        return
    if connection.dialect.name == "sqlite":
        statement, order = _prepared(table, tuple(names), connection.dialect)
        if order != list(range(len(names))):
            rows = [tuple(row[i] for i in order) for row in rows]
        connection.exec_driver_sql(statement, list(rows))
    else:
        _copy(connection, table, names, rows)


@lru_cache(maxsize=64)
def _prepared(table: Table, names: tuple[str, ...], dialect: Dialect) -> tuple[str, list[int]]:
    """Statement that inserts these columns, and the order in which it takes them."""
    statement = str(table.insert().compile(dialect=dialect, column_keys=list(names)))
    return statement, [names.index(column.name) for column in table.columns if column.name in names]


def _copy(connection: Connection, table: Table, names: Sequence[str], rows: Sequence[tuple]) -> None:
    from psycopg import Error, sql

    statement = sql.SQL("COPY {} ({}) FROM STDIN (FORMAT BINARY)").format(
        sql.Identifier(table.name), sql.SQL(", ").join(map(sql.Identifier, names))
    )
    driver: Any = connection.connection.driver_connection
    try:
        with driver.cursor() as cursor, cursor.copy(statement) as copy:
            copy.set_types([_postgresql_type(table, name) for name in names])
            for row in rows:
                copy.write_row(row)
    except Error as error:
        from sqlalchemy.exc import DBAPIError

        raise DBAPIError(str(statement), None, error) from error


def _postgresql_type(table: Table, name: str) -> str:
    kind = table.columns[name].type
    if isinstance(kind, BigInteger):
        return "int8"
    if isinstance(kind, LargeBinary):
        return "bytea"
    return "float8" if isinstance(kind, Double) else "text"


def _file(text: str, *, create: bool) -> Path:
    path = Path(text.removeprefix("sqlite:///")).expanduser().absolute()
    if "://" in text.removeprefix("sqlite:///"):
        raise StoreError(
            f"{text.split('://')[0]}:// is no kind of store: give a file's path or a postgresql:// address"
        )
    try:
        _must_fit(path, create=create)
    except PermissionError as error:
        raise StoreError(
            f"{path} cannot be opened: ask for the right to read and write in its folder"
        ) from error
    return path


def _must_fit(path: Path, *, create: bool) -> None:
    if path.is_dir():
        raise StoreError(f"{path} is a folder: name the store's file in it, such as {path / 'shop.db'}")
    if path.exists():
        return
    if not create:
        raise StoreMissing(_ABSENT.format(place=path))
    if not path.parent.is_dir():
        raise StoreError(f"the folder {path.parent} does not exist: create it, or name another place")


def _sqlite(path: Path, *, create: bool) -> Engine:
    address = path.as_uri() + ("?mode=rwc" if create else "?mode=rw")

    def connect() -> sqlite3.Connection:
        connection = sqlite3.connect(address, uri=True, timeout=PATIENCE_MS / 1000, check_same_thread=False)
        connection.isolation_level = None
        try:
            _prepare(connection)
        except BaseException:
            connection.close()
            raise
        return connection

    engine = create_engine(
        "sqlite+pysqlite://", creator=connect, poolclass=QueuePool, pool_size=8, max_overflow=24
    )

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        writes = connection.get_execution_options().get("writes")
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


def _prepare(connection: sqlite3.Connection) -> None:
    connection.execute(f"PRAGMA busy_timeout = {PATIENCE_MS}")
    _write_ahead(connection)
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("PRAGMA foreign_keys = ON")
    # a REPLACE deletes without firing triggers unless they are recursive
    connection.execute("PRAGMA recursive_triggers = ON")
    connection.execute("PRAGMA cache_size = -65536")


def _write_ahead(connection: sqlite3.Connection) -> None:
    """Switch to write-ahead logging; SQLite does not wait by itself when two programs do this at once."""
    for attempt in range(100):
        try:
            connection.execute("PRAGMA journal_mode = WAL")
        except sqlite3.OperationalError as error:
            if attempt == 99 or not error.sqlite_errorname.startswith("SQLITE_BUSY"):
                raise
            time.sleep(0.05)
        else:
            return


def _server(text: str) -> URL:
    try:
        url = make_url(text)
    except (ArgumentError, ValueError) as error:
        raise StoreError(
            "the store's address cannot be read: write it like postgresql://user@host/database"
        ) from error
    return url.set(drivername="postgresql+psycopg")


def _postgresql(url: URL) -> Engine:
    query = dict(url.query)
    told = query.pop("options", "")
    options = f"{told} -c lock_timeout={PATIENCE_MS} -c timezone=UTC".strip()
    return create_engine(
        url.set(query=query), connect_args={"options": options, "connect_timeout": 10}, pool_pre_ping=True,
        pool_size=8, max_overflow=24,
    )  # fmt: skip
