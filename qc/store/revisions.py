"""Which revision a text means, and the settings it is read with."""

from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from sqlalchemy import Connection, func, select

from qc.errors import QuestionError
from qc.store import registers, tables


def newest(connection: Connection) -> int:
    """Number of the newest revision, 0 for an empty store."""
    return int(connection.scalar(select(func.max(tables.revision.c.number))) or 0)


def settings(connection: Connection, as_of: int | None) -> dict[str, str]:
    """Settings that are set."""
    return {
        r["name"]: r["value"] for r in registers.rows(connection, "setting", as_of) if r["value"] is not None
    }


def meant(connection: Connection, as_of: str | int | None) -> int:
    """Revision that an `--as-of` text means; see `Store.revision`."""
    last = newest(connection)
    if as_of is None:
        return last
    text = str(as_of).strip()
    if text.isdecimal():
        if int(text) > last:
            raise QuestionError(f"there is no revision {text}: the newest is {last}")
        return int(text)
    r = tables.revision.c
    return int(
        connection.scalar(select(func.max(r.number)).where(r.at <= _microseconds(connection, text))) or 0
    )


def _microseconds(connection: Connection, text: str) -> int:
    try:
        if len(text) == 10:
            at = datetime.combine(date.fromisoformat(text) + timedelta(days=1), time()) - timedelta(
                microseconds=1
            )  # noqa: DTZ001 - zone follows
        else:
            at = datetime.fromisoformat(text)
    except (ValueError, OverflowError) as error:
        raise QuestionError(
            f"{text!r} is no revision: give its number, or a time such as 2026-05-31 or 2026-05-31T16:00"
        ) from error
    if at.tzinfo is None:
        name = settings(connection, None).get("zone")
        at = at.replace(tzinfo=ZoneInfo(name)) if name else at.astimezone()
    return round((at - datetime(1970, 1, 1, tzinfo=ZoneInfo("UTC"))) / timedelta(microseconds=1))
