"""Sentences and numbers as a person reads them; the same on the command line, the pages and in the files."""

import math
from collections.abc import Sequence
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from qc.catalogue import CATALOGUE, said
from qc.history.zone import microseconds, moment

MINUS = "\N{MINUS SIGN}"


def number(value: float | None, digits: int = 1, *, sign: bool = False) -> str:
    """A number with so many decimals, a true minus, and a plus where a direction is meant."""
    if value is None or not math.isfinite(value):
        return "none"
    text = f"{value:+.{digits}f}" if sign else f"{value:.{digits}f}"
    if float(text) == 0:
        text = text.lstrip("+-")
    return text.replace("-", MINUS)


def interval(lower: float | None, upper: float | None, digits: int = 2) -> str:
    """Text like 1.12 to 1.61; an open end is said."""
    if lower is None and upper is None:
        return "no interval"
    if upper is None:
        return f"{number(lower, digits)} or more"
    if lower is None:
        return f"up to {number(upper, digits)}"
    return f"{number(lower, digits)} to {number(upper, digits)}"


def plural(n: int, one: str, many: str | None = None) -> str:
    """Text like 1 block, 12 blocks."""
    return f"{n} {one if n == 1 else many or one + 's'}"


def capital(text: str) -> str:
    """Words that begin as a sentence does."""
    return text[:1].upper() + text[1:]


def whole(text: str) -> str:
    """A reason as a sentence: begun large, ended by a stop."""
    return capital(text) + ("" if text.endswith(".") else ".")


def series_name(row: dict[str, Any]) -> str:
    """Text like hone-2, plateau hone, bore size, plate on."""
    entry = CATALOGUE.get(row["characteristic"])
    parts = [row["machine"], said(row["operation"]), said(row["characteristic"])]
    if entry is None or row["method"] != entry.methods[0]:
        parts[-1] += f" ({row['method']})"
    if row["state"] != "unstated":
        parts.append(said(row["state"]))
    return ", ".join(parts)


def day(us: float | None, zone: ZoneInfo) -> str:
    """Text like 3 May 2026, in the shop's zone."""
    if us is None:
        return "an unknown day"
    when = moment(us).astimezone(zone)
    return f"{when.day} {when:%B %Y}"


def day_of(at: str, zone: ZoneInfo) -> str:
    """The same of a time as answers write it."""
    return day(microseconds(datetime.fromisoformat(at)), zone)


def listed(items: Sequence[str], last: str = "and") -> str:
    """Text like a, b and c."""
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} {last} {items[-1]}"


def plain(value: Any) -> Any:
    """A figure ready for JSON: NaN and infinities become None, numpy numbers Python's, tuples lists."""
    if isinstance(value, dict):
        return {str(k): plain(v) for k, v in value.items()}
    if isinstance(value, list | tuple | set | frozenset):
        return [plain(v) for v in value]
    if hasattr(value, "tolist") and not isinstance(value, str | bytes):
        return plain(value.tolist())
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    return value


def span(interval_: Any) -> dict[str, Any] | None:
    """An interval as answers write it, None where there is none."""
    if interval_ is None:
        return None
    lower, upper = plain(interval_.lower), plain(interval_.upper)
    return {"lower": lower, "upper": upper, "confidence": interval_.confidence}
