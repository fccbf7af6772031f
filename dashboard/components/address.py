"""A page's address: its words are the filters of the command line."""

from collections.abc import Mapping
from typing import Any, Final
from urllib.parse import parse_qsl, urlencode

from dashboard.answers import FILTERS, Question

FLOOR: Final = "/"
SERIES: Final = "/series"
MONTH: Final = "/month"
BUILDS: Final = "/builds"
WAITING: Final = "/waiting"
IDENTITY: Final = ("machine", "operation", "characteristic", "method", "state")
OWN: Final = ("month", "by", "block", "finding", "matter", "kind")  # words of a page itself


def parse(search: str | None) -> dict[str, tuple[str, ...]]:
    """Words of an address; repeated ones are joined, unknown ones left out."""
    found: dict[str, tuple[str, ...]] = {}
    for word, value in parse_qsl((search or "").lstrip("?")):
        key = word.replace("-", "_")
        if key in FILTERS or key in OWN:
            found[key] = (*found.get(key, ()), value)
    return found


def search(words: Mapping[str, Any]) -> str:
    """`?machine=hone-2&...` of words with one value or several; empty ones are left out."""
    pairs = [
        (key.replace("_", "-"), one)
        for key, value in words.items()
        for one in ((value,) if isinstance(value, str) else value or ())
    ]
    return "?" + urlencode(pairs) if pairs else ""


def of_series(row: Mapping[str, Any]) -> str:
    """Address of a series' page."""
    return SERIES + search({key: row[key] for key in IDENTITY})


def one(asked: Question, key: str) -> str | None:
    """The first value of a word."""
    values = asked.get(key) or ()
    return values[0] if values else None
