"""Sheets that spread readings over rows and columns: which reader reads which sheet of a file."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from qc.ingest import bench, beside, centres, draft, drafted, hand, shelf
from qc.ingest.addresses import Block, Cells
from qc.ingest.beside import SAY_IT
from qc.ingest.cellwise import CellRead
from qc.ingest.grid import Grid
from qc.ingest.layout import Layout
from qc.ingest.line import Shop
from qc.ingest.meaning import Sheet
from qc.ingest.rows import Row, headed
from qc.records import Cell, Finding

_MOST_ROWS: Final = 2_000  # of a sheet that a person typed
_MOST_LINES: Final = 50_000  # of a list that a machine wrote


@dataclass(frozen=True, slots=True)
class Spread:
    """What was read cell by cell: rows, findings, whether any sheet was, and sheets that none reads."""

    rows: tuple[Row, ...]
    findings: tuple[Finding, ...]
    any: bool
    passed_over: tuple[str, ...] = ()
    layouts: tuple[Layout, ...] = ()


def read(
    grids: Sequence[Grid], shop: Shop, sha256: str, name: str = "", layouts: Sequence[Layout] = ()
) -> tuple[Spread, list[Grid]]:
    """What sheets say in which every cell is a reading, and the sheets left to be read row by row."""
    told: list[CellRead] = []
    rest = []
    used: list[Layout] = []
    for grid in grids:
        one = None if headed(grid) else _cell_by_cell(grid, shop, sha256, name, layouts, used)
        if one is None:
            rest.append(grid)
        else:
            told.append(one)
    others = [g.sheet or "" for g in rest if told and not headed(g)]
    rest = [g for g in rest if not told or headed(g)]
    rows = tuple(row for one in told for row in one.rows)
    findings = tuple(f for one in told for f in one.findings)
    different = tuple({u.digest: u for u in used}.values())
    return Spread(rows, findings, bool(told), tuple(others), different), rest


def _cell_by_cell(
    grid: Grid, shop: Shop, sha256: str, name: str, layouts: Sequence[Layout], used: list[Layout]
) -> CellRead | None:
    if bench.claims(grid):
        return bench.read(grid, shop, sha256)
    cells = Cells(grid)
    if len(grid.rows) > (_MOST_LINES if centres.claims(cells) else _MOST_ROWS):
        return None
    fit, why = shelf.fitting(layouts, name, cells)
    if len(fit) > 1:
        both = " and ".join(f.name for f in fit)
        return _unread(cells, [], f"the layouts {both} both fit it", "Make their [text] tell them apart.")
    if fit:
        used.append(fit[0])
        found = by_layout(Sheet(cells, name, sha256, shop, fit[0]))
        return CellRead(found.rows, (*found.findings, _by(fit[0], cells)))
    return _by_headings(cells, name, sha256, shop, why)


def _by_headings(
    cells: Cells, name: str, sha256: str, shop: Shop, why: Sequence[str]
) -> CellRead | None:
    """What a tab proves by itself, where no layout fits it; `why` those for such files do not."""
    if not why and centres.claims(cells):
        return centres.by_its_headings(cells, name, sha256, shop)
    found_drafts = draft.drafts(cells)
    own = drafted.proved(cells, name, found_drafts) if found_drafts and not why else None
    if own is not None:
        return hand.read(Sheet(cells, name, sha256, shop, own))
    if why:
        return _unread(cells, [d.values for d in found_drafts], f"no layout fits ({'; '.join(why)})", SAY_IT)
    if not found_drafts:
        return None
    said = [
        beside.unread_table(cells, d.values, f"it does not say {'; '.join(drafted.missing(d))}", SAY_IT)
        for d in found_drafts
    ]
    return CellRead((), tuple(said))


def by_layout(sheet: Sheet) -> CellRead:
    """What a tab says by its layout."""
    found = hand.read(sheet)
    lists = [centres.read(sheet, told) for told in sheet.layout.centres]
    rows = (r for one in lists for r in one.rows)
    return CellRead((*found.rows, *rows), (*found.findings, *(f for one in lists for f in one.findings)))


def _unread(cells: Cells, tables: Sequence[Block], why: str, cure: str) -> CellRead:
    if not tables:
        widest = max((c for _, c, _ in cells.filled()), default=0)
        tables = [Block(min(r for r, _ in cells.grid.rows), 0, cells.last_row, widest)]
    return CellRead((), tuple(beside.unread_table(cells, t, why, cure) for t in tables))


def _by(layout: Layout, cells: Cells) -> Finding:
    where = f"The sheet {cells.grid.sheet}" if cells.grid.sheet else "The file"
    return beside.read_with(layout, where, Cell(1, "A", cells.text(1, 0), cells.grid.sheet))
