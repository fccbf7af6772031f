"""A layout tried on a file: what cell becomes which reading, before anything is taken in."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from qc import units
from qc.errors import FileError
from qc.ingest import centre_draft, draft, drafted, sources, spread, traces
from qc.ingest.addresses import Cells
from qc.ingest.layout import Layout
from qc.ingest.line import Shop
from qc.ingest.meaning import Sheet
from qc.ingest.rows import CELL, Row, headed
from qc.records import Finding, Reading


@dataclass(frozen=True, slots=True)
class Tried:
    """What a file would become: one entry a value cell, and the findings beside them."""

    cells: tuple[dict[str, Any], ...]
    findings: tuple[Finding, ...]

    @property
    def waits(self) -> bool:
        """Whether anything would wait for a person."""
        return any(c["waits"] for c in self.cells) or any(f.severity == "stop" for f in self.findings)


def tried(path: Path, shop: Shop, layouts: Sequence[Layout], only: Layout | None = None) -> Tried:
    """What a file's cells become.

    Parameters
    ----------
    layouts : sequence of Layout
        Those that would be used.
    only : Layout, optional
        One to be tried alone, whatever names of files it is for.

    Raises
    ------
    FileError
        When the file cannot be read.
    """
    data = sources.content(path)
    sha256 = sources.sha256(data)
    known = layouts if only is None else (replace(only, files=("*",)),)
    traced = traces.read(data, path.name, shop, sha256, known)
    if traced is not None:
        return Tried(tuple(traces.entries(traced.rows)), traced.findings)
    grids = sources.grids(data, path.name)
    if only is None:
        told, rest = spread.read(grids, shop, sha256, path.name, layouts)
        if not told.any:
            ours = any(headed(g) for g in rest)
            raise FileError(
                f"{path.name} has a header we know and needs no layout: take it in with qc ingest"
                if ours
                else f"no layout is for {path.name}, and no tab has features across and readings below: "
                "write a layout for it (README, layouts)"
            )
        return Tried(tuple(_entry(r) for r in told.rows), told.findings)
    rows: list[Row] = []
    said: list[Finding] = []
    for grid in grids:
        cells = Cells(grid)
        why = only.unlike(cells)
        if why is None:
            found = spread.by_layout(Sheet(cells, path.name, sha256, shop, only))
            rows, said = [*rows, *found.rows], [*said, *found.findings]
        elif why and len(grids) == 1:
            raise FileError(f"the layout {only.name} does not fit {path.name}: {why}")
    if not rows and not said:
        raise FileError(f"the layout {only.name} fits no tab of {path.name}: compare its [text] and tab")
    return Tried(tuple(_entry(r) for r in rows), tuple(said))


def _entry(row: Row) -> dict[str, Any]:
    told = dict(row.fields)
    record = row.record
    size = None
    if isinstance(record, Reading):
        size = f"{units.exact(record.value, _shown(record)).normalize():f} {_shown(record)}"
        size = f"target {record.value / units.TICKS_PER_UM:+g} um" if record.relative else size
    return {
        "sheet": row.sheet, "row": row.number, "column": told[CELL],
        "cell": f"{told[CELL]}{row.number}", "table": told.get("characteristic"),
        "text": told.get("value", ""),
        "build": told.get("build"), "feature": told.get("feature"), "station_mm": told.get("station_mm"),
        "clock_deg": told.get("clock_deg"), "reading": told.get("reading"), "unit": told.get("unit"),
        "target": told.get("target"), "becomes": size, "hidden": bool(row.hidden),
        "waits": "; ".join(dict.fromkeys(_why(d.code, d.column) for d in row.doubts)) or (
            "hidden" if row.hidden else None),
    }  # fmt: skip


def _shown(record: Reading) -> str:
    kind = units.kind(record.unit)
    return {"length": "mm", "angle": "deg", "percent": "%", "time": "min"}[kind]


def _why(code: str, column: str) -> str:
    return f"{code.replace('_', ' ')} ({column})"


def first_layout(path: Path) -> str:
    """TOML of a first layout for a file: for a profile trace, else from the first tab like a hand sheet.

    Raises
    ------
    FileError
        When none does.
    """
    data = sources.content(path)
    profile = traces.first_layout(data, path.name)
    if profile is not None:
        return profile
    grids = [g for g in sources.grids(data, path.name) if not headed(g)]
    for grid in grids:
        cells = Cells(grid)
        centre_list = centre_draft.text(cells, path.name)
        if centre_list:
            return centre_list
        found = draft.drafts(cells)
        if found:
            return drafted.text(cells, path.name, found)
    raise FileError(
        f"no tab of {path.name} has features across and readings below: write the layout by hand (README, "
        "layouts)"
    )
