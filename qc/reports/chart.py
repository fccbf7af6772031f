"""The chart: block means with prediction limits, spread in block, stretches, joints, events."""

from typing import Any

import numpy as np
import pandas as pd

from qc.catalogue import EVENTS, characteristic, said
from qc.charts.block_means import BlockMeansChart, prediction_limits
from qc.errors import QuestionError, TooLittleData
from qc.history import History, history
from qc.history.zone import iso, shop_zone
from qc.records import Asked, Event
from qc.reports.conditions import Condition, conditions
from qc.reports.heads import Heads, Key
from qc.reports.lags import lags
from qc.reports.question import head
from qc.reports.windows import split
from qc.reports.words import day, number, plain, plural, series_name
from qc.stats.levels import DEFAULT_LEVEL
from qc.stretches import joints, renewals


def answer(store: Any, asked: Asked, *, learn: int | None = None) -> dict[str, Any]:
    """Chart of every series the question is about.

    Parameters
    ----------
    store : qc.store.Store
    asked : Asked
    learn : int, optional
        Number of first blocks from which limits are learned; without it all of them, or the limits set for
        good.
    """
    found = history(store, asked)
    known = conditions(store, asked.as_of)
    heads = Heads(found, known)
    correlations = lags(Heads(history(store, Asked(as_of=asked.as_of)), known).blocks)
    fixed = set_limits(store, asked.as_of)
    rows = [
        _row(key, heads, found, correlations.get(key, 0.0), fixed.get(key), known.get(key), learn)
        for key in heads.series_keys()
        if key in heads.blocks
    ]
    return {**head("chart", found.revision, asked, found.settings), "series": plain(rows)}


def set_limits(store: Any, as_of: int | None) -> dict[Key, dict[str, Any]]:
    """Limits that a person set for good, the latest of each series."""
    names = ("machine", "operation", "characteristic", "method", "state")
    frame = store.records("set_limit", as_of)
    return {tuple(str(r[n]) for n in names): r for r in frame.sort_values("seq").to_dict("records")}


def _row(
    key: Key, heads: Heads, found: History, lag: float, fixed: dict[str, Any] | None,
    judged: Condition | None, learn: int | None,
) -> dict[str, Any]:  # fmt: skip
    blocks = heads.blocks[key]
    row = {**heads.head(key), **_limits(blocks, lag, fixed, learn)}
    chart: BlockMeansChart | None = row.pop("_chart", None)
    beyond = _beyond(blocks, row, chart)
    walked = judged.signals_by_block if judged else {}
    row["window"] = _window(key, heads, found)
    row["blocks_charted"] = len(blocks)
    row["blocks"] = [
        _block(b, found, bool(out), walked.get(b["block"], ()), row)
        for b, out in zip(blocks.to_dict("records"), beyond, strict=True)
    ]
    near = renewals(found.events, characteristic(key[2]), key[0], key[1])
    row["stretches"] = _stretches(blocks, near)
    gauges = sorted({g for gs in blocks["gauges"] for g in gs})
    steps = joints(found.events, characteristic(key[2]), key[0], key[1], gauges)
    row["events"] = [_event(e) for e in sorted((*near, *steps), key=lambda e: e.at)]
    row["sentence"] = sentence(row, found)
    return row


def _limits(
    blocks: pd.DataFrame, lag: float, fixed: dict[str, Any] | None, learn: int | None
) -> dict[str, Any]:
    """Centre and limits, learned or set, with what they rest on; nulls with their reason."""
    out: dict[str, Any] = {
        "center": None, "lower_limit": None, "upper_limit": None, "not_given": {}, "lag1": lag,
        "limits": {"phase": "being_learned", "set_at": None, "by": None}, "methods": {},
    }  # fmt: skip
    means, bores = blocks["mean"].to_numpy(dtype=float), blocks["bores"].to_numpy(dtype=float)
    inside, between = _spreads(blocks)
    out["spread_in_block"], out["spread_between_blocks"] = inside, between
    try:
        chart = prediction_limits(
            means, bores, spread_in_block=inside, spread_between_blocks=between, lag1=lag, learn=learn
        )
    except (TooLittleData, QuestionError) as reason:
        out["not_given"] = dict.fromkeys(("center", "lower_limit", "upper_limit"), str(reason))
        chart = None
    if chart is not None:
        out.update(
            center=chart.center, lower_limit=chart.lower_limit, upper_limit=chart.upper_limit, _chart=chart
        )
        out["methods"] = {
            "limits": chart.method, "level": chart.level, "blocks_learned": chart.m, "lag1": chart.lag1,
            "effective_blocks": chart.m_eff, "spread_of_a_block_mean": chart.s,
            "typical_bores": chart.typical_bores,
            "run_length": chart.run_length,
            "source": "Hahn and Meeker, Statistical Intervals (1991), prediction interval; lag-1 corrected",
        }  # fmt: skip
    out["not_given"] |= dict.fromkeys(("limits.set_at", "limits.by"), "the limits are being learned")
    if fixed:
        told = {"center": fixed["center"], "lower_limit": fixed["lower"], "upper_limit": fixed["upper"]}
        out.update(plain({name: float(v) if pd.notna(v) else None for name, v in told.items()}))
        out["limits"] = {"phase": "set", "set_at": iso(fixed["at_written"]), "by": fixed["by"]}
        out["not_given"] = {n: "none was set on this side" for n in told if out[n] is None}
    return out


