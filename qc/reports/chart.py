"""The chart: block means with prediction limits, spread in block, stretches, joints, events."""

from collections.abc import Mapping
from typing import Any

import pandas as pd

from qc.catalogue import EVENTS, characteristic, said
from qc.history import History, history, that_count
from qc.history.zone import iso, shop_zone
from qc.records import Asked, Event
from qc.reports.chart_limits import MANY, Ground, limits, set_limits
from qc.reports.chart_words import explained, leaning
from qc.reports.choices import causes_known, choices
from qc.reports.conditions import Condition, Conditions, judged
from qc.reports.heads import Heads, Key
from qc.reports.lags import lags, of_known_cause
from qc.reports.question import head
from qc.reports.windows import split
from qc.reports.words import day_of, number, plain, plural, series_name
from qc.stats.levels import DEFAULT_LEVEL, false_alarms
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
    whole = judged(store, asked.as_of)
    known, zone = whole.by_series, shop_zone(found.settings)
    heads = Heads(found, known)
    fixed, chosen = set_limits(store, asked.as_of), choices(store, asked.as_of)
    every = Heads(history(store, Asked(as_of=asked.as_of)), known).blocks
    correlations = lags(every, of_known_cause(known, causes_known(chosen)))

    def ground(key: Key) -> Ground:
        return Ground(
            heads.blocks[key], correlations.get(key, 0.0), whole.level, fixed.get(key), learn,
            chosen.get(key, {}).get("learn_without"), zone,
            said(characteristic(key[2]).unit),
        )  # fmt: skip

    rows = [
        _row(key, heads, found, ground(key), known.get(key))
        for key in heads.series_keys()
        if key in heads.blocks
    ]
    out = head("chart", found.revision, asked, found.settings)
    return {**out, "alarm_level": alarms(whole, found.settings), "series": plain(rows)}


def alarms(whole: Conditions, settings: Mapping[str, str]) -> dict[str, Any]:
    """The alarm budget: level of a chart's signal for one series and block, and what it comes to here."""
    here = false_alarms(whole.level, whole.blocks_a_month)
    asked = settings.get("false_alarms_a_month")
    often = (
        f"{number(here, 2)} a month"
        if here >= 0.1
        else f"one in {number(1 / here, 0)} months"
        if here
        else "none"
    )
    budget = (
        f"the shop accepts {asked} a month"
        if asked
        else ("no budget is set: qc shop set false_alarms_a_month 0.5")
    )
    return {
        "level": whole.level, "blocks_a_month": whole.blocks_a_month, "false_alarms_a_month": here,
        "accepted_a_month": float(asked) if asked else None,
        "words": (
            f"One quiet block in {1 / whole.level:,.0f} calls for a look by chance; with "
            f"{whole.blocks_a_month:.0f} blocks a month over all series charted here that is about {often} "
            f"({budget})."
        ),
    }  # fmt: skip


def _row(key: Key, heads: Heads, found: History, on: Ground, judgement: Condition | None) -> dict[str, Any]:
    blocks, row = on.blocks, heads.head(key)
    about, beyond, apart = limits(on)
    row |= {**about, "not_given": row["not_given"] | about["not_given"]}
    walked = judgement.signals_by_block if judgement else {}
    row["window"] = _window(key, heads, found)
    row["blocks_charted"] = len(blocks)
    row["blocks"] = [
        _block(b, found, (bool(out), bool(hidden)), walked.get(b["block"], ()), row)
        for b, out, hidden in zip(blocks.to_dict("records"), beyond, apart, strict=True)
    ]
    near = renewals(found.events, characteristic(key[2]), key[0], key[1])
    row["stretches"] = _stretches(blocks, near)
    gauges = sorted({g for gs in blocks["gauges"] for g in gs})
    steps = joints(found.events, characteristic(key[2]), key[0], key[1], gauges)
    row["events"] = [_event(e) for e in sorted((*near, *steps), key=lambda e: e.at)]
    row["autocorrelation"] = leaning(row, len(blocks))
    row["explained"] = explained(row)
    row["sentence"] = sentence(row, found)
    return row


def _block(
    block: dict[str, Any],
    found: History,
    beyond: tuple[bool, bool],
    walked: tuple[dict[str, Any], ...],
    row: dict[str, Any],
) -> dict[str, Any]:
    signals = [dict(s) for s in walked]
    if any(beyond):
        signals.insert(0, {
            "signal": "one_block_off", "words": "this block stands apart from the others",
            "source": "prediction limits for block means" if beyond[0] else MANY,
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
    first = that_count(values)
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
    return (
        f"{name}: {told}; {plural(len(off), 'block')} of {len(row['blocks'])} "
        f"stand{'s' if len(off) == 1 else ''} apart, last {off[-1]['build'] or 'a reading'} on "
        f"{day_of(off[-1]['at'], zone)}."
    )
