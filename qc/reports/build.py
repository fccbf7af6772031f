"""One build: every judged quantity by its last pass, with limit, source, verdict, gauge and readings."""

from typing import Any

import numpy as np
import pandas as pd

from qc.catalogue import CATALOGUE, characteristic
from qc.errors import QuestionError
from qc.gauge.conformity import verdict
from qc.history import SERIES, History, history
from qc.records import Asked
from qc.reports.clearance import CAUTION
from qc.reports.gauges import GaugeBook
from qc.reports.question import head
from qc.reports.windows import source
from qc.reports.words import plain, plural
from qc.units import TICKS_PER_UM


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
    book = GaugeBook(found)
    rows = [_quantity(r, found, book) for r in last.to_dict("records")]
    order = list(CATALOGUE)
    rows.sort(key=lambda r: (order.index(r["characteristic"]), r["feature"], r["state"], r["method"]))
    lacking = found.clearances[
        (found.clearances["build"] == build) & (found.clearances["missing"].map(len) > 0)
    ]
    complete = bool(last["complete"].astype(bool).all()) and not len(lacking)
    out = head("build", found.revision, asked, found.settings)
    out["cautions"].append(CAUTION)
    outside = sum(r["verdict"] == "does_not_conform" for r in rows)
    undecided = sum(r["verdict"] == "undecided" for r in rows)
    return {
        **out, "build": build, "engine": next((e for e in last["engine"] if e), None), "complete": complete,
        "missing": sorted({m for ms in lacking["missing"] for m in ms}),
        "sentence": f"{build}: {plural(outside, 'quantity', 'quantities')} outside, {undecided} the gauge "
        f"cannot tell, of {len(rows)}; {'complete' if complete else 'not complete'}.",
        "quantities": rows, "released": None,
        "not_given": {"released": "releases are not recorded yet: the responsible machinist signs the sheet"},
    }  # fmt: skip


def _number(value: Any) -> float | None:
    return None if value is None or pd.isna(value) else float(value)


def _quantity(row: dict[str, Any], found: History, book: GaugeBook) -> dict[str, Any]:
    entry = characteristic(row["characteristic"])
    lower, upper = _number(row["lower_limit"]), _number(row["upper_limit"])
    known = [book.on(g, row["made_at"]) for g in row["gauges"]]
    u = None if len(known) != 1 or known[0] is None or entry.value == "own" else known[0].u
    judged = [
        verdict(float(v), lower, upper, u).verdict for v in (row["least"], row["greatest"]) if pd.notna(v)
    ]
    rank = ["does_not_conform", "undecided", "conforms"]
    worst = next((r for r in rank if r in judged), None)
    sized = entry.coded and entry.kind == "length" and not entry.key.endswith(("clearance", "gap", "play"))
    base = float(row["aim"]) / TICKS_PER_UM if entry.coded and pd.notna(row["aim"]) else 0.0
    scale = 1000.0 if sized else 1.0

    def shown(value: float | None) -> float | None:
        return None if value is None or not np.isfinite(value) else (base + value) / scale

    return plain({
        "characteristic": entry.key, "method": row["method"], "feature": row["feature"],
        "state": row["state"],
        "machine": row["machine"], "operation": row["operation"], "pass": int(row["pass_no"]),
        "unit": "mm" if sized else entry.unit, "value": shown(_number(row["value"])), "lower": shown(lower),
        "upper": shown(upper), "off_target": _number(row["value"]) if entry.coded else None,
        "source": source(int(row["spec"]), found.specs) if lower is not None or upper is not None else None,
        "verdict": worst, "gauge": ", ".join(row["gauges"]) or None,
        "readings": [str(found.ids[r]) for r in row["rows"]],
        "not_given": {"value": row["reason"]} if isinstance(row["reason"], str) else {},
    })  # fmt: skip
