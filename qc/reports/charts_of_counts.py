"""Charts of what is counted month by month: builds right first time, bores still outside at the end."""

from collections.abc import Callable, Mapping
from typing import Any, Final
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from qc.catalogue import said
from qc.charts.attributes import CountChart, shares
from qc.errors import QuestionError, TooLittleData
from qc.history import History
from qc.history.zone import iso, moment, shop_zone
from qc.reports.month import first_pass
from qc.reports.words import number, plural, span, whole
from qc.stats.proportions import clopper_pearson

Count = tuple[int, int]
Row = dict[str, Any]
_GROUP: Final = ("machine", "operation", "state")
_SOURCE: Final = (
    "exact (hypergeometric) limits, R. A. Fisher's test; p chart of ISO 7870-2:2013 (from memory)"
)


def _first_time(values: pd.DataFrame) -> Count | None:
    found = first_pass(values[values["pass_no"] == 1])
    return None if found is None else (int(found["n"]), int(found["of"]))


def _left_outside(values: pd.DataFrame) -> Count | None:
    """Bores with a judged characteristic outside after their last pass, of the bores that were judged."""
    last = values.sort_values("pass_no", kind="stable").groupby(
        ["characteristic", "method", "block", "feature"], sort=False
    ).tail(1)  # fmt: skip
    told = last[last["conforms"].notna()]
    if not len(told):
        return None
    inside = told["conforms"].astype(float).groupby([told["block"], told["feature"]]).min()
    return int((inside == 0).sum()), len(inside)


KINDS: Final[Mapping[str, tuple[Callable[[pd.DataFrame], Count | None], str, str, str]]] = {
    "first_pass": (
        _first_time, "build", "right first time",
        "Of the builds of each month: how many had every judged characteristic inside its limits at the "
        "first pass (first-pass yield).",
    ),
    "scrap": (
        _left_outside, "bore", "still outside after the last pass",
        "Of the bores of each month: how many were still outside a limit after their last pass: scrap, "
        "unless somebody let them pass.",
    ),
}  # fmt: skip


def rows(found: History, kind: str, level: float) -> list[Row]:
    """Rows of a chart of counts, one a machine, operation and state that was judged by limits.

    Parameters
    ----------
    found : History
    kind : str
        A key of `KINDS`.
    level : float
        Of the alarm budget for one block; a month stands in for its blocks.
    """
    zone = shop_zone(found.settings)
    values = found.values.assign(month=_months(found.values, zone))
    out = []
    for group, mine in values.groupby(list(_GROUP), sort=True, observed=True):
        counted = _counted(mine, KINDS[kind][0])
        if counted:
            out.append(_row(dict(zip(_GROUP, map(str, group), strict=True)), mine, counted, kind, level))
    return out


def _months(values: pd.DataFrame, zone: ZoneInfo) -> list[str]:
    return [moment(int(at)).astimezone(zone).strftime("%Y-%m") for at in values["block_at"]]


def _counted(values: pd.DataFrame, count: Callable[[pd.DataFrame], Count | None]) -> dict[str, Count]:
    months = {str(name): count(mine) for name, mine in values.groupby("month", sort=True)}
    return {name: told for name, told in months.items() if told is not None and told[1] > 0}


