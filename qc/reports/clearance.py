"""Clearances: planned against achieved, build by build and position by position, the tightest first."""

from typing import Any

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from qc.catalogue import CATALOGUE, said
from qc.gauge.budget import Part, random_part, standard_uncertainty
from qc.gauge.conformity import NEVER, verdict
from qc.history import History, history
from qc.history.zone import iso
from qc.records import Asked, Spec
from qc.reports.gauges import GaugeBook
from qc.reports.question import head
from qc.reports.windows import source
from qc.reports.words import interval, number, plain, plural
from qc.units import TICKS_PER_UM

CAUTION = (
    "A wrong clearance destroys an engine: too tight seizes, too loose knocks. Check the tightest against "
    "the engine maker's sheet before assembly; a position with a part missing is not cleared."
)
NOT_AT_20 = (
    "Some parts behind these clearances were read more than a degree away from 20 degC and count as read, "
    "because {why}: a warm part reads larger than it is."
)
BROUGHT = (
    "{n} of the readings behind these clearances were brought to 20 degC by the temperatures written beside "
    "them and the usual expansion of the part's material; one cast differs from another by about a tenth."
)
NO_PLAN = "no plan for this position: add a size specification for the build or the engine"
_SIGN = {"bore_diameter": 1.0, "shell_bore": 1.0, "tunnel_diameter": 1.0, "rod_bore_diameter": 1.0}


def answer(store: Any, asked: Asked) -> dict[str, Any]:
    """Clearances of every build the question is about.

    Builds stand in the order of their tightest position against its lower limit, positions likewise;
    positions without a plan follow, those with a part missing come last with what is missing.
    """
    found = history(store, asked)
    book = GaugeBook(found)
    builds = []
    for build, rows in found.clearances.groupby("build", sort=True):
        positions = [position(row, found, book) for row in rows.to_dict("records")]
        positions.sort(key=_room)
        engine = next((e for e in rows["engine"] if isinstance(e, str)), None)
        entry = {
            "build": build, "engine": engine, "at": iso(rows["made_at"].max()), "positions": positions,
        }  # fmt: skip
        builds.append({**entry, "sentence": sentence(entry)})
    builds.sort(key=lambda b: (_room(b["positions"][0]), b["build"]))
    out = head("clearance", found.revision, asked, found.settings)
    out["cautions"] += cautions(found)
    return plain({**out, "engines": engines(builds), "builds": builds})


def cautions(found: History) -> list[str]:
    """What a reader must know of the clearances of a history before acting on them."""
    rows = sorted({r for behind in found.clearances["rows"] for r in behind})
    behind = found.readings.iloc[rows]
    said = [CAUTION]
    why = list(dict.fromkeys(w for w in behind["not_at_20"] if isinstance(w, str)))
    if why:
        said.append(NOT_AT_20.format(why="; ".join(why)))
    if n := int(behind["at_20"].sum()):
        said.append(BROUGHT.format(n=n))
    return said


