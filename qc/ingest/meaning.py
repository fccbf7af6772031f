"""What the texts of a foreign sheet mean by its layout: items, units, names of features and depths."""

import re
from dataclasses import dataclass
from decimal import Decimal

from qc import units
from qc.errors import NumberError, UnitError
from qc.ingest.addresses import Cells
from qc.ingest.kinds import folded
from qc.ingest.layout import Item, Layout, Names
from qc.ingest.line import Shop, unit_key

_UNIT_IN = re.compile(r"\(([^()]*)\)")


@dataclass(frozen=True, slots=True)
class Sheet:
    """One tab to be read: its cells, the file's name and hash, the shop, and the layout that fits it."""

    cells: Cells
    name: str
    sha256: str
    shop: Shop
    layout: Layout


def item_text(item: Item, sheet: Sheet) -> str:
    """Text of what holds for a table."""
    if item.cell is not None:
        text = sheet.cells.text(item.cell.top, item.cell.left)
    elif item.tab:
        text = sheet.cells.grid.sheet or ""
    else:
        text = sheet.name.rpartition("/")[2].rpartition(".")[0] if item.file else item.text
    if item.after:
        start, mark, rest = text.partition(item.after)
        text = rest.strip() if mark and not start.strip() else ""
    return text.strip()


def unit_in(text: str) -> str:
    """The one unit a heading names: all of it, or what stands in parentheses; else the text itself."""
    found = {u for u in map(unit_key, (text, *_UNIT_IN.findall(text))) if u is not None}
    return found.pop() if len(found) == 1 else text


def meaning(kind: str, names: Names, text: str) -> str:
    """What a cell of a line means, as a readings file writes it; the text itself where nothing says."""
    known = names.names.get(folded(text))
    if known is not None:
        return known
    if kind == "features" and names.word and text.isdigit():
        return f"{names.word}-{int(text)}"
    if kind == "stations":
        return converted(text, names.unit or "mm", "mm")
    return text


def converted(text: str, unit: str, to: str) -> str:
    """A number in another unit, exact as far as ticks go; the text itself where it is none."""
    if not text or unit == to:
        return text
    try:
        value = units.number(text)
        return f"{round(value * per(unit) / per(to), 20).normalize():f}"
    except (NumberError, UnitError):
        return text


def per(unit: str) -> Decimal:
    """Ticks of one unit.

    Raises
    ------
    UnitError
        When nobody knows it.
    """
    return Decimal(units.ticks(Decimal(1), units.unit(unit)))
