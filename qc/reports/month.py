"""The month: is this month's work as consistent as last month's, on each machine?"""

import re
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from qc.catalogue import CATALOGUE, EVENTS, Characteristic, characteristic, said
from qc.compare.spread import block_to_block, holm, level, spread_in_block, words
from qc.errors import QuestionError, TooLittleData
from qc.history import History, history, selected
from qc.history.zone import iso, shop_zone
from qc.records import Asked
from qc.reports.gauges import GaugeBook
from qc.reports.question import head, span
from qc.reports.words import interval, listed, number, plain, plural
from qc.reports.words import span as as_span
from qc.stats.proportions import clopper_pearson

Group = tuple[str, str, str]


def answer(store: Any, month: str, asked: Asked) -> dict[str, Any]:
    """One row a machine, operation and state that worked in the month.

    Parameters
    ----------
    month : str
        "2026-05", in the shop's zone.

    Raises
    ------
    QuestionError
        When the text is no month.
    """
    if not re.fullmatch(r"\d{4}-(0[1-9]|1[0-2])", month):
        raise QuestionError(f"{month!r} is no month: write it like 2026-05")
    found = history(store, asked)
    zone = shop_zone(found.settings)
    spans = {name: span(m, zone) for name, m in {"now": month, **others(month)}.items()}
    book = GaugeBook(found)
    rows = [_row(group, blocks, found, spans, book, zone) for group, blocks in _groups(found, spans["now"])]
    _say(rows)
    out = head("month", found.revision, asked, found.settings)
    return {**out, "month": month, "compared_with": others(month), "rows": plain(rows)}


def others(month: str) -> dict[str, str]:
    """The months it is held against: the one before, and the same month a year earlier."""
    year, number_ = int(month[:4]), int(month[5:])
    before = f"{year - 1}-12" if number_ == 1 else f"{year}-{number_ - 1:02d}"
    return {"last_month": before, "last_year": f"{year - 1}-{number_:02d}"}


def _groups(found: History, when: tuple[int, int]) -> list[tuple[Group, pd.DataFrame]]:
    blocks = found.blocks
    blocks = blocks[blocks["operation"] != "check"]
    here = (blocks["at"] >= when[0]) & (blocks["at"] <= when[1])
    worked = {
        tuple(map(str, k)) for k in blocks[here][["machine", "operation", "state"]].itertuples(index=False)
    }
    if not worked:
        return []
    grouped = blocks.groupby(["machine", "operation", "state"], observed=True)
    named = (((str(k[0]), str(k[1]), str(k[2])), g) for k, g in grouped)
    return [(k, g) for k, g in named if k in worked]


@dataclass(frozen=True, slots=True)
class _Sample:
    """Blocks of one series in one month: means and spreads in the scale of the comparison and plain."""

    means: np.ndarray
    spreads: np.ndarray
    bores: np.ndarray
    plain_means: np.ndarray
    plain_spreads: np.ndarray


def _sample(blocks: pd.DataFrame, when: tuple[int, int], found: History, logarithms: bool) -> _Sample:
    mine = blocks[(blocks["at"] >= when[0]) & (blocks["at"] <= when[1])]
    means, spreads = mine["mean"].to_numpy(dtype=float), mine["spread"].to_numpy(dtype=float)
    bores = mine["bores"].to_numpy(dtype=int)
    if not logarithms:
        return _Sample(means, spreads, bores, means, spreads)
    logs = [np.log(found.values["value"].loc[list(rows)].to_numpy(dtype=float)) for rows in mine["values"]]
    return _Sample(
        np.array([x.mean() for x in logs]),
        np.array([x.std(ddof=1) if len(x) > 1 else np.nan for x in logs]),
        bores, means, spreads,
    )  # fmt: skip


