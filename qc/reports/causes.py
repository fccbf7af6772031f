"""What stands beside the blocks of a changed series, and what its change follows, in one sentence."""

from typing import Any, Literal

import pandas as pd

from qc.drift import Judgement, SeriesBlocks
from qc.drift.causes import Cause, Factor, cause_of
from qc.reports.beside import Beside
from qc.reports.heads import Key
from qc.reports.words import number

KINDS = ("step", "slope")
RECENT = 20
"""Blocks back to which a change that does not name the condition is still asked about."""


def evidence(
    key: Key, series: SeriesBlocks, blocks: pd.DataFrame, one: Judgement, beside: Beside
) -> dict[str, Any] | None:
    """What the present or a recent change of a series follows, with figures for a small picture; or None.

    Parameters
    ----------
    key : tuple
        Identity of the series.
    series : SeriesBlocks
        Shifts of gauges taken out.
    blocks : DataFrame
        Its block table.
    one : Judgement
    beside : Beside
    """
    change = change_of(one)
    if change is None:
        return None
    row, kind = change
    factors = beside.factors(key, blocks)
    found = cause_of(series, row, kind, factors, lag1=one.lag1, level=one.level)
    if found is None:
        return None
    factor = next(f for f in factors if f.kind == found.kind)
    return {
        "kind": found.kind, "id": found.id, "amount": found.amount, "p": found.p,
        "words": _words(found, series),
        "groups": [{"name": n, "blocks": b, "off_the_others": a} for n, b, a in found.groups],
        "points": _points(factor, series), "unit": series.unit,
    }  # fmt: skip


def change_of(one: Judgement) -> tuple[int, Literal["step", "slope"]] | None:
    """Block and kind of the change that names the condition, else of the last one that is not old yet.

    Parameters
    ----------
    one : Judgement
    """
    if one.condition == "stepped" and one.since is not None:
        return one.since, "step"
    if one.condition == "drifting" and one.since is not None:
        return one.since, "slope"
    recent = [s for s in one.signals if s.kind in KINDS and s.seen >= len(one.conditions) - RECENT]
    if not recent:
        return None
    return recent[-1].block, "slope" if recent[-1].kind == "slope" else "step"


def gauge_or_machine(one: Judgement, gauge: str | None) -> dict[str, Any] | None:
    """The words of a change that a gauge or its only machine may have made; None where they do not apply.

    Wear that only comes too early is no change: it keeps to its machine's slope.

    Parameters
    ----------
    one : Judgement
    gauge : str or None
        The gauge in doubt.
    """
    named = one.condition == "stepped" or (
        one.condition == "drifting" and any(s.kind == "slope" and s.block == one.since for s in one.signals)
    )
    if gauge is None or not named:
        return None
    return {
        "kind": "unknown", "id": gauge, "amount": None, "p": None, "groups": [], "points": [], "unit": None,
        "words": f"Gauge or machine: read the master of {gauge}.",
    }  # fmt: skip


def _words(cause: Cause, series: SeriesBlocks) -> str:
    off = f"{number(abs(cause.amount))} {series.unit}"
    if cause.kind == "operator":
        return f"It follows the operator: blocks of {cause.id} lie {off} off the others'."
    if cause.kind == "engine":
        return f"It follows the engine family: blocks of {cause.id} lie {off} off the others."
    slope = number(cause.slope or 0.0, 2, sign=True)
    if cause.kind == "temperature":
        return f"It follows the temperature: {slope} {series.unit} a degree, {off} from cold to warm."
    return f"It follows the hour of the day: {slope} {series.unit} an hour, {off} over the day."


def _points(factor: Factor, series: SeriesBlocks) -> list[dict[str, Any]]:
    """One point a block: what stood beside it, and its mean."""
    beside: list[Any] = list(factor.names) if factor.figures is None else [float(v) for v in factor.figures]
    return [{"beside": b, "mean": float(m)} for b, m in zip(beside, series.means, strict=True) if m == m]
