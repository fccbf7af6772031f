"""The kept readings, as they go to a file or to an auditor."""

import re
from typing import Any

import numpy as np
import pandas as pd

from qc.catalogue import CATALOGUE
from qc.history import history
from qc.history.compose import chosen
from qc.history.readings import column
from qc.history.zone import iso
from qc.records import Asked, Reading
from qc.reports.question import head
from qc.reports.words import plain
from qc.units import TICKS_PER_UM

COLUMNS = (
    "id", "build", "engine", "serial", "machine", "operation", "characteristic", "method", "state", "feature",
    "station_mm", "clock_deg", "trial", "pass", "value_um", "value", "deviation_um", "target_um",
    "measured_at", "made_at", "gauge", "file", "row", "column", "text", "value_20_um",
)  # fmt: skip


def table(store: Any, asked: Asked, *, every: bool = False) -> pd.DataFrame:
    """One row a kept reading; with `every` also the voided, held and excluded ones and their `status`.

    Lengths in um, the others in `value` in their own unit; times in UTC.
    """
    found = history(store, asked)
    kept = found.readings.assign(engine=found.readings["known_engine"], status="counts")
    kept.loc[kept["excluded"].to_numpy(dtype=bool), "status"] = "excluded"
    kept = kept[chosen(kept, asked, "made_at")]
    if not every:
        return _shown(kept[kept["status"] == "counts"])[list(COLUMNS)]
    voided = found.voided.assign(status="voided", aim=found.voided["target"])
    # a deviation whose target stood in a specification: its size is not known from the reading alone
    voided["size"] = voided["value"].where(~voided["relative"].astype(bool))
    both = pd.concat([f for f in (kept, voided) if len(f)] or [kept], ignore_index=True)
    out = _shown(both)
    held = _held(found.held)
    joined = pd.concat([f for f in (out, held) if len(f)] or [out], ignore_index=True)
    return joined[[*COLUMNS, "status"]]


def _shown(frame: pd.DataFrame) -> pd.DataFrame:
    out = frame.copy()
    kind = out["characteristic"].map(lambda k: CATALOGUE[k].kind)
    coded = out["characteristic"].map(lambda k: CATALOGUE[k].coded).to_numpy(dtype=bool)
    length = (kind == "length").to_numpy(dtype=bool)
    at_20 = out["size"].to_numpy(dtype=float, na_value=np.nan) / TICKS_PER_UM
    # a voided reading is told as it was read
    as_read = out["size_as_read"] if "size_as_read" in out else out["size"]
    size = as_read.fillna(out["size"]).to_numpy(dtype=float, na_value=np.nan) / TICKS_PER_UM
    aim = pd.to_numeric(out["aim"]).to_numpy(dtype=float, na_value=np.nan)
    out["value_um"] = np.where(length, size, np.nan)
    moved = out["at_20"].eq(True).to_numpy() if "at_20" in out else np.zeros(len(out), dtype=bool)
    out["value_20_um"] = np.where(moved, at_20, np.nan)
    out["value"] = np.where(length, np.nan, size)
    out["target_um"] = np.where(length & coded, aim / TICKS_PER_UM, np.nan)
    raw = out["size"].to_numpy(dtype=float, na_value=np.nan)
    out["deviation_um"] = np.where(length & coded, (raw - aim) / TICKS_PER_UM, np.nan)
    for name, source, scale in (
        ("station_mm", "station", TICKS_PER_UM * 1000),
        ("clock_deg", "clock", TICKS_PER_UM),
    ):
        out[name] = pd.to_numeric(out[source]).to_numpy(dtype=float, na_value=np.nan) / scale
    given = column(out, "pass")
    resolved = column(out, "pass_no") if "pass_no" in out else given
    known = np.where(np.isnan(resolved), given, resolved)
    out["pass"] = np.where(np.isnan(known), 1, known).astype(int)
    sheet = out["sheet"].astype(object)
    out["row"] = [
        f"{s}!{r}" if isinstance(s, str) else str(r) for s, r in zip(sheet, out["row"], strict=True)
    ]
    for name in ("measured_at", "made_at"):
        when = pd.to_datetime(out[name].to_numpy(dtype="int64"), unit="us", utc=True)
        out[name] = when.strftime("%Y-%m-%dT%H:%M:%SZ")
    return out


def _held(held: pd.DataFrame) -> pd.DataFrame:
    """Held rows with what could be read of them."""
    rows = []
    for h in held.to_dict("records"):
        reading = h["reading"]
        if reading is None and not _is_reading(h["fields"]):
            continue
        row: dict[str, Any] = {name: h.get(name) for name in COLUMNS}
        row.update(status="held", column="value", text=dict(h["fields"]).get("value"))
        row["row"] = f"{h['sheet']}!{h['row']}" if isinstance(h["sheet"], str) else str(h["row"])
        row["id"] = f"{str(h['sha256'])[:12]}:{row['row']}:value"
        if isinstance(reading, Reading):
            row.update(_as_read(reading))
        rows.append(row)
    return pd.DataFrame(rows, columns=[*COLUMNS, "status"])


def _is_reading(fields: Any) -> bool:
    """Whether a row that could not be read is one of a readings file, by the columns only such a file has."""
    named = {re.sub(r"[\s_-]", "", name).casefold() for name in dict(fields)}
    return {"value", "measuredat"} <= named


def _as_read(reading: Reading) -> dict[str, Any]:
    """What a held reading would be."""
    entry = CATALOGUE[reading.characteristic]
    length = entry.kind == "length"
    size = None if reading.relative else reading.value / TICKS_PER_UM
    target = None if reading.target is None or not entry.coded else reading.target / TICKS_PER_UM
    off = None if target is None or size is None else size - target
    return {
        "id": reading.source.place, "feature": reading.feature, "engine": reading.engine,
        "serial": reading.serial, "gauge": reading.gauge, "trial": reading.trial, "pass": reading.pass_ or 1,
        "station_mm": None if reading.station is None else reading.station / TICKS_PER_UM / 1000,
        "clock_deg": None if reading.clock is None else reading.clock / TICKS_PER_UM,
        "value_um": size if length else None, "value": None if length else size,
        "target_um": target, "deviation_um": reading.value / TICKS_PER_UM if reading.relative else off,
        "measured_at": iso(reading.measured_at), "made_at": iso(reading.made_at),
        "column": reading.source.column, "text": reading.source.text,
    }  # fmt: skip


def answer(store: Any, asked: Asked, *, every: bool = False) -> dict[str, Any]:
    """The kept readings as a document."""
    frame = table(store, asked, every=every)
    found = history(store, asked)
    rows = frame.astype(object).where(frame.notna(), None).to_dict("records")
    return {**head("readings", found.revision, asked, found.settings), "readings": plain(rows)}
