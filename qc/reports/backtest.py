"""Back-test: what drift would have told block by block, how early, how often for nothing, how right."""

from collections.abc import Iterator
from typing import Any

import numpy as np
from scipy.special import chdtri

from qc.catalogue import EVENTS, said
from qc.drift.past import Alarm, Past, past
from qc.history import history, series_id
from qc.history.zone import iso, shop_zone
from qc.records import Asked
from qc.reports.beside import Beside
from qc.reports.conditions import NOT_WORN, judged, series_blocks
from qc.reports.heads import Heads, Key
from qc.reports.question import head
from qc.reports.words import day, interval, number, plain, plural
from qc.stats.levels import false_alarms
from qc.stats.proportions import clopper_pearson

US_A_DAY = 86_400_000_000
MONTH = 365.25 * US_A_DAY / 12
TIMES = (1.0, 0.3, 3.0)
"""Settings that are tried: the alarm level in force, a third of it, three times it."""
SOON_AFTER = 3
"""Blocks after an alarm's end up to which an event explains it: it may be logged late (own choice)."""


class Backtest:
    """The replay of a shop's history; `steps` does it, `document` tells what is done so far."""

    def __init__(self, store: Any, asked: Asked) -> None:
        self.asked, self.whole = asked, history(store, asked)
        self.known = judged(store, asked.as_of)
        heads = Heads(self.whole, self.known.by_series)
        self.keys = [key for key in heads.series_keys() if key in self.known.by_series]
        self.beside = Beside(self.whole, shop_zone(self.whole.settings))
        self.pasts: dict[float, dict[Key, Past]] = {}
        self.total = len(TIMES) * len(self.keys)

    def steps(self) -> Iterator[tuple[int, int]]:
        """Replay one series at one setting after the other; how many are done, of how many."""
        done = 0
        for times in TIMES:
            mine = self.pasts.setdefault(times, {})
            for key in self.keys:
                one = self.known.by_series[key]
                series = series_blocks(key, one.blocks, self.beside)
                mine[key] = past(series, times * self.known.level, one.judgement.lag1)
                done += 1
                yield done, self.total

    def document(self) -> dict[str, Any]:
        """The answer: for each setting alarms, what came of them, events and forecasts."""
        out = head("backtest", self.whole.revision, self.asked, self.whole.settings)
        done = sum(len(mine) for mine in self.pasts.values())
        settings = [self._setting(times, mine) for times, mine in self.pasts.items() if mine]
        return plain({
            **out, "complete": done == self.total, "replayed": done, "of": self.total,
            "series": len(self.keys), "settings": settings,
            "methods": {
                "alarms": "conditions as of each block from the blocks before it; gauges' shifts left in",
                "for_nothing": "alarms that ended by themselves, no event of that machine or its gauges from "
                "their first block to 3 blocks after their last",
                "forecasts": "90 % intervals every second block from the third of a stretch on; a stretch "
                "renewed before its limit says nothing unless it outlived the interval",
            },
        })  # fmt: skip

    def _setting(self, times: float, mine: dict[Key, Past]) -> dict[str, Any]:
        alarms = [(key, a) for key, p in mine.items() for a in p.alarms]
        explained = [(key, a, self._event_of(key, a)) for key, a in alarms]
        standing = sum(a.stands for _, a in alarms)
        nothing = sum(not a.stands and e is None for _, a, e in explained)
        months = self._months(mine)
        forecasts = [f for p in mine.values() for f in p.forecasts]
        level = times * self.known.level
        row = {
            "times_the_level": times, "level": level,
            "false_alarms_a_month": false_alarms(level, self.known.blocks_a_month), "months": months,
            "alarms": len(alarms), "standing": standing, "before_an_event": len(alarms) - standing - nothing,
            "for_nothing": nothing, "for_nothing_a_month": _rate(nothing, months),
            "forecasts": _coverage(forecasts), "events": self._events(explained),
        }  # fmt: skip
        return row | {"sentence": _sentence(row)}

    def _months(self, mine: dict[Key, Past]) -> float:
        at = [self.known.by_series[key].blocks["at"] for key in mine]
        return max((max(t.max() for t in at) - min(t.min() for t in at)) / MONTH, 1.0) if at else 1.0

    def _mine(self, key: Key) -> list[Any]:
        """Events of a series' machine, or of a gauge that read it."""
        gauges = {g for gs in self.known.by_series[key].blocks["gauges"] for g in gs} | {key[0]}
        own = [e for e in self.whole.events if e.machine == key[0] and e.operation in (None, key[1])]
        return own + [e for e in self.whole.events if e.gauge in gauges]

    def _event_of(self, key: Key, alarm: Alarm) -> Any:
        """First event from an alarm's first block to a little after its last, or None."""
        at = self.known.by_series[key].blocks["at"].to_numpy()
        end = at[min(alarm.last + SOON_AFTER, at.size - 1)] if alarm.last + 1 < at.size else np.inf
        near: list[Any] = [e for e in self._mine(key) if at[alarm.first] <= e.at <= end]
        return min(near, key=lambda e: e.at) if near else None

    def _events(self, explained: list[tuple[Key, Alarm, Any]]) -> list[dict[str, Any]]:
        """Each event with the earliest alarm before it, blocks and days ahead; quiet ones without."""
        zone, out = shop_zone(self.whole.settings), []
        for event in sorted(self._asked_events(), key=lambda e: e.at):
            mine = [(key, a) for key, a, e in explained if e is event and self._at(key, a) <= event.at]
            first = min(mine, key=lambda one: self._at(*one)) if mine else None
            row = {
                "event": event.event, "machine": event.machine, "gauge": event.gauge, "at": iso(event.at),
                "effect": EVENTS[event.event].effect if event.event in EVENTS else None, "seen": bool(mine),
                "series": series_id(first[0]) if first else None,
                "condition": first[1].condition if first else None,
                "seen_at": iso(self._at(*first)) if first else None,
                "days_before": (event.at - self._at(*first)) / US_A_DAY if first else None,
                "blocks_before": self._blocks_between(first, event.at) if first else None,
            }  # fmt: skip
            out.append(row | {"sentence": _event_words(row, day(event.at, zone))})
        return out

    def _asked_events(self) -> list[Any]:
        near = {id(e): e for key in self.keys if key[1] not in NOT_WORN for e in self._mine(key)}
        return list(near.values())

    def _at(self, key: Key, alarm: Alarm) -> int:
        return int(self.known.by_series[key].blocks["at"].iloc[alarm.first])

    def _blocks_between(self, one: tuple[Key, Alarm], until: int) -> int:
        at = self.known.by_series[one[0]].blocks["at"].to_numpy()
        return int((at < until).sum()) - one[1].first


