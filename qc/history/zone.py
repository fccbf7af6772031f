"""The shop's time zone, and times as answers write them."""

import os
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from qc.errors import QuestionError

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def machine_zone() -> str:
    """Name of the zone this computer keeps, "UTC" where it does not say."""
    told = os.environ.get("TZ", "").lstrip(":")
    if told:
        return told
    link = Path("/etc/localtime")
    parts = link.resolve().parts if link.exists() else ()
    if "zoneinfo" in parts:
        return "/".join(parts[parts.index("zoneinfo") + 1 :])
    return "UTC"


def shop_zone(settings: Mapping[str, str]) -> ZoneInfo:
    """Zone of the shop: the setting `zone`, else that of this computer.

    Raises
    ------
    QuestionError
        When the setting names no zone.
    """
    name = settings.get("zone")
    try:
        return ZoneInfo(name or machine_zone())
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        if name is None:
            return ZoneInfo("UTC")
        raise QuestionError(
            f"the zone {name!r} is unknown: set one like Europe/Vienna with qc shop set zone"
        ) from error


def moment(us: float | int) -> datetime:
    """Point in time of microseconds since 1970, in UTC."""
    return _EPOCH + timedelta(microseconds=int(us))


def microseconds(when: datetime) -> int:
    """Microseconds since 1970 of a point in time that carries its zone."""
    return (when - _EPOCH) // timedelta(microseconds=1)


def iso(us: float | int | None) -> str | None:
    """UTC text of a time as answers write it, None for none."""
    if us is None or us != us:
        return None
    return moment(us).isoformat(timespec="seconds").replace("+00:00", "Z")


def day(us: float | int, zone: ZoneInfo) -> str:
    """Date in the shop's zone."""
    return moment(us).astimezone(zone).date().isoformat()


def month(us: float | int, zone: ZoneInfo) -> str:
    """Month in the shop's zone, like 2026-05."""
    return day(us, zone)[:7]