def _row(
    group: Mapping[str, str], values: pd.DataFrame, counted: dict[str, Count], kind: str, level: float
) -> Row:
    _, one, what, says = KINDS[kind]
    n, of = (np.array([c[i] for c in counted.values()], dtype=float) for i in (0, 1))
    first = values.groupby("month")["made_at"].min()
    blocks_a_month = float(np.mean([values[values["month"] == m]["block"].nunique() for m in counted]))
    mine = min(0.05, level * max(1.0, blocks_a_month))
    chart: CountChart | None = None
    why = ""
    try:
        chart = shares(n, of, level=mine)
    except (TooLittleData, QuestionError) as reason:
        why = str(reason)
    name = ", ".join([group["machine"], said(group["operation"]), what, *_state(group)])
    blocks = [
        _month(i, month, counted[month], int(first[month]), chart, what) for i, month in enumerate(counted)
    ]
    row: Row = {
        "id": f"{group['machine']}/{group['operation']}/{kind}/counts/{group['state']}", **group,
        "characteristic": kind, "method": "counts", "unit": "share", "coded": False, "kind": kind,
        "chosen": None, "readings": int(sum(map(len, values["rows"]))), "features": int(of.sum()),
        "blocks": blocks, "blocks_charted": len(blocks),
        "first_at": blocks[0]["at"], "last_at": blocks[-1]["at"], "gauges": [], "left_out": {},
        "condition": "counted", "why": "counts have no condition of their own",
        "center": chart.center if chart else float(n.sum() / of.sum()), "lower_limit": None,
        "upper_limit": None, "limits": {"phase": "being_learned"}, "window": None, "lag1": None,
        "stretches": [], "events": [], "questions": [], "autocorrelation": None,
        "methods": {} if chart is None else {
            "limits": chart.method, "level": mine, "run_length": chart.run_length, "source": _SOURCE,
        },
        "not_given": dict.fromkeys(
            ("lower_limit", "upper_limit"), why or "each month has its own: see the blocks"
        ) | dict.fromkeys(("window", "lag1", "autocorrelation"), "counts have none"),
    }  # fmt: skip
    return row | {
        "explained": _words(says, chart, why, one),
        "sentence": _sentence(name, row, n, of, one, what),
    }


def _state(group: Mapping[str, str]) -> list[str]:
    return [] if group["state"] == "unstated" else [said(group["state"])]


def _month(at: int, month: str, count: Count, first: int, chart: CountChart | None, what: str) -> Row:
    n, of = count
    signals = []
    if chart is not None and chart.signals[at]:
        way = "more" if n > chart.upper[at] else "fewer"
        signals = [{"signal": what, "words": f"{way} {what} than in the other months", "source": _SOURCE}]
    return {
        "build": None, "month": month, "at": iso(first), "n": of, "count": n, "mean": n / of,
        "statistic": n / of, "interval": span(clopper_pearson(n, of)),
        "lower": None if chart is None else chart.lower[at] / of,
        "upper": None if chart is None else chart.upper[at] / of,
        "spread": None, "lowest": None, "highest": None, "stretch": 0, "joint": 0, "wear": None,
        "gauges": [], "readings": [], "signals": signals,
    }  # fmt: skip


def _words(says: str, chart: CountChart | None, why: str, one: str) -> list[str]:
    if chart is None:
        return [says, whole(why)]
    return [
        says,
        f"How sure: {chart.run_length.replace('periods', 'months')}.",
        "Each month is held against all the others by exact chances, whatever the true share is; one month "
        f"of few {one}s must stand very far off to show.",
        "Do not read a month inside the limits as a good month: with so few, a share may double unseen. "
        "What is counted depends on the limits in force: new limits make another count.",
    ]


def _sentence(name: str, row: Row, n: np.ndarray, of: np.ndarray, one: str, what: str) -> str:
    sure = clopper_pearson(float(n.sum()), float(of.sum()))
    share = 100 * float(n.sum() / of.sum())
    told = (
        f"{name}: {int(n.sum())} of {plural(int(of.sum()), one)} ({number(share, 1)} %, "
        f"{number(100 * (sure.lower or 0), 1)} to {number(100 * (sure.upper or 0), 1)} %)"
    )
    off = [b["month"] for b in row["blocks"] if b["signals"]]
    months = plural(len(row["blocks"]), "month")
    return f"{told} in {months}; " + (
        f"{', '.join(off)} stand apart."
        if len(off) > 1
        else f"{off[0]} stands apart."
        if off
        else "no month stands apart."
    )
