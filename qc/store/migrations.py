"""Which schema a store has, and the steps that bring an older one up to date."""

from collections.abc import Callable
from typing import Final

from sqlalchemy import Connection, inspect, select

from qc.errors import StoreError, StoreMissing
from qc.store import tables

_FOREIGN: Final = "this database belongs to another program: name another place with --store"


def _kept(connection: Connection) -> None:
    """Make room for answers kept for speed."""
    tables.kept.create(connection)


def _choices_and_matters(connection: Connection) -> None:
    """Make room for what people chose for a series and for the life of a matter."""
    for kind in tables.SINCE_3:
        tables.REGISTERS[kind].create(connection)
    tables.guard(connection, tables.SINCE_3)


# from schema n to n + 1; the first released schema is 1
STEPS: dict[int, Callable[[Connection], None]] = {1: _kept, 2: _choices_and_matters}


def schema(connection: Connection) -> int | None:
    """Number of the schema there, None where no store is.

    Raises
    ------
    StoreError
        When something else than a store is there.
    """
    names = set(inspect(connection).get_table_names())
    if "meta" not in names:
        if names and (connection.dialect.name == "sqlite" or names & set(tables.metadata.tables)):
            raise StoreError(_FOREIGN)
        return None
    number = connection.scalar(select(tables.meta.c.value).where(tables.meta.c.name == "schema"))
    if number is None or not str(number).isdigit():
        raise StoreError(_FOREIGN)
    return int(number)


def create(connection: Connection) -> None:
    """Make an empty store of the newest schema."""
    tables.create(connection)
    connection.execute(tables.meta.insert(), [{"name": "schema", "value": str(tables.SCHEMA)}])


def must_be_opened(number: int | None, place: str) -> bool:
    """Whether a store of that schema needs bringing up to date first.

    Raises
    ------
    StoreMissing
        When no store is there.
    StoreError
        When it was written by a newer version.
    """
    if number is None:
        raise StoreMissing(f"there is no store at {place}: take files in with qc ingest, which makes it")
    if number > tables.SCHEMA:
        raise StoreError(
            f"this store was written by a newer version: update qc (it has schema {number}, this "
            f"program knows {tables.SCHEMA})"
        )
    return number < tables.SCHEMA


def bring_up(connection: Connection, number: int) -> None:
    """Take an older store to the newest schema, step by step, in the transaction of the connection.

    Raises
    ------
    StoreError
        When a step from that schema is not known.
    """
    for step in range(number, tables.SCHEMA):
        if step not in STEPS:
            raise StoreError(
                f"this store has schema {step}, which this version cannot read: use the qc that wrote it"
            )
        STEPS[step](connection)
        connection.execute(
            tables.meta.update().where(tables.meta.c.name == "schema").values(value=str(step + 1))
        )