def _row(
    group: Group, blocks: pd.DataFrame, found: History, spans: dict[str, tuple[int, int]], book: GaugeBook,
    zone: ZoneInfo,
) -> dict[str, Any]:  # fmt: skip
    machine, operation, state = group
    start, end = spans["now"]
    now = selected(
        found, Asked(machine=(machine,), operation=(operation,), state=(state,), since=start, until=end)
    )
    figures = []
    for (name, method), mine in blocks.groupby(["characteristic", "method"], observed=True):
        figure = _figure(characteristic(str(name)), str(method), mine, found, spans, book)
        if figure is not None:
            figures.append(figure)
    order = list(CATALOGUE)
    figures.sort(key=lambda f: order.index(f["characteristic"]))
    first = now.values[now.values["pass_no"] == 1]
    return {
        "machine": machine, "operation": operation, "state": state,
        "builds": int(first["build"].nunique()),
        "bores": int(first.groupby(["block", "feature"]).ngroups),
        "first_pass": first_pass(first),
        "figures": figures,
        "events": [_event(e) for e in found.events if start <= e.at <= end and e.machine == machine
                   and e.operation in (None, operation)],
        "held": _held(found, group, (start, end)),
    }  # fmt: skip


def _held(found: History, group: Group, when: tuple[int, int]) -> int:
    """Held rows of the machine whose time lies in the month; those without a readable time count in none."""
    held = found.held
    if not len(held):
        return 0
    mine = [
        held[n].astype(object) == v for n, v in zip(("machine", "operation", "state"), group, strict=True)
    ]
    made = [getattr(reading, "made_at", None) for reading in held["reading"]]
    inside = np.array([at is not None and when[0] <= at <= when[1] for at in made], dtype=bool)
    return int((mine[0] & mine[1] & mine[2] & inside).sum())


def _event(event: Any) -> dict[str, Any]:
    return {
        "at": iso(event.at), "event": event.event, "words": EVENTS[event.event].label,
        "machine": event.machine,
        "gauge": event.gauge, "operation": event.operation, "note": event.note,
    }  # fmt: skip


def first_pass(values: pd.DataFrame) -> dict[str, Any] | None:
    """Builds with every judged characteristic inside at pass 1, of the builds that were judged.

    A build with a place not read and nothing outside is neither: it cannot be told yet.
    """
    limited = values["lower_limit"].notna() | values["upper_limit"].notna() | values["conforms"].notna()
    judged = values[limited & values["build"].notna()]
    verdicts = judged["conforms"].map(lambda c: np.nan if c is None or pd.isna(c) else float(c))
    told = verdicts.groupby(judged["build"]).agg(["min", lambda v: v.isna().any()])
    told.columns = ["good", "open"]
    good = told["good"][(told["good"] == 0) | ~told["open"].astype(bool)]
    if not len(good):
        return None
    n, of = int(good.sum()), len(good)
    return {"n": n, "of": of, "fraction": n / of, "interval": as_span(clopper_pearson(n, of))}


def _spread_pooled(spreads: np.ndarray, bores: np.ndarray) -> float:
    use = ~np.isnan(spreads)
    freedom = (bores[use] - 1).sum()
    return float(np.sqrt(((bores[use] - 1) * spreads[use] ** 2).sum() / freedom)) if freedom > 0 else np.nan


def _between(sample: _Sample) -> float:
    if len(sample.plain_means) < 2:
        return np.nan
    inside = _spread_pooled(sample.plain_spreads, sample.bores)
    harmonic = len(sample.bores) / (1 / sample.bores).sum()
    variance = sample.plain_means.var(ddof=1) - (0.0 if np.isnan(inside) else inside**2) / harmonic
    return np.nan if np.isnan(inside) else float(np.sqrt(max(0.0, variance)))


def _figure(
    entry: Characteristic, method: str, blocks: pd.DataFrame, found: History,
    spans: dict[str, tuple[int, int]], book: GaugeBook,
) -> dict[str, Any] | None:  # fmt: skip
    logarithms = entry.family == "lognormal" and bool((blocks["lowest"] > 0).all())
    samples = {name: _sample(blocks, when, found, logarithms) for name, when in spans.items()}
    now = samples["now"]
    if not len(now.means):
        return None
    gauges = tuple(sorted({g for gs in blocks["gauges"] for g in gs}))
    resolution = book.resolution(gauges, float(blocks["at"].max()))
    if logarithms:
        resolution = resolution / float(np.exp(now.means.mean()))
    with np.errstate(invalid="ignore"):
        weighted = (now.plain_means * now.bores).sum() / now.bores.sum()
    return {
        "characteristic": entry.key, "method": method, "unit": entry.unit, "blocks": len(now.means),
        "mean": float(weighted),
        "spread_in_block": _spread_pooled(now.plain_spreads, now.bores),
        "spread_between_blocks": _between(now),
        "against": {name: _against(now, samples[name], resolution, logarithms)
                    for name in ("last_month", "last_year")},
    }  # fmt: skip


