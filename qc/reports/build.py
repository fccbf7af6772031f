"""One build: every judged quantity by its last pass, with limit, source, verdict, gauge and readings."""

from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from qc.catalogue import CATALOGUE, Characteristic, characteristic
from qc.errors import QuestionError
from qc.gauge.conformity import verdict
from qc.history import SERIES, History, history
from qc.records import Asked
from qc.reports.clearance import cautions, position, size_limits
from qc.reports.gauges import GaugeBook
from qc.reports.question import head
from qc.reports.windows import source
from qc.reports.words import plain, plural
from qc.units import TICKS_PER_UM

AIMLESS = "no target is known"
_RANK = ("does_not_conform", "undecided", "conforms")
_CLEARANCES = ("main_clearance", "rod_clearance", "piston_clearance")


def answer(store: Any, build: str, asked: Asked) -> dict[str, Any]:
    """The build sheet.

    Raises
    ------
    QuestionError
        When the store knows no such build.
    """
    found = history(store, Asked(as_of=asked.as_of))
    values = found.values[found.values["build"] == build]
    if not len(values):
        raise QuestionError(f"no reading of a build {build!r} is kept: qc series lists what there is")
    passes = values.groupby([*SERIES, "feature"], observed=True)["pass_no"]
    last = values[values["pass_no"] == passes.transform("max")]
    fitted = found.clearances[found.clearances["build"] == build]
    read = last[~last["characteristic"].isin(_CLEARANCES) | (last["machine"] != "bench")]
    book = GaugeBook(found)
    rows = [_quantity(r, found, book) for r in read.to_dict("records")]
    rows += [_clearance(r, found, book) for r in fitted.to_dict("records")]
    order = list(CATALOGUE)
    rows.sort(key=lambda r: (order.index(r["characteristic"]), r["feature"], r["state"], r["method"]))
    missing = sorted({m for ms in fitted["missing"] for m in ms})
    open_ = [r for r in read["reason"] if isinstance(r, str) and r != AIMLESS]
    complete = not missing and not open_
    out = head("build", found.revision, asked, found.settings)
    out["cautions"] += cautions(replace(found, clearances=fitted))
    outside = sum(r["verdict"] == "does_not_conform" for r in rows)
    undecided = sum(r["verdict"] == "undecided" for r in rows)
    return {
        **out, "build": build, "engine": next((e for e in last["engine"] if isinstance(e, str)), None),
        "complete": complete, "missing": missing,
        "sentence": f"{build}: {plural(outside, 'quantity', 'quantities')} outside, {undecided} the gauge "
        f"cannot tell, of {len(rows)}; {'complete' if complete else 'not complete'}.",
        "quantities": rows, "released": None,
        "not_given": {"released": "releases are not recorded yet: the responsible machinist signs the sheet"},
    }  # fmt: skip


def _number(value: Any) -> float | None:
    return None if value is None or pd.isna(value) else float(value)


def _um(ticks: Any) -> float | None:
    return None if pd.isna(ticks) else float(ticks) / TICKS_PER_UM


def _named(row: dict[str, Any], entry: Characteristic) -> dict[str, Any]:
    return {
        "characteristic": entry.key, "method": row["method"], "feature": row["feature"],
        "state": row["state"], "machine": row["machine"], "operation": row["operation"],
        "pass": int(row["pass_no"]),
    }  # fmt: skip


def _clearance(row: dict[str, Any], found: History, book: GaugeBook) -> dict[str, Any]:
    """A clearance as the answer about clearances has it, parts missing or not."""
    at = position(row, found, book)
    return {
        **_named(row, characteristic(row["characteristic"])), "unit": at["unit"], "value": at["achieved"],
        "lower": at["lower"], "upper": at["upper"], "off_target": at["off_plan"], "source": at["source"],
        "verdict": at["verdict"], "gauge": ", ".join(row["gauges"]) or None,
        "readings": [str(found.ids[r]) for r in row["rows"]],
        "not_given": {_AS_QUANTITY.get(k, k): why for k, why in at["not_given"].items() if k in _ASKED},
    }  # fmt: skip


