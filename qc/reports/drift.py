"""Drift: which machine is leaving its tolerance, since when, and how many bores are left before the limit."""

from collections.abc import Mapping
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from qc.catalogue import characteristic
from qc.history import history, series_key
from qc.history.zone import iso, shop_zone
from qc.records import Asked
from qc.reports.conditions import NOT_WORN, Condition, judged
from qc.reports.forecasts import forecast, missing
from qc.reports.heads import Heads, Key
from qc.reports.matter_rows import Telling
from qc.reports.proposals import proposed_events
from qc.reports.question import head
from qc.reports.shifts import Shift
from qc.reports.words import day, interval, listed, number, plain, series_name, span
from qc.stats.levels import false_alarms
from qc.stretches import renewals

URGENT = ("drifting", "stepped", "scattered")


def answer(store: Any, asked: Asked, within: int | None = None) -> dict[str, Any]:
    """Every series the question is about, most urgent first.

    The chance of a crossing is told ``within`` so many bores or blocks, else up to the usual change.

    Urgent are the series that are neither steady nor thin, by the share of their blocks that is left before
    the limit; then those that will meet it before their usual change; then the steady and the thin.
    """
    found = history(store, asked)
    known = judged(store, asked.as_of)
    heads = Heads(found, known.by_series)
    rows = [
        _row(key, heads, known.by_series, within) for key in heads.series_keys() if key in known.by_series
    ]
    rows.sort(key=_urgency)
    matters = Telling(store, asked.as_of, known)
    for row in rows:
        row["matter"] = matters.of_row(series_key(row))
        if row["matter"] is None:
            row["not_given"]["matter"] = "it never had an alarm"
    out = head("drift", found.revision, asked, found.settings)
    out["alarm_level"] = {
        "level": known.level, "blocks_a_month": known.blocks_a_month,
        "false_alarms_a_month": false_alarms(known.level, known.blocks_a_month),
    }  # fmt: skip
    out["gauges"] = [_gauge(s, shop_zone(found.settings)) for s in known.shifts]
    return plain({**out, "matters": matters.all(rows, out["gauges"]), "series": rows})


def _gauge(shift: Shift, zone: ZoneInfo) -> dict[str, Any]:
    """A shift put down to a gauge, or one that cannot be told from a machine's."""
    how = "too much" if shift.amount > 0 else "too little"
    until = "" if shift.to_at is None else f" to {day(shift.to_at, zone)}"
    seen = [*shift.machines, *(["its master"] if shift.master_seen else [])]
    told = f"{shift.gauge} read {number(abs(shift.amount))} um {how} from {day(shift.from_at, zone)}"
    if shift.to_at is None:
        told = f"Re-set {shift.gauge}: it reads {number(abs(shift.amount))} um {how} since " + day(
            shift.from_at, zone
        )
    else:
        told += until
    alike = f", seen alike on {listed(seen)}; doubt what it passed then."
    if not shift.decided:
        begun = f"{'from' if until else 'since'} {day(shift.from_at, zone)}{until}"
        moved = f"{number(abs(shift.amount))} um {'larger' if shift.amount > 0 else 'smaller'}"
        told, alike = f"What {shift.gauge} reads is {moved} {begun}", f": {shift.words}."
    return {
        "gauge": shift.gauge, "from": iso(shift.from_at), "to": iso(shift.to_at), "amount": shift.amount,
        "interval": span(shift.interval), "unit": "um", "machines": list(shift.machines),
        "master_seen": shift.master_seen, "words": shift.words, "sentence": told + alike,
        "cause": {"kind": "gauge" if shift.decided else "unknown", "id": shift.gauge},
    }  # fmt: skip


def _urgency(row: dict[str, Any]) -> tuple[Any, ...]:
    left = row["bores_to_limit"] or {}
    median = left.get("median")
    share = np.inf if median is None else median / (row["_per_block"] or 1.0)
    rank = {"drifting": 0, "stepped": 0, "scattered": 1, "steady": 3, "thin": 4}[row["condition"]]
    if row["condition"] == "stepped" and median is None:
        rank = 1
    if row["condition"] == "steady" and row["change_early"]:
        rank = 2
    return rank, share, row.pop("_per_block") is None, row["id"]


