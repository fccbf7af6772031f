"""Text to a point in time: ISO 8601 in the shop's zone; other ways of writing dates only after the shop
said which.

Source: ISO 8601-1 (calendar dates, times of day, offsets), from memory.
"""

import re
from datetime import UTC, datetime, time, timedelta, tzinfo
from typing import Final, Literal
from zoneinfo import ZoneInfo

from qc.errors import TimeError

Form = Literal["iso", "day_or_month", "serial", "other"]

EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
DAY_COUNT_START: Final = datetime(1899, 12, 30)  # noqa: DTZ001 - day 0 of a workbook's count, a local date
_MICRO: Final = timedelta(microseconds=1)
_ISO = re.compile(
    r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})"
    r"(?:[T ]\s*(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,](\d{1,9}))?)?\s*(Z|[+-]\d{2}(?::?\d{2})?)?)?",
    re.IGNORECASE,
)
_BASIC = re.compile(
    r"(\d{4})(\d{2})(\d{2})(?:T(\d{2})(\d{2})(?:(\d{2}))?(Z|[+-]\d{2}(?::?\d{2})?)?)?", re.IGNORECASE
)
_OTHER_ORDER = re.compile(
    r"(\d{1,2})[-/.](\d{1,2})[-/.](\d{2}|\d{4})"
    r"(?:,?\s+(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,]\d+)?)?\s*([AaPp])?\.?(?:[Mm]\.?)?)?"
)
_SERIAL = re.compile(r"\d{5}([.,]\d+)?")
_OFFSET = re.compile(r"([+-])(\d{2}):?(\d{2})?")


def form(text: str) -> Form:
    """How a date is written: ISO 8601, day and month in some order, a workbook's day count, or otherwise."""
    cleaned = text.strip()
    if _ISO.fullmatch(cleaned) or _BASIC.fullmatch(cleaned):
        return "iso"
    if _OTHER_ORDER.fullmatch(cleaned):
        return "day_or_month"
    return "serial" if _SERIAL.fullmatch(cleaned) else "other"


def shop_zone(name: str | None) -> tzinfo:
    """The zone of the shop's setting; where it is not set, the one that answers are told in.

    Raises
    ------
    TimeError
        When nobody knows the zone.
    """
    if not name:
        # read in one zone and told in another, a date alone would become the day before
        from qc.history.zone import shop_zone as told_in

        return told_in({})
    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError):
        raise TimeError(
            f"the time zone {name!r} is unknown: set one like Europe/Berlin or America/Chicago"
        ) from None


def _offset(text: str) -> timedelta:
    match = _OFFSET.fullmatch(text)
    if match is None:
        return timedelta(0)
    size = timedelta(hours=int(match[2]), minutes=int(match[3] or 0))
    return -size if match[1] == "-" else size


def _micros(at: datetime, zone: tzinfo, offset: str | None) -> int:
    if offset is not None:
        return (at.replace(tzinfo=UTC) - _offset(offset) - EPOCH) // _MICRO
    return (at.replace(tzinfo=zone) - EPOCH) // _MICRO


def _point(day: tuple[int, int, int], clock: tuple[int, int, int, int] | None, date_at: str) -> datetime:
    start = time(12 if date_at == "noon" else 0) if clock is None else time(*clock)
    return datetime.combine(datetime(*day), start)  # noqa: DTZ001 - the zone is put on by the caller


def _iso(text: str) -> tuple[tuple[int, int, int], tuple[int, int, int, int] | None, str | None] | None:
    match = _ISO.fullmatch(text)
    if match:
        y, m, d, hour, minute, second, part, offset = match.groups()
        micro = int((part or "0")[:6].ljust(6, "0"))
    else:
        match = _BASIC.fullmatch(text)
        if match is None:
            return None
        y, m, d, hour, minute, second, offset = match.groups()
        micro = 0
    clock = None if hour is None else (int(hour), int(minute), int(second or 0), micro)
    return (int(y), int(m), int(d)), clock, offset


def _in_order(text: str, order: str) -> tuple[tuple[int, int, int], tuple[int, int, int, int] | None] | None:
    match = _OTHER_ORDER.fullmatch(text)
    if match is None:
        return None
    first, second, year, hour, minute, seconds, half = match.groups()
    y = int(year) + (2000 if len(year) == 2 else 0)
    month, day = (int(second), int(first)) if order == "day_first" else (int(first), int(second))
    if hour is None:
        return (y, month, day), None
    h = int(hour)
    if half:
        if not 1 <= h <= 12:
            raise ValueError("hour of a half day")
        h = h % 12 + (12 if half in "pP" else 0)
    return (y, month, day), (h, int(minute), int(seconds or 0), 0)


def parse_at(
    text: str, zone: tzinfo, date_order: str | None = None, *, date_at: Literal["noon", "start"] = "noon"
) -> tuple[int, bool]:
    """Microseconds since 1970 UTC, and whether only a date was given.

    Parameters
    ----------
    text : str
        ISO 8601 (the year first); with `date_order` also 03/04/2026; with `date_order` "serial" also 45321.5.
    zone : tzinfo
        Where no zone is written.
    date_order : {"day_first", "month_first", "serial"} or None
        What the shop said about dates that are not ISO 8601.
    date_at : {"noon", "start"}
        What a date alone means: noon of that day (readings) or its start (events).

    Raises
    ------
    TimeError
        When it is no date, a date that does not exist, or one that could be two.
    """
    cleaned = text.strip()
    try:
        iso = _iso(cleaned)
        if iso is not None:
            day, clock, offset = iso
            return _micros(_point(day, clock, date_at), zone, offset), clock is None
        if date_order == "serial" and _SERIAL.fullmatch(cleaned):
            return _serial(cleaned, zone, date_at)
        other = _in_order(cleaned, date_order) if date_order in ("day_first", "month_first") else None
        if other is not None:
            return _micros(_point(*other, date_at), zone, None), other[1] is None
    except (ValueError, OverflowError):
        raise TimeError(
            f"{cleaned!r} is a date or time that does not exist: write it like 2026-04-03 08:15"
        ) from None
    raise TimeError(
        f"{cleaned!r} is not one date we can be sure of: write it like 2026-04-03 or 2026-04-03T08:15"
    )


def _serial(text: str, zone: tzinfo, date_at: str) -> tuple[int, bool]:
    days, _, part = text.replace(",", ".").partition(".")
    at = DAY_COUNT_START + timedelta(days=int(days))
    if not part.strip("0"):
        return _micros(_point((at.year, at.month, at.day), None, date_at), zone, None), True
    seconds = round(float(f"0.{part}") * 86_400)
    return _micros(at + timedelta(seconds=seconds), zone, None), False
