"""Condition of every series of the shop, judged together: the alarm level and the gauges are shared."""

from collections import OrderedDict
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from qc.catalogue import characteristic
from qc.drift import Judgement, SeriesBlocks, Signal
from qc.history import History, history
from qc.history.compose import identity
from qc.history.zone import iso, shop_zone
from qc.records import Asked
from qc.reports.beside import Beside
from qc.reports.causes import KINDS, change_of, evidence, gauge_or_machine
from qc.reports.heads import Key, groups
from qc.reports.judgements import judgements
from qc.reports.shifts import Shift, readers, shifts_of, taken_out, undecidable
from qc.reports.windows import physical
from qc.stats.levels import alarm_level

US_A_DAY = 86_400_000_000
YEAR = 365.25 * US_A_DAY
NOT_WORN = ("receive", "fit", "check")
OFF = (*KINDS, "one_block_off")
_KEPT: "OrderedDict[tuple[object, ...], tuple[pd.DataFrame, Conditions]]" = OrderedDict()
_KEEP = 4


@dataclass(frozen=True, slots=True)
class Condition:
    """What is judged of one series, with its blocks and the gauge shifts that were taken out first."""

    condition: str
    why: str
    judgement: Judgement
    blocks: pd.DataFrame
    shifts: tuple[Shift, ...]
    signals: tuple[dict[str, Any], ...]
    evidence: dict[str, Any] | None = None

    @property
    def signals_by_block(self) -> dict[str, tuple[dict[str, Any], ...]]:
        """Signals at the block they began with."""
        out: dict[str, tuple[dict[str, Any], ...]] = {}
        for signal in self.signals:
            out[signal["block"]] = (*out.get(signal["block"], ()), signal)
        return out


@dataclass(frozen=True, slots=True)
class Conditions:
    """Conditions by series, the alarm level behind them, and the blocks a month it is spread over."""

    by_series: dict[Key, Condition]
    level: float
    blocks_a_month: float
    shifts: tuple[Shift, ...]


def conditions(store: Any, as_of: int | None = None) -> dict[Key, Condition]:
    """Condition of every series as of a revision."""
    return judged(store, as_of).by_series


def judged(store: Any, as_of: int | None = None) -> Conditions:
    """Conditions with the alarm level behind them; kept until the store has a newer revision."""
    whole = history(store, Asked(as_of=as_of))
    key = (*identity(store), whole.revision)
    if key not in _KEPT:
        # what people say of matters is a revision too, and leaves the very same blocks
        same = [found for blocks, found in _KEPT.values() if blocks is whole.blocks]
        _KEPT[key] = (whole.blocks, same[0] if same else _judged(store, whole))
        while len(_KEPT) > _KEEP:
            _KEPT.popitem(last=False)
    return _KEPT[key][1]


def _judged(store: Any, whole: History) -> Conditions:
    tables = groups(whole.blocks)
    month = blocks_a_month(tables)
    told = whole.settings.get("false_alarms_a_month")
    level = alarm_level(float(told) if told else None, month)
    beside = Beside(whole, shop_zone(whole.settings))
    plain = {key: series_blocks(key, blocks, beside) for key, blocks in tables.items()}
    shifts = shifts_of(whole, plain, level)
    cleared = [taken_out(plain[key], tables[key], shifts) for key in tables]
    found = judgements(store, cleared, level)
    reads = readers(tables)
    clear = dict(zip(tables, cleared, strict=True))
    out = {}
    for key, one in zip(tables, found, strict=True):
        mine = tuple(s for s in shifts if key in s.touched)
        series = clear[key]
        follows = evidence(key, series, tables[key], one, beside)
        doubted = undecidable(key, reads, tables)
        follows = follows or gauge_or_machine(one, doubted)
        seen = signals(one, tables[key], mine, follows, doubted)
        out[key] = Condition(one.condition, one.why, one, tables[key], mine, seen, follows)
    return Conditions(out, level, month, tuple(shifts))


