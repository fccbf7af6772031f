"""Tables of record only grow, in both back ends."""

import pytest
from sqlalchemy.exc import DBAPIError

from qc.store import tables
from tests.qc.store.given import fill


def test_what_is_recorded_can_neither_be_changed_nor_deleted(store):
    fill(store)
    for table in tables.OF_RECORD:
        before = _rows(store, table)
        assert before, table.name
        for change in _changes(store, table):
            with store.database.engine.connect() as raw, pytest.raises(DBAPIError, match="never changed"):
                raw.exec_driver_sql(change)
        assert _rows(store, table) == before


def _changes(store, table):
    column = next(c.name for c in table.columns if not c.primary_key)
    yield f'UPDATE "{table.name}" SET "{column}" = "{column}"'
    yield f'DELETE FROM "{table.name}"'
    if store.database.path is None:
        yield f'TRUNCATE "{table.name}" CASCADE'
    else:
        names = ", ".join(f'"{c.name}"' for c in table.columns)
        yield f'INSERT OR REPLACE INTO "{table.name}" ({names}) SELECT {names} FROM "{table.name}"'


def _rows(store, table):
    with store.database.reading() as connection:
        return sorted(map(repr, connection.execute(table.select())))
