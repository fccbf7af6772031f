"""What a driver says, as one sentence with its cure."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

from sqlalchemy.exc import DBAPIError, SQLAlchemyError
from sqlalchemy.exc import TimeoutError as PoolTimeout

from qc.errors import StoreBusy, StoreDamaged, StoreError, StoreMissing

_BUSY: Final = "another program holds {place}: wait until it is done, then try again"
_FULL: Final = "the disk of {place} is full and nothing was written: make room, then try again"
_DAMAGED: Final = "{place} is damaged: run qc store check, then restore the last backup"
# what the driver's code begins with, the kind of refusal, its sentence
_SQLITE: Final[tuple[tuple[str, type[StoreError], str], ...]] = (
    ("SQLITE_BUSY", StoreBusy, _BUSY),
    ("SQLITE_LOCKED", StoreBusy, _BUSY),
    ("SQLITE_FULL", StoreError, _FULL),
    ("SQLITE_READONLY", StoreError, "{place} cannot be written: allow writing to the file and its folder"),
    (
        "SQLITE_CANTOPEN",
        StoreError,
        "{place} cannot be opened: check the folder and the right to write there",
    ),
    ("SQLITE_PERM", StoreError, "{place} cannot be opened: allow reading and writing of the file"),
    ("SQLITE_NOTADB", StoreError, "{place} is not a store: name another file with --store"),
    ("SQLITE_CORRUPT", StoreDamaged, _DAMAGED),
    ("SQLITE_IOERR", StoreError, "the disk of {place} reports an error: check it, then run qc store check"),
)
_POSTGRESQL: Final[tuple[tuple[str, type[StoreError], str], ...]] = (
    ("55P03", StoreBusy, _BUSY),
    ("40", StoreBusy, "another program wrote to {place} at the same time: try again"),
    ("57", StoreBusy, "{place} broke off or is shutting down: try again later"),
    ("3D000", StoreMissing, "there is no database at {place}: create it (createdb), or correct the address"),
    ("28", StoreError, "{place} refuses the name or the password: correct them in the address"),
    ("531", StoreError, _FULL),
    ("533", StoreBusy, "{place} has no connection left: wait, or allow more of them"),
    ("25006", StoreError, "{place} is a read-only copy: name the main server"),
    ("42501", StoreError, "{place} does not let you do this: ask its owner for the right to read and write"),
    ("XX", StoreDamaged, _DAMAGED),
    ("08", StoreError, "{place} cannot be reached: check that the server runs and the address is right"),
)


@contextmanager
def refusals(place: str) -> Iterator[None]:
    """Turn the driver's errors inside the block into a StoreError with the cure.

    Parameters
    ----------
    place : str
        The store as the person knows it, without a password.

    Raises
    ------
    StoreError
        Or one of its kinds, for whatever the driver reports.
    """
    try:
        yield
    except DBAPIError as error:
        raise sentence(error.orig or error, place) from error
    except PoolTimeout as error:
        raise StoreBusy(f"too many questions are put to {place} at once: try again") from error
    except SQLAlchemyError as error:
        raise StoreError(f"{place} cannot be used ({_first_line(error)}): check its address") from error
    except sqlite3.Error as error:
        raise sentence(error, place) from error


def sentence(error: BaseException, place: str) -> StoreError:
    """Refusal that fits a driver's error."""
    code = getattr(error, "sqlite_errorname", None)
    rules = _SQLITE
    if code is None:
        code = getattr(error, "sqlstate", None)
        rules = _POSTGRESQL
        if code is None and type(error).__name__ == "OperationalError":
            code = _unreached(str(error))
    for start, kind, text in rules:
        if str(code).startswith(start):
            return kind(text.format(place=place))
    return StoreError(f"{place} refuses: {_first_line(error)}")


def _unreached(text: str) -> str:
    """State of a connection that failed before the server gave one."""
    if "does not exist" in text and "database" in text:
        return "3D000"
    if "password" in text or "authentication" in text or "role" in text:
        return "28000"
    return "08006"


def _first_line(error: BaseException) -> str:
    return (str(error).strip().splitlines() or [type(error).__name__])[0]