def engines(builds: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """How far each engine family's clearances come out from plan, over its builds; the farthest first.

    The build is the unit: mean of each build's positions, t interval over the builds (95 %).
    """
    means: dict[tuple[str, str, str], list[float]] = {}
    for build in builds:
        of_build: dict[tuple[str, str, str], list[float]] = {}
        for p in build["positions"]:
            if p["off_plan"] is not None:
                key = (build["engine"] or "engine not said", p["characteristic"], p["method"])
                of_build.setdefault(key, []).append(p["off_plan"])
        for key, offs in of_build.items():
            means.setdefault(key, []).append(float(np.mean(offs)))
    rows = [_engine(key, np.array(found)) for key, found in means.items()]
    return sorted(rows, key=lambda r: -abs(r["off_plan"]))


def _engine(key: tuple[str, str, str], means: np.ndarray) -> dict[str, Any]:
    m, mean = len(means), float(means.mean())
    half = None if m < 2 else float(stdtrit(m - 1, 0.975) * means.std(ddof=1) / np.sqrt(m))
    ends = None if half is None else {"lower": mean - half, "upper": mean + half, "confidence": 0.95}
    shown = f", {interval(ends['lower'], ends['upper'], 1)}" if ends else ""
    clear = ends is not None and ends["lower"] * ends["upper"] > 0
    # two routes of one clearance rest on other builds and must not read alike
    route = f" ({said(key[2])})" if len(CATALOGUE[key[1]].methods) > 1 else ""
    return {
        "engine": key[0], "characteristic": key[1], "method": key[2], "unit": "um", "builds": m,
        "off_plan": mean, "interval": ends,
        "not_given": {} if ends else {"interval": "one build tells nothing of the next"},
        "sentence": f"{key[0]}: {said(key[1])}{route} comes out {number(mean, sign=True)} um from "
        f"plan{shown}, over {plural(m, 'build')}" + ("." if clear else "; no more than chance."),
    }  # fmt: skip


def _room(position: dict[str, Any]) -> tuple[int, float]:
    """Order: distance of the achieved from its lower limit; then without a limit; then without a value."""
    if position["achieved"] is None:
        return 2, 0.0
    if position["lower"] is None:
        return 1, position["achieved"]
    return 0, position["achieved"] - position["lower"]


def _part(row: Any, found: History) -> dict[str, Any]:
    sizes = np.asarray(row.sizes)
    value = sizes.max() if row.characteristic in ("journal_diameter", "pin_diameter") else sizes.mean()
    return {
        "characteristic": row.characteristic, "feature": row.feature, "state": row.state,
        "value": float(value) / TICKS_PER_UM / 1000, "unit": "mm",
        "readings": [str(found.ids[r]) for r in row.rows],
        "gauge": ", ".join(row.gauges) or None,
    }  # fmt: skip


def _uncertainty(parts: tuple[Any, ...], book: GaugeBook) -> float | None:
    """Standard uncertainty of a clearance [um]: common parts with their sign, random parts in quadrature."""
    terms = []
    for part in parts:
        known = [book.on(g, part.made_at) for g in part.gauges]
        if len(known) != 1 or known[0] is None or known[0].u is None:
            return None
        gauge = known[0]
        # the largest of several journal readings is one reading, not their mean
        largest = part.characteristic in ("journal_diameter", "pin_diameter")
        common = {gauge.gauge: gauge.common} if gauge.common else {}
        terms.append(Part(
            f"{part.characteristic} {part.feature}", _SIGN.get(part.characteristic, -1.0),
            random_part(gauge.u or 0.0, gauge.common), 1 if largest else len(part.sizes), common,
        ))  # fmt: skip
    return standard_uncertainty(terms).u if terms else None


def _number(value: float) -> float | None:
    return None if pd.isna(value) else float(value)


def _sum(*values: float | None) -> float | None:
    return None if any(v is None for v in values) else float(sum(v for v in values if v is not None))


def position(row: dict[str, Any], found: History, book: GaugeBook) -> dict[str, Any]:
    """One position of a build as the answer has it, from its row of `History.clearances`."""
    aim = _number(row["aim"])
    planned = None if aim is None else aim / TICKS_PER_UM
    off = _number(row["value"])
    missing = list(row["missing"])
    # without a plan the value is not coded: what was computed is in the extremes' place of the parts
    achieved = _absolute(row) if planned is None else _sum(planned, off)
    lower, upper = (_sum(planned, _number(row[n])) for n in ("lower_limit", "upper_limit"))
    spec = int(row["spec"])
    if planned is None and row["sized"] >= 0:
        spec = int(row["sized"])
        lower, upper = size_limits(found.specs[spec])
    u = None if missing else _uncertainty(row["parts"], book)
    judged = verdict(achieved, lower, upper, u) if achieved is not None else None
    return plain({
        "feature": row["feature"], "characteristic": row["characteristic"], "method": row["method"],
        "unit": "um",
        "planned": planned, "lower": lower, "upper": upper,
        "source": source(spec, found.specs) if spec >= 0 else None,
        "achieved": achieved, "off_plan": None if planned is None else off, "standard_uncertainty": u,
        "verdict": judged.verdict if judged else None, "words": judged.words if judged else None,
        "parts": [_part(p, found) for p in row["parts"]], "missing": missing,
        "not_given": _not_given(missing, planned, (lower, upper), u),
    })  # fmt: skip


def size_limits(spec: Spec) -> tuple[float | None, float | None]:
    """Limits of a size window [um]."""
    return _um(spec.lower), _um(spec.upper)


def _um(ticks: int | None) -> float | None:
    return None if ticks is None else ticks / TICKS_PER_UM


def _not_given(
    missing: list[str], planned: float | None, limits: tuple[float | None, float | None], u: float | None
) -> dict[str, str]:
    """Reason of every null of a position."""
    out: dict[str, str] = {}
    if missing:
        lacking = f"not measured: {', '.join(missing)}"
        out |= dict.fromkeys(("achieved", "off_plan", "verdict", "standard_uncertainty"), lacking)
    elif u is None:
        out["standard_uncertainty"] = "a gauge of its parts has no standard uncertainty in the gauge list"
    if planned is None:
        out |= dict.fromkeys(("planned", "off_plan"), NO_PLAN)
    out |= {
        side: "no limit on this side" for side, v in zip(("lower", "upper"), limits, strict=True) if v is None
    }
    if limits == (None, None):
        out |= dict.fromkeys(("lower", "upper", "source", "verdict"), "no limits are in force for it")
    return out


def _absolute(row: dict[str, Any]) -> float | None:
    if row["missing"]:
        return None
    total = 0.0
    for part in row["parts"]:
        size = (
            part.sizes.max()
            if part.characteristic in ("journal_diameter", "pin_diameter")
            else part.sizes.mean()
        )
        total += _SIGN.get(part.characteristic, -1.0) * float(size)
    return total / TICKS_PER_UM


def sentence(build: dict[str, Any]) -> str:
    """What to look at in this build, in words."""
    positions = build["positions"]
    outside = [p for p in positions if p["verdict"] == "does_not_conform"]
    open_ = [p for p in positions if p["verdict"] == "undecided"]
    missing = [p for p in positions if p["missing"]]
    first = positions[0]
    parts = []
    if outside:
        parts.append(f"look at {plural(len(outside), 'position')} outside plan")
    if open_:
        never = " (this gauge can never show it)" if any(p["words"] == NEVER for p in open_) else ""
        parts.append(f"{plural(len(open_), 'position')} the gauge cannot decide{never}")
    if missing:
        parts.append(f"{plural(len(missing), 'position')} with a part not measured")
    if first["achieved"] is not None and first["lower"] is not None:
        off = first["off_plan"]
        plan = "" if off is None else f", {number(off, 0, sign=True)} um from plan"
        parts.append(
            f"tightest is {said(first['characteristic'])} {first['feature']}, "
            f"{number(first['achieved'], 0)} um{plan}"
        )
    engine = f" ({build['engine']})" if build["engine"] else ""
    return f"{build['build']}{engine}: {'; '.join(parts) or 'nothing planned to compare with'}."