def _rate(count: int, months: float) -> dict[str, Any]:
    """Count a month with its exact interval (Garwood 1936, Poisson)."""
    lower = float(chdtri(2 * count, 0.975)) / 2 if count else 0.0
    upper = float(chdtri(2 * count + 2, 0.025)) / 2
    ends = {"lower": lower / months, "upper": upper / months, "confidence": 0.95}
    return {"value": count / months, "interval": ends}


def _coverage(forecasts: list[Any]) -> dict[str, Any]:
    known = [f for f in forecasts if f.held is not None]
    held = sum(bool(f.held) for f in known)
    ends = clopper_pearson(held, len(known)) if known else None
    return {
        "told": len(forecasts), "judged": len(known), "held": held,
        "share": held / len(known) if known else None,
        "interval": None if ends is None else {"lower": ends.lower, "upper": ends.upper, "confidence": 0.95},
        "open": sum(f.open for f in forecasts),
    }  # fmt: skip


def _sentence(row: dict[str, Any]) -> str:
    rate, told = row["for_nothing_a_month"], row["forecasts"]
    ends = interval(rate["interval"]["lower"], rate["interval"]["upper"])
    joints = [e for e in row["events"] if e["effect"] == "joint"]
    seen, repairs = (sum(e["seen"] for e in events) for events in (row["events"], joints))
    parts = [
        f"At {number(row['times_the_level'], 1)} times the level in force: {plural(row['alarms'], 'alarm')} "
        f"in {number(row['months'], 0)} months, {row['before_an_event']} before an event, "
        f"{row['standing']} standing, {row['for_nothing']} that nothing explains "
        f"({number(rate['value'], 2)} a month, {ends}; meant: {number(row['false_alarms_a_month'], 2)}).",
        f"{seen} of {plural(len(row['events']), 'event')} seen before, "
        f"{repairs} of {len(joints)} among repairs and settings.",
    ]
    if told["judged"]:
        parts.append(f"{told['held']} of {told['judged']} forecasts held that can be judged.")
    return " ".join(parts)


def _event_words(row: dict[str, Any], when: str) -> str:
    what = f"{said(row['event'])} of {row['machine'] or row['gauge']}, {when}"
    if not row["seen"]:
        return f"{what}: nothing was seen before."
    blocks, days = plural(row["blocks_before"], "block"), plural(round(row["days_before"]), "day")
    return f"{what}: seen {blocks} and {days} before in {row['series']} ({row['condition']})."
