"""The audit figures: capability by series and window, with intervals, blocks and the reason of every null."""

from dataclasses import asdict
from typing import Any

import numpy as np
import pandas as pd

from qc.capability.nested import capability
from qc.capability.result import Capability
from qc.catalogue import Characteristic, characteristic, said
from qc.gauge.conformity import GUARD_FACTOR
from qc.history import History, history, series_key, that_count
from qc.records import Asked
from qc.reports import doubts
from qc.reports.capability_headline import sentence, window_words
from qc.reports.capability_words import explained
from qc.reports.choices import causes_known, choices
from qc.reports.conditions import conditions
from qc.reports.gauges import GaugeBook
from qc.reports.heads import Heads, Key, counts
from qc.reports.lags import lags, of_known_cause
from qc.reports.question import head
from qc.reports.taken import Taken, of_choice, taken_for
from qc.reports.windows import Window, scaled, split
from qc.reports.words import plain, series_name, span

_OF_WINDOW = ("window", "bores_not_conforming", "bores_undecided")


def answer(store: Any, asked: Asked, *, draws: int = 100_000, wanted: float | None = None) -> dict[str, Any]:
    """Capability of every series the question is about, one row a series and window.

    Parameters
    ----------
    store : qc.store.Store
    asked : Asked
    draws : int
        Of the intervals; fewer only for a quick look, and said in `methods`.
    wanted : float, optional
        Index to be proved; without it the series' own choice, the shop's setting, or 1.33.
    """
    found = history(store, asked)
    known = conditions(store, asked.as_of)
    heads, book = Heads(found, known), GaugeBook(found)
    excluded = found.readings["excluded"].to_numpy(dtype=bool).any()
    both = Heads(history(store, asked, with_excluded=True), known) if excluded else None
    chosen = choices(store, asked.as_of)
    every = Heads(history(store, Asked(as_of=asked.as_of)), known).blocks
    leaning = lags(every, of_known_cause(known, causes_known(chosen)))
    rows: list[dict[str, Any]] = []
    for key in heads.series_keys():
        taken = taken_for(key, chosen.get(key, {}), found.settings, wanted, leaning.get(key, 0.0))
        rows.extend(_series_rows(key, heads, both, book, taken, draws))
    return {**head("capability", found.revision, asked, found.settings), "series": rows}


def _series_rows(
    key: Key, heads: Heads, both: Heads | None, book: GaugeBook, taken: Taken, draws: int
) -> list[dict[str, Any]]:
    found = heads.history
    entry, start = characteristic(key[2]), heads.head(key)
    values = _counted(heads, key)
    parts = split(entry, values, found.specs)
    if not parts:
        return [_without_window(start, values)]
    sound = [part for part in parts if doubts.of_window(part[0]) is None]
    together = scaled(sound) if len(sound) > 1 else None
    rows = []
    for window, mine in [*parts, *([together] if together else [])]:
        row = _row(start, entry, window, mine, heads, book, taken, draws)
        if both is not None and start["left_out"]["excluded"] and not window.scaled:
            row["with_excluded"] = _with_excluded(
                entry, taken.family, window, _counted(both, key), found, draws
            )
        row["explained"] = explained(row, said(row["unit"]))
        row["sentence"] = sentence(row, window_words(row) if len(parts) > 1 else "")
        rows.append(row)
    return rows


def _counted(heads: Heads, key: Key) -> pd.DataFrame:
    values = heads.values.get(key, heads.history.values.iloc[:0])
    return that_count(values).sort_values(["made_at", "order"], kind="stable")


