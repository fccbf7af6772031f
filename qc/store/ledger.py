"""One revision while it is being written: its number, its time, and the next number of every table."""

import time
from collections.abc import Mapping, Sequence
from functools import cache
from typing import Any, Final

from sqlalchemy import Connection, Select, Table, func, select

from qc.store import tables
from qc.store.database import add_many
from qc.store.nouns import clean


@cache
def _highest(table: Table, key: str) -> Select:
    return select(func.max(table.c[key]))


_LAST: Final = (
    select(tables.revision.c.number, tables.revision.c.at).order_by(tables.revision.c.number.desc()).limit(1)
)


class Ledger:
    """What every write needs: the connection that holds the writers' lock, and the revision.

    The revision's row is written with the first row that belongs to it, so that a write which finds nothing
    to do leaves no trace.
    """

    def __init__(self, connection: Connection, *, by: str, command: str, reason: str | None) -> None:
        last = connection.execute(_LAST).one_or_none()
        number, at = (last.number, last.at) if last else (0, 0)
        self.connection = connection
        self.revision: int = number + 1
        # a clock set back must not turn the order of revisions round
        self.at: int = max(time.time_ns() // 1000, at)
        self.reason = clean(reason)
        self._told = {"by": clean(by), "command": clean(command), "reason": self.reason}
        self.touched = False

    def touch(self) -> None:
        """Write the revision's row unless it stands already."""
        if not self.touched:
            self.connection.execute(
                tables.revision.insert(), {"number": self.revision, "at": self.at, **self._told}
            )
            self.touched = True

    def following(self, table: Table, key: str = "id") -> int:
        """Next number of a table whose rows are counted 1, 2, ..."""
        return int(self.connection.scalar(_highest(table, key)) or 0) + 1

    def add(self, table: Table, rows: Sequence[Mapping[str, Any]]) -> None:
        """Add a few rows of this revision."""
        if rows:
            self.touch()
            self.connection.execute(table.insert(), [{**row, "revision": self.revision} for row in rows])

    def add_many(self, table: Table, names: Sequence[str], rows: Sequence[tuple]) -> None:
        """Add many rows, which need not carry the revision themselves."""
        if rows:
            self.touch()
            add_many(self.connection, table, names, rows)