def _against(now: _Sample, then: _Sample, resolution: float, logarithms: bool) -> dict[str, Any]:
    out: dict[str, Any] = {
        "blocks": len(then.means), "mean_difference": None, "interval": None, "spread_ratio": None,
        "interval_ratio": None, "p_spread": None, "words": None, "block_to_block": None, "not_given": {},
    }  # fmt: skip
    if not len(then.means):
        out["not_given"]["words"] = "nothing was measured then"
        return out
    try:
        compared = level(now.means, then.means, logarithms=logarithms)
        out["mean_difference"], out["interval"] = _difference(compared, then, logarithms)
        between = block_to_block(now.means, then.means)
        out["block_to_block"] = {
            "ratio": between.ratio,
            "interval": as_span(between.interval),
            "p": between.p,
        }
    except TooLittleData as reason:
        out["not_given"]["mean_difference"] = str(reason)
    try:
        spread = spread_in_block(now.spreads, now.bores, then.spreads, then.bores, resolution)
        out["spread_ratio"], out["interval_ratio"] = spread.ratio, as_span(spread.interval)
        out["p_spread"], out["_comparison"] = spread.p, spread
    except (TooLittleData, QuestionError) as reason:
        out["not_given"]["spread_ratio"] = str(reason)
    return out


def _difference(compared: Any, then: _Sample, logarithms: bool) -> tuple[float, dict[str, Any] | None]:
    """Difference of the levels [unit]; of logarithms, what the ratio means at the other month's level."""
    if not logarithms:
        return compared.difference, as_span(compared.interval)
    base = float(np.exp(then.means.mean()))
    ends = compared.ratio_interval
    return base * (compared.ratio - 1), {
        "lower": base * (ends.lower - 1), "upper": base * (ends.upper - 1), "confidence": ends.confidence,
    }  # fmt: skip


def _say(rows: list[dict[str, Any]]) -> None:
    """Words for every comparison of spreads, corrected for their number over the report; a sentence a row."""
    entries = [a for r in rows for f in r["figures"] for a in f["against"].values()]
    corrected = holm([a["p_spread"] if a["p_spread"] is not None else np.nan for a in entries])
    for entry, p in zip(entries, corrected, strict=True):
        comparison = entry.pop("_comparison", None)
        if comparison is None:
            continue
        entry["words"] = words(comparison, float(p))
        if entry["words"] is None:
            entry["not_given"]["words"] = "fewer than 5 blocks in one of the months: look at the dots"
    for row in rows:
        row["sentence"] = sentence(row)
    rows.sort(key=_telling)


def _telling(row: dict[str, Any]) -> tuple[bool, bool, str, str]:
    """Order of the rows: what became less even first, then what can be told at all, the bench last."""
    words_ = [f["against"]["last_month"]["words"] for f in row["figures"]]
    return "less even" not in words_, row["machine"] == "bench", row["machine"], row["operation"]


def sentence(row: dict[str, Any]) -> str:
    """What changed on this machine against last month, in words."""
    changed = {"less even": [], "more even": []}  # type: dict[str, list[str]]
    for figure in row["figures"]:
        told = figure["against"]["last_month"]
        if told["words"] in changed:
            ends = told["interval_ratio"]
            changed[told["words"]].append(
                f"{said(figure['characteristic'])} ({number(told['spread_ratio'])} times the spread from "
                f"bore to bore, {interval(ends['lower'], ends['upper'], 1)})"
            )
    state = "" if row["state"] == "unstated" else f", {said(row['state'])}"
    name = f"{row['machine']}, {said(row['operation'])}{state}"
    parts = [f"{listed(what)} {word} than last month" for word, what in changed.items() if what]
    if not parts:
        few = all(f["blocks"] < 5 or f["against"]["last_month"]["blocks"] < 5 for f in row["figures"])
        parts = ["too few blocks to compare in words" if few else "nothing can be told apart from last month"]
    return f"{name}: {'; '.join(parts)} ({plural(row['builds'], 'build')})."