def _row(key: Key, heads: Heads, known: Mapping[Key, Condition], within: int | None) -> dict[str, Any]:
    one = known[key]
    found, j, blocks = heads.history, one.judgement, one.blocks
    entry = characteristic(key[2])
    row = heads.head(key)
    since = blocks.iloc[j.since] if j.since is not None else None
    row["since"] = {
        "at": iso(since["at"]) if since is not None else None,
        "build": since["build"] if since is not None and isinstance(since["build"], str) else None,
    }  # fmt: skip
    row["stretch"] = _stretch(key, blocks, found)
    row.update(
        slope=j.slope, slope_per=j.slope_per, slope_interval=span(j.slope_interval),
        usual_slope=j.usual_slope,
        usual_stretch=j.usual_stretch, toward=j.toward, limit=j.limit, bores_to_limit=_left(j.bores_to_limit),
        change_early=j.change_early, lag1=j.lag1, matter=None,
    )  # fmt: skip
    row["signals"] = [{k: v for k, v in s.items() if k != "block"} for s in one.signals]
    row.update(forecast(j, blocks, within), evidence=one.evidence)
    row["level_changes"] = [
        {"at": iso(blocks["at"].iloc[b]), "build": blocks["build"].iloc[b], "amount": a} for b, a in j.changes
    ]
    row["proposed_events"] = proposed_events(key, known, found.events, shop_zone(found.settings))
    row["not_given"] = _not_given(row, entry.wears and key[1] not in NOT_WORN)
    row["methods"] = {
        "condition": "steps, slopes and grown spread as of the last block, at the alarm level; a shift put "
        "down to a gauge is taken out first",
        "slope": "generalised least squares on block means, lag-1 pooled over like series; t interval",
        "bores_to_limit": "crossing of the expected block mean with the nearer limit, 90 % interval; "
        "slope and level drawn to those of earlier stretches, averaged over how far stretches may differ",
        "level_changes": "exact division into levels, single wild blocks, declared levels and usual wear "
        "taken off; a series that kept its level shows one in about 5 of 100 cases",
        "evidence": "operators, engine families, temperature and hour of the blocks, each held against the "
        "change at the alarm level",
    }  # fmt: skip
    row["sentence"] = sentence(row, heads)
    made = blocks["made"].to_numpy(dtype=float)
    row["_per_block"] = float(np.median(made[-10:])) if entry.wear_unit == "bores" else 1.0
    return row


def _left(left: Any) -> dict[str, Any] | None:
    if left is None:
        return None
    return {"median": left.median, "lower": left.lower, "upper": left.upper, "confidence": left.confidence,
            "of": left.of}  # fmt: skip


def _stretch(key: Key, blocks: Any, found: Any) -> dict[str, Any]:
    last = int(blocks["stretch"].iloc[-1])
    mine = blocks[blocks["stretch"] == last]
    near = renewals(found.events, characteristic(key[2]), key[0], key[1])
    event = near[last - 1] if last else None
    return {
        "began_at": iso(event.at if event else mine["at"].iloc[0]), "event": event.event if event else None,
        "bores": int(mine["made"].sum()), "blocks": len(mine),
    }  # fmt: skip


def _not_given(row: dict[str, Any], wears: bool) -> dict[str, str]:
    out: dict[str, str] = {}
    if row["slope"] is None:
        out["slope"] = "fewer than 3 blocks in this stretch"
    if row["slope_interval"] is None:
        out["slope_interval"] = "fewer than 3 blocks in this stretch"
    if row["bores_to_limit"] is None:
        out["bores_to_limit"] = (
            "no limit or too few blocks in this stretch" if wears else "it does not wear and is not drifting"
        )
    elif row["bores_to_limit"]["upper"] is None:
        out["bores_to_limit.upper"] = "no end within the interval"
    out |= missing(row, out)
    return out


def _cure(row: dict[str, Any]) -> str:
    """What to do first, in the trade's words."""
    entry = characteristic(row["characteristic"])
    if row["condition"] == "drifting":
        if entry.wears:
            renewing = {"stones_changed": "dress or change the stones", "insert_changed": "change the insert",
                        "wheel_dressed": "dress the wheel", "bar_set_up": "set up the bar"}  # fmt: skip
            last = row["stretch"]["event"]
            what = renewing.get(last) or renewing.get(entry.restarts_wear[0], "renew what wears")
            return (
                f"{what[0].upper()}{what[1:]} of {row['machine']}"
                if "stones" in what
                else (f"{what[0].upper()}{what[1:]} on {row['machine']}")
            )
        return f"Find what moves on {row['machine']}"
    if row["condition"] == "stepped":
        return f"Find what changed on {row['machine']}"
    if row["condition"] == "scattered":
        return f"Find what became uneven on {row['machine']}"
    return ""


def sentence(row: dict[str, Any], heads: Heads) -> str:
    """What to do, then why, then how sure."""
    name, zone = series_name(row), shop_zone(heads.history.settings)
    if row["condition"] not in URGENT:
        early = " Change early: the limit comes before the usual change." if row["change_early"] else ""
        return f"{name}: {row['condition']}, {row['why']}.{early}"
    at = row["since"]["at"]
    since = f" since {day(_us(at), zone)}" if at else ""
    left = row["bores_to_limit"]
    sure = ""
    if left and left["median"] and row["condition"] != "drifting":
        ends = interval(left["lower"], left["upper"], 0)
        sure = f" About {number(left['median'], 0)} {left['of']} left, {ends}."
    return f"{_cure(row)}: {_what(row)} {row['condition']}{since}, {row['why']}.{sure}"


def _what(row: dict[str, Any]) -> str:
    """The series without its machine, which the cure has named."""
    return series_name(row).removeprefix(f"{row['machine']}, ")


def _us(text: str) -> int:
    from datetime import datetime

    from qc.history.zone import microseconds

    return microseconds(datetime.fromisoformat(text))
