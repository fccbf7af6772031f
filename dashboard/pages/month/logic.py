"""What the Month page shows, from the answers."""

from collections.abc import Mapping, Sequence
from typing import Any

from dashboard.components import words
from dashboard.theme.shown import Shown, interval, local, number, quantity
from qc.catalogue import said

Row = Mapping[str, Any]
CHANGED = ("less even", "more even")


def months(series: Row, zone: str) -> list[str]:
    """Months in which the store has work, newest first."""
    ends = [
        (local(r["first_at"], zone), local(r["last_at"], zone)) for r in series["series"] if r.get("first_at")
    ]
    starts, lasts = [a for a, _ in ends if a], [b for _, b in ends if b]
    if not starts:
        return []
    at, last = min(starts), max(lasts)
    year, month = at.year, at.month
    found = []
    while (year, month) <= (last.year, last.month):
        found.append(f"{year:04d}-{month:02d}")
        year, month = (year, month + 1) if month < 12 else (year + 1, 1)
    return found[::-1]


def title(row: Row) -> str:
    """`hone-2, finish hone, plate on`."""
    parts = [row["machine"], said(row["operation"])]
    if row.get("state") not in (None, "unstated"):
        parts.append(said(row["state"]))
    return ", ".join(parts)


def identity(row: Row, figure: Row) -> str:
    """Id of the series that a month's figure belongs to."""
    keys = (row["machine"], row["operation"], figure["characteristic"], figure["method"], row["state"])
    return "/".join(str(k) for k in keys)


def what(figure: Row) -> str:
    """What is measured, without how it was held (that stands over the rows)."""
    return words.what({**figure, "state": None})


def against(found: Row | None) -> tuple[str, str, str]:
    """One comparison of spreads: (word, ratio with interval, the whole of it in words)."""
    if not found:
        return "nothing to compare with", "", ""
    reasons = found.get("not_given") or {}
    whole = str(found.get("words") or next(iter(reasons.values()), ""))
    word = whole
    if whole.startswith("cannot tell"):
        word = "cannot tell"
    elif not found.get("words"):
        word = "nothing then" if not found.get("blocks") else "too few blocks"
    ratio = found.get("spread_ratio")
    if ratio is None:
        return word, "", whole
    between = interval(found.get("interval_ratio"), 2)
    return word, f"{number(ratio, 2)} times" + (f" ({between})" if between else ""), whole


def changed(row: Row) -> bool:
    """Whether anything in a row is more or less even than last month."""
    told = [(f.get("against") or {}).get("last_month") or {} for f in row["figures"]]
    return any(one.get("words") in CHANGED for one in told)


def overview(rows: Sequence[Row]) -> str:
    """What is said of the rows without a change."""
    quiet = sum(not changed(row) for row in rows)
    if quiet == 0:
        return ""
    if quiet == len(rows):
        return "Nothing can be told apart from last month."
    return f"On the other {quiet if quiet > 1 else 'one'} nothing can be told apart from last month."


def moved(found: Row | None, how: Shown) -> str:
    """Difference of the means with its interval, signed."""
    if not found or found.get("mean_difference") is None:
        return ""
    between = interval(found.get("interval"), how.decimals, how.factor, sign=True)
    return quantity(found["mean_difference"], how, sign=True) + (f" ({between})" if between else "")
