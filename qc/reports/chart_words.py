"""What the chart of block means says, how sure, what not to conclude; how far blocks lean on each other."""

from typing import Any, Final

from qc.reports.lags import OWN_FROM
from qc.reports.words import number, whole

NOT_TOLERANCE: Final = (
    "Inside these limits is not inside tolerance, and a signal is a place to look, not a bad bore."
)
MANY: Final = 10_000  # blocks; more than any shop will ever see in one series
NOTICED: Final = 0.1
"""Lag-1 correlation below which nobody need hear of it."""


def leaning(row: dict[str, Any], blocks: int, effect: str | None = None) -> dict[str, Any]:
    """How far each block leans on the one before it, where that is known from, and what was done about it."""
    lag = row["lag1"] or 0.0
    own = blocks >= OWN_FROM
    where = "from this series" if own else "pooled over the series of this characteristic"
    if lag <= NOTICED:
        how = f"Blocks lean on the one before by {number(lag, 2)} at most"
        done = "too little to matter"
    else:
        how = f"Each block leans on the one before by about {number(lag, 2)}"
        done = effect or _done(row)
    words = f"{how} (lag-1 correlation, {where}): {done}."
    return {"lag1": lag, "own": own, "words": words}


def _done(row: dict[str, Any]) -> str:
    if row["limits"]["phase"] == "set":
        return "the limits were set as they are, so that quiet blocks may come beyond them in groups"
    methods = row["methods"]
    if not methods:
        return "there are no limits to correct for it"
    return (
        "the spread is corrected for it, so that the limits are wider than a calculator gives; signals "
        "still come in groups"
    )


def explained(row: dict[str, Any]) -> list[str]:
    """Sentences under the chart of block means."""
    if row["center"] is None and not row["methods"]:
        return [whole(str(row["not_given"]["center"])), NOT_TOLERANCE]
    told = [
        "Each dot is the mean of one block's bores; the limits say how far the mean of the next block may "
        "stray while "
        "nothing has changed (prediction limits for block means).",
        row["limits"]["words"],
    ]
    if row["limits"]["phase"] != "set" and row["methods"]:
        few, many = row["methods"]["one_chart"]
        told.append(
            f"How sure: {row['methods']['run_length']}. That is the average over many charts: of single ones "
            f"nine in ten give one in {_rounded(few)} to {_rounded(many)} blocks."
        )
    if row["lag1"] > NOTICED:
        told.append(row["autocorrelation"]["words"])
    return [
        *told,
        "A block inside the limits may still hold a bore outside its tolerance: the hairlines show the "
        "bores.",
        NOT_TOLERANCE,
    ]


def _rounded(count: float) -> str:
    """Two digits: the luck of one chart is not worth more."""
    if count > MANY:
        return f"over {MANY:,}"
    size = 10 ** max(0, len(str(int(count))) - 2)
    return f"{round(count / size) * size:,.0f}"
