"""Sheets that spread readings over rows and columns: which reader reads which sheet of a file."""

from collections.abc import Sequence
from dataclasses import dataclass

from qc.ingest import bench
from qc.ingest.cellwise import CellRead
from qc.ingest.grid import Grid
from qc.ingest.line import Shop
from qc.ingest.rows import Row, headed
from qc.records import Finding


@dataclass(frozen=True, slots=True)
class Spread:
    """What was read cell by cell: rows, findings, whether any sheet was, and sheets that none reads."""

    rows: tuple[Row, ...]
    findings: tuple[Finding, ...]
    any: bool
    passed_over: tuple[str, ...] = ()


def read(grids: Sequence[Grid], shop: Shop, sha256: str) -> tuple[Spread, list[Grid]]:
    """What sheets say in which every cell is a reading, and the sheets left to be read row by row."""
    told: list[CellRead] = []
    rest = []
    for grid in grids:
        if not headed(grid) and bench.claims(grid):
            told.append(bench.read(grid, shop, sha256))
        else:
            rest.append(grid)
    if told:
        others = [g.sheet or "" for g in rest if not headed(g)]
        rest = [g for g in rest if headed(g)]
    rows = tuple(row for one in told for row in one.rows)
    findings = tuple(f for one in told for f in one.findings)
    return Spread(rows, findings, bool(told), tuple(others) if told else ()), rest