def blocks_a_month(tables: dict[Key, pd.DataFrame]) -> float:
    """Blocks a month over the last 12 months of all series that are not thin (8 blocks or more)."""
    latest = max((b["at"].max() for b in tables.values()), default=0)
    counted = [b["at"] for b in tables.values() if len(b) >= 8]
    n = sum(int((at > latest - YEAR).sum()) for at in counted)
    first = min((at.min() for at in counted), default=latest)
    months = max(1.0, min(12.0, (latest - first) / YEAR * 12))
    return n / months


def series_blocks(key: Key, blocks: pd.DataFrame, beside: Beside | None = None) -> SeriesBlocks:
    """Blocks of a series as the drift calculations take them, with what stands beside them where it wears."""
    entry = characteristic(key[2])
    wears = entry.wears and key[1] not in NOT_WORN
    last = blocks.iloc[-1]
    lower = physical(entry, np.array([last["lower_limit"]], dtype=float))[0]
    repair = blocks["repair"].to_numpy()
    return SeriesBlocks(
        key=key,
        means=blocks["mean"].to_numpy(dtype=float),
        bores=blocks["bores"].to_numpy(dtype=float),
        spreads=blocks["spread"].to_numpy(dtype=float),
        wear=blocks["wear"].to_numpy(dtype=float),
        stretch=blocks["stretch"].to_numpy(dtype=int),
        joint=blocks["joint"].to_numpy(dtype=int),
        at=blocks["at"].to_numpy(dtype=float) / US_A_DAY,
        builds=tuple(b if isinstance(b, str) else "" for b in blocks["build"]),
        lower=None if np.isnan(lower) else float(lower),
        upper=None if np.isnan(last["upper_limit"]) else float(last["upper_limit"]),
        wears=wears,
        wear_unit=entry.wear_unit,
        since_block=int(np.argmax(repair == repair[-1])),
        unit=entry.unit,
        covariates=beside.covariates(key, blocks) if beside is not None and wears else None,
    )


def signals(
    one: Judgement,
    blocks: pd.DataFrame,
    shifts: tuple[Shift, ...],
    told: dict[str, Any] | None = None,
    doubted: str | None = None,
) -> tuple[dict[str, Any], ...]:
    """Signals of a series in order of time, with the block they began with and their cause.

    What the present change follows is the cause of its own signal; ``doubted`` is a gauge that cannot be
    told from the machine in the blocks it read.
    """
    machine = one.key[0] if one.key[1] not in NOT_WORN else None
    usual = {"kind": "machine", "id": machine} if machine else {"kind": "unknown", "id": None}
    follows = None if told is None else {"kind": told["kind"], "id": told["id"]}
    change = change_of(one)

    def cause(s: Signal) -> dict[str, Any]:
        if follows and change and s.block == change[0] and s.kind in KINDS:
            return follows
        if doubted and s.kind in OFF and blocks["gauges"].iloc[s.block] == (doubted,):
            return {"kind": "unknown", "id": doubted}
        return usual

    rows = [_signal(blocks, s.block, s.kind, s.source, s.words, cause(s)) for s in one.signals]
    for shift in shifts:
        first = int(np.argmax(blocks["at"].to_numpy() >= shift.from_at))
        kind = "gauge" if shift.decided else "unknown"
        rows.append(
            _signal(
                blocks, first, "gauge_shift", shift.source, shift.words, {"kind": kind, "id": shift.gauge}
            )
        )
    return tuple(sorted(rows, key=lambda r: r["at"]))


def _signal(
    blocks: pd.DataFrame, at: int, kind: str, source: str, words: str, cause: dict[str, Any]
) -> dict[str, Any]:
    block = blocks.iloc[at]
    return {
        "at": iso(block["at"]), "build": block["build"] if isinstance(block["build"], str) else None,
        "block": block["block"], "signal": kind, "source": source, "words": words, "cause": cause,
    }  # fmt: skip