def arranged(values: pd.DataFrame, blocks: pd.DataFrame) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Values sorted by block in the blocks' order, offsets, and where a moving range may be taken.

    No moving range crosses an event, be it one that renews wear or a joint.
    """
    mine = blocks[blocks["block"].isin(set(values["block"]))]
    place = {b: i for i, b in enumerate(mine["block"])}
    code = values["block"].map(place).to_numpy()
    order = np.argsort(code, kind="stable")
    offsets = np.concatenate(([0], np.cumsum(np.bincount(code, minlength=len(mine)))))
    stretch, joint = mine["stretch"].to_numpy(), mine["joint"].to_numpy()
    joined = np.concatenate(([False], (np.diff(stretch) == 0) & (np.diff(joint) == 0)))
    return values["value"].to_numpy(dtype=float)[order], offsets, joined[: len(mine)]


def _row(
    start: dict[str, Any], entry: Characteristic, window: Window, values: pd.DataFrame, heads: Heads,
    book: GaugeBook, taken: Taken, draws: int,
) -> dict[str, Any]:  # fmt: skip
    key = series_key(start)
    x, offsets, joined = arranged(values, heads.blocks[key])
    beyond = _beyond(values["value"], window)
    u = None if window.scaled else book.of_values(entry, values)
    distinct = doubts.steps(entry, values, heads.history)
    result = capability(
        x, offsets, joined, lower=window.lower, upper=window.upper, bounded=window.bounded,
        family=taken.family,
        outside=int(beyond.sum()), condition=start["condition"], gauge_uncertainty=u, draws=draws,
        wanted=taken.wanted, doubt=doubts.of_window(window) or doubts.of_steps(distinct),
    )  # fmt: skip
    row = {
        **start,
        **counts(values, len(offsets) - 1),
        "unit": "share" if window.scaled else start["unit"],
        "window": {**asdict(window), "sources": list(window.sources)},
        **_figures(result),
        "lag1": taken.lag1,
        "warnings": doubts.warnings(
            values, window, book, lag=taken.lag1, distinct=distinct, unit=start["unit"]
        ),
        "bores_not_conforming": int((values["conforms"] == False).sum()),  # noqa: E712  None is neither
        "bores_undecided": _undecided(values, window, book.of_readings(entry, values)),
        "reworked": _reworked(heads, key, values),
    }
    if row["bores_undecided"] is None:
        row["not_given"]["bores_undecided"] = "the gauge's standard uncertainty is not known"
    if window.scaled and row["gauge_free"] is None:
        row["not_given"]["gauge_free"] = "given in the rows of the single windows"
    of_choice(row, taken, x, window)
    _say_pooled(row, values)
    return row


def _beyond(value: pd.Series, window: Window) -> np.ndarray:
    x = value.to_numpy(dtype=float)
    low = -np.inf if window.lower is None else window.lower
    high = np.inf if window.upper is None else window.upper
    return (x < low - 1e-6) | (x > high + 1e-6)


def _say_pooled(row: dict[str, Any], values: pd.DataFrame) -> None:
    """Say which materials share the row: they are never pooled unsaid."""
    materials = sorted({m for m in values["material"] if isinstance(m, str)})
    if len(materials) > 1:
        row["methods"]["pooled"] = f"materials together: {', '.join(materials)}"


def _undecided(values: pd.DataFrame, window: Window, u: np.ndarray) -> int | None:
    """Bores with a local size within the guard band of a limit, none of them clearly outside."""
    if np.isnan(u).any():
        return None
    g = GUARD_FACTOR * u
    if window.scaled:
        g = g / values["half"].to_numpy(dtype=float)
    least, greatest = values["least"].to_numpy(dtype=float), values["greatest"].to_numpy(dtype=float)
    low = -np.inf if window.lower is None else window.lower
    high = np.inf if window.upper is None else window.upper
    clearly_out = (least < low - g) | (greatest > high + g)
    clearly_in = (least >= low + g) & (greatest <= high - g)
    return int((~clearly_out & ~clearly_in).sum())


def _reworked(heads: Heads, key: Key, values: pd.DataFrame) -> int:
    every = heads.values[key]
    again = every[every["pass_no"] > 1]
    mine = set(zip(values["block"], values["feature"], strict=True))
    return len(set(zip(again["block"], again["feature"], strict=True)) & mine)


def _figures(result: Capability) -> dict[str, Any]:
    """The figures of a capability result under the keys of the contract."""
    raw = asdict(result)
    for name in ("pp_interval", "ppk_interval", "cp_interval", "cpk_interval"):
        raw[name] = span(getattr(result, name))
    raw["not_given"] = dict(result.not_given)
    return plain(raw)


def _without_window(start: dict[str, Any], values: pd.DataFrame) -> dict[str, Any]:
    reason = (
        "no specification with limits is in force for it: add one with qc spec add, or a specifications file"
    )
    if not len(values):
        reason = "no complete bore of the first pass has a value yet"
    nothing: dict[str, Any] = dict.fromkeys(Capability.__dataclass_fields__)
    blocks = values["block"].nunique() if len(values) else 0
    row = {
        **start, **nothing, **counts(values, blocks), "window": None, "bores": len(values),
        "bores_not_conforming": None, "bores_undecided": None, "reworked": 0,
        "outside": {"counted": None, "predicted": None}, "methods": {},
        "not_given": {**start["not_given"], **dict.fromkeys((*nothing, *_OF_WINDOW), reason)},
    }  # fmt: skip
    row["not_given"] = {k: why for k, why in row["not_given"].items() if row.get(k) is None}
    row["sentence"] = f"{series_name(row)}: no index, {reason}."
    row |= {"explained": {}, "warnings": []}
    return plain(row)


def _with_excluded(
    entry: Characteristic, family: str, window: Window, values: pd.DataFrame, found: History, draws: int
) -> dict[str, Any] | None:
    """The same window's figures with the excluded readings counted."""
    for other, mine in split(entry, values, found.specs):
        if (other.lower, other.upper) == (window.lower, window.upper):
            order = mine.sort_values("made_at", kind="stable")
            blocks = order.drop_duplicates("block")[["block"]].assign(stretch=0, joint=0)
            x, offsets, joined = arranged(order, blocks)
            result = capability(x, offsets, joined, lower=window.lower, upper=window.upper, draws=draws,
                                bounded=window.bounded, family=family)  # fmt: skip
            return plain({"bores": result.bores, "mean": result.mean, "spread_all": result.spread_all,
                          "pp": result.pp, "ppk": result.ppk,
                          "ppk_interval": span(result.ppk_interval)})  # fmt: skip
    return None