def _spreads(blocks: pd.DataFrame) -> tuple[float | None, float | None]:
    """Spread in block and between blocks [unit of the values], None where blocks have one bore each."""
    n, s = blocks["bores"].to_numpy(dtype=float), blocks["spread"].to_numpy(dtype=float)
    use = n > 1
    if len(blocks) < 2 or not use.any():
        return None, None
    inside = float(((n[use] - 1) * s[use] ** 2).sum() / (n[use] - 1).sum())
    harmonic = len(n) / (1 / n).sum()
    between = max(0.0, float(blocks["mean"].var(ddof=1)) - inside / harmonic)
    return inside**0.5, between**0.5


def _beyond(blocks: pd.DataFrame, row: dict[str, Any], chart: BlockMeansChart | None) -> np.ndarray:
    means = blocks["mean"].to_numpy(dtype=float)
    if row["limits"]["phase"] == "set" or chart is None:
        low = -np.inf if row["lower_limit"] is None else row["lower_limit"]
        high = np.inf if row["upper_limit"] is None else row["upper_limit"]
        return (means < low) | (means > high)
    return chart.signals


def _block(
    block: dict[str, Any],
    found: History,
    beyond: bool,
    walked: tuple[dict[str, Any], ...],
    row: dict[str, Any],
) -> dict[str, Any]:
    signals = [dict(s) for s in walked]
    if beyond:
        signals.insert(0, {
            "signal": "one_block_off", "words": "this block stands apart from the others",
            "source": "prediction limits for block means",
            "level": row["methods"].get("level", DEFAULT_LEVEL),
        })  # fmt: skip
    return {
        "build": block["build"] if isinstance(block["build"], str) else None, "at": iso(block["at"]),
        "n": int(block["bores"]), "mean": block["mean"],
        "spread": block["spread"], "lowest": block["lowest"], "highest": block["highest"],
        "stretch": int(block["stretch"]), "joint": int(block["joint"]), "wear": float(block["wear"]),
        "gauges": list(block["gauges"]), "signals": signals,
        "readings": found.ids_behind(block["values"]),
    }  # fmt: skip


def _window(key: Key, heads: Heads, found: History) -> dict[str, Any] | None:
    """Limits of the latest block's window, for the ribbon's band."""
    entry, values = characteristic(key[2]), heads.values[key]
    first = values[(values["pass_no"] == 1) & values["complete"].astype(bool)]
    parts = split(entry, first, found.specs) if len(first) else []
    if not parts:
        return None
    window = parts[0][0]
    return {"lower": window.lower, "target": window.target, "upper": window.upper, "bounded": window.bounded,
            "sources": list(window.sources)}  # fmt: skip


def _stretches(blocks: pd.DataFrame, near: list[Event]) -> list[dict[str, Any]]:
    out = []
    for number_, mine in blocks.groupby("stretch", sort=True):
        event = near[int(number_) - 1] if number_ else None
        out.append({
            "number": int(number_), "began_at": iso(event.at if event else mine["at"].min()),
            "event": event.event if event else None, "blocks": len(mine), "bores": int(mine["bores"].sum()),
        })  # fmt: skip
    return out


def _event(event: Event) -> dict[str, Any]:
    kind = EVENTS[event.event]
    return {
        "at": iso(event.at), "event": event.event, "words": kind.label, "effect": kind.effect,
        "machine": event.machine, "gauge": event.gauge, "note": event.note,
    }  # fmt: skip


def sentence(row: dict[str, Any], found: History) -> str:
    """The headline over the ribbon."""
    name, zone = series_name(row), shop_zone(found.settings)
    if row["center"] is None:
        return f"{name}: {row['not_given']['center']}."
    off = [b for b in row["blocks"] if any(s["signal"] == "one_block_off" for s in b["signals"])]
    unit = said(row["unit"])
    told = f"block means stand around {number(row['center'], 1, sign=row['coded'])} {unit}"
    if not off:
        return f"{name}: {told}, none of {plural(len(row['blocks']), 'block')} apart from the others."
    when = pd.Timestamp(off[-1]["at"]).value // 1000
    return (
        f"{name}: {told}; {plural(len(off), 'block')} of {len(row['blocks'])} "
        f"stand{'s' if len(off) == 1 else ''} apart, last {off[-1]['build'] or 'a reading'} on "
        f"{day(when, zone)}."
    )
