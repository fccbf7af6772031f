"""Dated backups that nobody has to think of: once a day before the first write, and before a migration."""

import os
import re
from collections.abc import Callable
from datetime import date, datetime
from hashlib import blake2b
from pathlib import Path
from typing import TYPE_CHECKING, Final

from qc.errors import StoreError
from qc.store.database import Database
from qc.store.pages import copy_as_it_is

if TYPE_CHECKING:
    from qc.store.store import Store

KEPT: Final = 14  # of the daily ones, and of those before migrations
FOLDER: Final = "QC_BACKUPS"  # environment variable that names another folder
_DAY: Final = r"\d{4}-\d{2}-\d{2}"


def today() -> date:
    """The day on the clock of this machine."""
    return datetime.now().astimezone().date()


def folder(database: Database) -> Path:
    """Where the dated backups of a store stand.

    The folder that the environment names, else one beside the store's file; of a server's database one in the
    user's folder for data.
    """
    named = os.environ.get(FOLDER, "").strip()
    if named:
        return Path(named).expanduser().absolute()
    if database.path is not None:
        return database.path.with_name(f"{database.path.stem}-backups").absolute()
    data = os.environ.get("XDG_DATA_HOME", "").strip()
    return (Path(data) if data else Path.home() / ".local" / "share") / "qc" / "backups"


def stem(database: Database) -> str:
    """Beginning of the names of a store's backups: its file's name, or its server's and database's.

    In a folder that several stores may share, a digest of the place tells them apart.
    """
    if database.path is not None:
        name, shared = database.path.stem, bool(os.environ.get(FOLDER, "").strip())
        place = str(database.path.absolute()).encode()
        return f"{name}-{blake2b(place, digest_size=4).hexdigest()}" if shared else name
    url = database.engine.url
    more = "".join(f"-{value}" for value in url.query.values())  # a schema of its own has backups of its own
    return re.sub(r"[^\w.-]+", "_", f"{url.host or 'local'}-{url.database or 'shop'}{more}")


class Daily:
    """Makes the day's backup before the first write of a day, and keeps the last of them.

    Parameters
    ----------
    tell : callable
        Gets one sentence when a backup cannot be written; the work goes on.
    day : callable
        What day it is.
    """

    def __init__(self, tell: Callable[[str], None], day: Callable[[], date] = today) -> None:
        self._tell, self._day = tell, day
        self._done: date | None = None

    def __call__(self, store: "Store") -> None:
        """Back the store up as it stands, unless that was done today or nothing is in it."""
        day = self._day()
        if day == self._done:
            return
        self._done = day
        try:
            backup_of(store, day)
        except (StoreError, OSError) as fault:
            self._tell(
                f"today's backup could not be written ({fault}): make room, or name a folder in {FOLDER}"
            )


def backup_of(store: "Store", day: date) -> Path | None:
    """The backup of that day, made when it is not there and the store holds anything; None otherwise.

    Raises
    ------
    StoreError
        When it cannot be written.
    """
    from qc.store import upkeep

    place = folder(store.database)
    name = stem(store.database)
    target = place / f"{name}-{day.isoformat()}.db"
    if target.exists() or store.revision() == 0:
        return None
    place.mkdir(parents=True, exist_ok=True)
    upkeep.backup(store, target)
    _keep_the_last(place, rf"{re.escape(name)}-{_DAY}\.db", target)
    return target


def before_migration(database: Database, number: int, day: Callable[[], date] = today) -> Path:
    """A backup of a store of an older schema, made before it is brought up to date.

    Raises
    ------
    StoreError
        When it cannot be written: then nothing is brought up to date.
    """
    place, name = folder(database), stem(database)
    target = place / f"{name}-{day().isoformat()}-schema-{number}.db"
    if target.exists():
        return target
    try:
        place.mkdir(parents=True, exist_ok=True)
        copy_as_it_is(database, target)
    except OSError as fault:
        raise StoreError(
            f"the store has to be brought up to date, and its backup cannot be written to {place} "
            f"({fault.strerror}): make room there, or name another folder in {FOLDER}"
        ) from fault
    _keep_the_last(place, rf"{re.escape(name)}-{_DAY}-schema-\d+\.db", target)
    return target


def _keep_the_last(place: Path, pattern: str, newest: Path) -> None:
    """Remove all but the newest and the last of the files so named; nothing else is touched."""
    mine = sorted(p for p in place.iterdir() if re.fullmatch(pattern, p.name) and p.is_file())
    for old in [p for p in mine if p != newest][: max(0, len(mine) - KEPT)]:
        old.unlink(missing_ok=True)