_AS_QUANTITY = {"achieved": "value", "off_plan": "off_target"}
_ASKED = ("achieved", "off_plan", "lower", "upper", "source", "verdict")


def _sizes(row: dict[str, Any], found: History) -> dict[str, Any]:
    """A value without target by the sizes read and the size window in force, or the row's own limits."""
    rows = list(row["rows"])
    sizes = found.readings["size"].to_numpy(dtype=float)[rows] / TICKS_PER_UM
    number = int(found.readings["sized"].iloc[rows[0]])
    if number >= 0:
        limits = size_limits(found.specs[number])
    else:
        first = found.readings.iloc[rows[0]]
        limits = _um(first["lower"]), _um(first["upper"])
    told = {"value": float(sizes.mean()), "least": sizes.min(), "greatest": sizes.max(), "spec": number}
    return {**row, **told, "lower_limit": limits[0], "upper_limit": limits[1]}


def _verdict(row: dict[str, Any], u: float | None) -> str | None:
    """Verdict on the local sizes, the worse of least and greatest; conforms only when all were read."""
    lower, upper = _number(row["lower_limit"]), _number(row["upper_limit"])
    ends = [v for v in (row["least"], row["greatest"]) if pd.notna(v)]
    judged = [verdict(float(v), lower, upper, u).verdict for v in ends]
    if row["conforms"] is not None and lower is None and upper is None:  # places with limits of their own
        judged = ["conforms" if row["conforms"] else "does_not_conform"]
    worst = next((r for r in _RANK if r in judged), None)
    unread = isinstance(row["reason"], str) and row["reason"] != AIMLESS
    return None if unread and worst != "does_not_conform" else worst


def _quantity(row: dict[str, Any], found: History, book: GaugeBook) -> dict[str, Any]:
    entry = characteristic(row["characteristic"])
    if entry.coded and row["reason"] == AIMLESS:
        row = _sizes(row, found)
    lower, upper = _number(row["lower_limit"]), _number(row["upper_limit"])
    known = [book.on(g, row["made_at"]) for g in row["gauges"]]
    u = None if len(known) != 1 or known[0] is None or entry.value == "own" else known[0].u
    sized = entry.coded and entry.kind == "length" and not entry.key.endswith(("clearance", "gap", "play"))
    base = float(row["aim"]) / TICKS_PER_UM if entry.coded and pd.notna(row["aim"]) else 0.0
    scale = 1000.0 if sized else 1.0

    def shown(value: float | None) -> float | None:
        return None if value is None or not np.isfinite(value) else (base + value) / scale

    told = {
        **_named(row, entry), "unit": "mm" if sized else entry.unit, "value": shown(_number(row["value"])),
        "lower": shown(lower), "upper": shown(upper),
        "off_target": _number(row["value"]) if entry.coded and row["reason"] != AIMLESS else None,
        "source": source(int(row["spec"]), found.specs) if lower is not None or upper is not None else None,
        "verdict": _verdict(row, u), "gauge": ", ".join(row["gauges"]) or None,
        "readings": [str(found.ids[r]) for r in row["rows"]],
    }  # fmt: skip
    return plain({**told, "not_given": _not_given(told, entry, row["reason"])})


def _not_given(told: dict[str, Any], entry: Characteristic, reason: Any) -> dict[str, str]:
    """Reason of every null of a quantity."""
    why = reason if isinstance(reason, str) else "no limits are in force for it"
    out = {name: why for name in ("value", "verdict") if told[name] is None}
    if told["lower"] is None and told["upper"] is None:
        out |= dict.fromkeys(("lower", "upper", "source"), "no limits are in force for it")
    else:
        out |= {side: "no limit on this side" for side in ("lower", "upper") if told[side] is None}
    if told["off_target"] is None:
        out["off_target"] = AIMLESS if entry.coded else "judged as it is, without a target"
    if told["gauge"] is None:
        out["gauge"] = "no gauge was written beside the readings"
    return out
