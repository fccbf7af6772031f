"""What the Builds page shows, from the answers."""

from collections.abc import Mapping, Sequence
from typing import Any

from dashboard.components import words
from dashboard.theme.shown import Shown, interval, number, quantity
from qc.catalogue import said

Row = Mapping[str, Any]


def chosen(builds: Sequence[Row], name: str | None) -> Row | None:
    """The build that the address names, else the latest."""
    if name is not None:
        return next((b for b in builds if b["build"] == name), None)
    return max(builds, key=lambda b: b.get("at") or "", default=None)


def head(build: Row, units: str) -> str:
    """The build's sentence in the shop's unit, without its name, which stands over it."""
    told = str(build.get("sentence") or "")
    before, colon, after = told.partition(": ")
    return words.headline(after if colon and before.startswith(build["build"]) else told, units, "")


def feature(position: Row) -> str:
    """`main 1`."""
    return str(position["feature"]).replace("-", " ")


def what(position: Row) -> str:
    """Which clearance it is, with its route where that is not the usual one."""
    return words.what({**position, "state": None}).replace(" clearance", "")


def verdict(key: str | None) -> str:
    """Everyday words of a verdict; none is said as such."""
    return said(key) if key else "nothing to judge by"


def window(position: Row, how: Shown) -> str:
    """`20.0 to 50.0` of the planned limits."""
    return interval(position, how.decimals, how.factor) or "no limits"


def achieved(position: Row, how: Shown) -> str:
    """`31.2 ± 2.8` with the standard uncertainty as the pages use it: 95 % either side."""
    if position.get("achieved") is None:
        return number(None, 0)
    return quantity(position["achieved"], how, unit=False)


def parts(position: Row, how: Shown, system_how: Shown) -> list[list[str]]:
    """Rows of the parts behind a clearance."""
    return [
        [
            said(p["characteristic"]),
            str(p.get("feature") or "").replace("-", " "),
            said(p.get("state") or "unstated"),
            _size(p, how, system_how),
            str(_count(p.get("readings"))),
            str(p.get("gauge") or ""),
        ]
        for p in position.get("parts") or ()
    ]


def _size(part: Row, how: Shown, large: Shown) -> str:
    value = part.get("value")
    if value is None:
        return number(None, 0)
    used = how if part.get("unit") == "um" else large
    scale = 1.0 if part.get("unit") in ("mm", "um") else 1e-3  # sizes come in um unless the part says mm
    return quantity(value * scale, used)


def _count(found: Any) -> int | str:
    return len(found) if isinstance(found, list | tuple) else (found if found is not None else "")


def missing(position: Row) -> str:
    """What is missing for this clearance, in words."""
    found = position.get("missing")
    if not found:
        return ""
    if isinstance(found, str):
        return found
    return ", ".join(
        str(m).replace("_", " ")
        if not isinstance(m, Mapping)
        else " ".join(str(v).replace("_", " ") for v in m.values() if v)
        for m in found
    )
