"""Shifts put down to gauges, found over all machines at once, taken out before machines are judged."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from qc.catalogue import CATALOGUE, characteristic
from qc.drift import SeriesBlocks
from qc.drift.alike import pooled_lag
from qc.drift.attribution import GaugeEvidence, GaugeShift, attribute
from qc.drift.ownchange import Member
from qc.history import History
from qc.reports.heads import Key, groups
from qc.stats.intervals import Interval

US_A_DAY = 86_400_000_000
LEAST_BLOCKS, MOST_FOR_LAG = 8, 20
# how often, and with which sign, a part enters the clearances it is a part of
_INTO = {
    "bore_diameter": 1.0, "shell_bore": 1.0, "tunnel_diameter": 1.0, "rod_bore_diameter": 1.0,
    "shell_wall": -2.0,
    "journal_diameter": -1.0, "pin_diameter": -1.0, "piston_diameter": -1.0,
}  # fmt: skip
_CLEARANCES = ("main_clearance", "rod_clearance", "piston_clearance")


@dataclass(frozen=True, slots=True)
class Shift:
    """A shift of what a gauge reads [um], from and to times in microseconds, and the series it touches."""

    gauge: str
    decided: bool
    from_at: int
    to_at: int | None
    amount: float
    interval: Interval
    words: str
    source: str
    machines: tuple[str, ...]
    master_seen: bool
    touched: frozenset[Key]

    def within(self, at: np.ndarray) -> np.ndarray:
        """Which of some times in microseconds lie inside it."""
        end = np.inf if self.to_at is None else self.to_at
        return (at >= self.from_at) & (at <= end)


def shifts_of(whole: History, series: Mapping[Key, SeriesBlocks], level: float) -> list[Shift]:
    """Shifts of every gauge of the shop, present and past.

    A reading not used for sizing, in two machines or with the gauge's master, is what tells a gauge from a
    machine.
    """
    tables = groups(whole.blocks)
    reads = readers(tables)
    out: list[Shift] = []
    for gauge, keys in sorted(reads.items()):
        members = tuple(_member(k, gauge, series[k], tables[k]) for k in keys)
        master = next((series[k] for k in series if k[0] == gauge and k[2] == "master_check"), None)
        if sum(m.read.sum() for m in members if not m.form and not m.sized_with_it) < LEAST_BLOCKS:
            continue
        evidence = GaugeEvidence(gauge, members, master)
        lag1 = _lag_of([m.series for m in members if not m.form and not m.sized_with_it])
        out.extend(
            _shift(found, gauge, keys, tables, members)
            for found in attribute([evidence], level=level, lag1=lag1)
        )
    return out


def _lag_of(series: list[SeriesBlocks]) -> float:
    """Lag-1 of what one gauge reads, to the nearest 0.05, from the longest of its series."""
    longest = sorted(series, key=lambda one: -len(one.means))[:MOST_FOR_LAG]
    return round(20 * pooled_lag(longest)) / 20


def undecidable(key: Key, reads: Mapping[str, list[Key]], tables: Mapping[Key, pd.DataFrame]) -> str | None:
    """Gauge from which a step of this series cannot be told apart: it reads one machine and no master.

    None for form, for what was sized with the gauge, and where another machine or a master can tell.

    Parameters
    ----------
    key : tuple
        Identity of the series.
    reads : mapping
        From `readers`.
    tables : mapping of key to DataFrame
    """
    if not CATALOGUE[key[2]].coded:
        return None
    latest = tables[key]["gauges"].iloc[-1]
    if len(latest) != 1 or latest[0] in tables[key]["sized_with"].iloc[-1]:
        return None
    others = {k[0] for k in reads.get(latest[0], []) if CATALOGUE[k[2]].coded}
    mastered = any(k[0] == latest[0] and k[2] == "master_check" for k in tables)
    return str(latest[0]) if others == {key[0]} and not mastered else None


def readers(tables: Mapping[Key, pd.DataFrame]) -> dict[str, list[Key]]:
    """Series of sizes and of form that each gauge reads."""
    out: dict[str, list[Key]] = {}
    for key, blocks in tables.items():
        entry = characteristic(key[2])
        sized = entry.coded and entry.kind == "length" and not entry.made_of
        formed = not entry.coded and entry.made_of
        if key[2] == "master_check" or not (sized or formed):
            continue
        for gauge in sorted({g for gs in blocks["gauges"] for g in gs}):
            out.setdefault(gauge, []).append(key)
    return out


def _member(key: Key, gauge: str, series: SeriesBlocks, blocks: pd.DataFrame) -> Member:
    read = np.array([gs == (gauge,) for gs in blocks["gauges"]], dtype=bool)
    sized = np.array([gauge in gs for gs in blocks["sized_with"]], dtype=bool)
    return Member(
        series, key[0], read, sized_with_it=bool(sized.mean() > 0.5), form=not CATALOGUE[key[2]].coded
    )


def _shift(
    found: GaugeShift,
    gauge: str,
    keys: list[Key],
    tables: Mapping[Key, pd.DataFrame],
    members: tuple[Member, ...],
) -> Shift:
    measured = {k for k, m in zip(keys, members, strict=True) if not m.form and not m.sized_with_it}
    fitted = {
        k for k, blocks in tables.items()
        if k[2] in _CLEARANCES and any(gauge in gs for gs in blocks["gauges"])
    }  # fmt: skip
    end = None if found.to_at is None else round(found.to_at * US_A_DAY)
    shift = Shift(
        gauge, found.cause == "gauge", round(found.from_at * US_A_DAY), end, found.amount_um,
        found.interval, found.words,
        "scan of everything read with one gauge", found.machines, found.master_seen, frozenset(),
    )  # fmt: skip
    touched = {k for k in measured | fitted if shift.within(tables[k]["at"].to_numpy(dtype=float)).any()}
    return replace(shift, touched=frozenset(touched))


def taken_out(series: SeriesBlocks, blocks: pd.DataFrame, shifts: list[Shift]) -> SeriesBlocks:
    """The series with its gauges' shifts taken out, so that a gauge does not touch a machine's condition.

    A shift that cannot be told from the machine's stays in.
    """
    means = np.array(series.means, dtype=float)
    at = blocks["at"].to_numpy(dtype=float)
    for shift in shifts:
        if shift.decided and series.key in shift.touched:
            read = np.array([shift.gauge in gs for gs in blocks["gauges"]], dtype=bool)
            means[read & shift.within(at)] -= _factor(series.key, shift) * shift.amount
    return replace(series, means=means)


def _factor(key: Key, shift: Shift) -> float:
    """How a shift of a gauge enters a series: once in a size, by the sign of its part in a clearance."""
    if key[2] not in _CLEARANCES:
        return 1.0
    parts = {k[2] for k in shift.touched if k[2] in _INTO} & set(CATALOGUE[key[2]].made_of)
    return sum(_INTO[p] for p in parts)
