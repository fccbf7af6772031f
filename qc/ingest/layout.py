"""What a foreign sheet's cells mean, as a person wrote it down once: layout files in TOML."""

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from fnmatch import fnmatchcase
from hashlib import sha256
from typing import Any, Final

from qc import units
from qc.catalogue import CATALOGUE
from qc.errors import FileError, UnitError
from qc.ingest import layout_centres
from qc.ingest.addresses import Block, Cells, block, column_index
from qc.ingest.kinds import folded
from qc.ingest.layout_centres import CentresLayout
from qc.ingest.layout_trace import TraceLayout, trace

# what holds for a whole table: keys of a layout, and the columns of a readings file they fill
ITEMS: Final[Mapping[str, str]] = {
    "build": "build", "engine": "engine", "serial": "serial", "machine": "machine", "operation": "operation",
    "characteristic": "characteristic", "method": "method", "state": "state", "reading": "reading",
    "unit": "unit", "gauge": "gauge", "operator": "operator", "date": "measured_at", "pass": "pass",
    "trial": "trial", "material": "material", "torque": "torque", "master": "master", "note": "note",
}  # fmt: skip
LINES: Final = ("features", "stations", "directions", "targets", "order", "states")
NEEDED: Final = ("build", "machine", "operation", "characteristic", "state", "reading", "unit", "date")
_ITEM_KEYS: Final = frozenset({"cell", "tab", "file", "after"})
_LINE_KEYS: Final = frozenset({"cells", "names", "list", "word", "unit", "span"})
_KINDS: Final = ("table", "log", "centres", "trace")
_TOP: Final = frozenset({"file", "tab", "text", "all", *_KINDS})
_LOG: Final = frozenset({
    *ITEMS, "target", "values", "first", "units", "times", "channels", "channel", "order",
})  # fmt: skip
_TABLE: Final = frozenset({*ITEMS, *LINES, "target", "values"})
_CENTRES: Final = frozenset({*ITEMS, *layout_centres.KEYS})


@dataclass(frozen=True, slots=True)
class Item:
    """Where a text that holds for a table stands: written here, in a cell, the tab's or the file's name."""

    text: str = ""
    cell: Block | None = None
    tab: bool = False
    file: bool = False
    after: str = ""
    unit: str = ""

    @property
    def said(self) -> bool:
        """Whether it says anything."""
        return bool(self.text or self.cell or self.tab or self.file)


@dataclass(frozen=True, slots=True)
class Names:
    """A line of cells that name features, depths or directions, and what the names mean.

    names : what a text in the cells means; list : the meanings in order, whatever the cells say
    word : put before a bare number (cyl); unit : of depths and targets; span : cells that each name covers
    """

    cells: Block
    names: Mapping[str, str] = field(default_factory=dict)
    list: tuple[str, ...] = ()
    word: str = ""
    unit: str = ""
    span: int = 1
    across: bool = True


@dataclass(frozen=True, slots=True)
class TableLayout:
    """One table: what holds for all of it, its lines, its target, and the block of its values."""

    items: Mapping[str, Item]
    lines: Mapping[str, Names]
    target: Item | None
    values: Block

    @property
    def missing(self) -> tuple[str, ...]:
        """Keys without which its readings have no meaning, and that say nothing."""
        found = [k for k in NEEDED if not (k in self.items and self.items[k].said)]
        if "states" in self.lines and "state" in found:
            found.remove("state")
        told = CATALOGUE.get(self.items["characteristic"].text) if "characteristic" in self.items else None
        lines = ["features", "stations"] if told is None or told.level == "position" else ["features"]
        return (*found, *(k for k in lines if k not in self.lines))


@dataclass(frozen=True, slots=True)
class LogLayout:
    """A gauge logger's list: one reading a row, whose order alone says what was measured where.

    value, unit, channel : columns, from 0; times : columns that together tell when; first : its first row
    only : the channel that is read; order : feature, depth [mm] and direction [deg] of each reading
    """

    items: Mapping[str, Item]
    value: int
    first: int
    order: tuple[tuple[str, str, str], ...]
    unit: int | None = None
    times: tuple[int, ...] = ()
    channel: int | None = None
    only: str = ""
    target: Item | None = None

    @property
    def missing(self) -> tuple[str, ...]:
        """Keys without which its readings have no meaning, and that say nothing."""
        told = {"unit"} if self.unit is not None else set()
        told |= {"date"} if self.times else set()
        return tuple(k for k in NEEDED if k not in told and not (k in self.items and self.items[k].said))


@dataclass(frozen=True, slots=True)
class Layout:
    """A layout: its name, digest of its text, which files and tabs it is for, and its tables."""

    name: str
    digest: str
    content: bytes
    files: tuple[str, ...]
    tabs: tuple[str, ...]
    texts: Mapping[str, str]
    tables: tuple[TableLayout, ...]
    logs: tuple[LogLayout, ...] = ()
    centres: tuple[CentresLayout, ...] = ()
    traces: tuple[TraceLayout, ...] = ()

    def for_file(self, name: str) -> bool:
        """Whether it is for files of this name."""
        last = name.rpartition("/")[2].casefold()
        return any(fnmatchcase(last, pattern.casefold()) for pattern in self.files)

    def unlike(self, cells: Cells) -> str | None:
        """What on a tab is not as the layout says; None where all is, a blank text for another tab."""
        tab = (cells.grid.sheet or "").casefold()
        if not any(fnmatchcase(tab, pattern.casefold()) for pattern in self.tabs):
            return ""
        for address, wanted in self.texts.items():
            place = block(address)
            seen = cells.text(place.top, place.left)
            if folded(seen) != folded(wanted):
                return f"{address} reads {seen!r} instead of {wanted!r}"
        return None


def layout(name: str, data: bytes) -> Layout:
    """The layout that a TOML file holds.

    Raises
    ------
    FileError
        When it is no TOML, or says what no layout says.
    """
    try:
        told = tomllib.loads(data.decode("utf-8-sig"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as fault:
        raise FileError(f"the layout {name} is no TOML ({fault}): put that line right") from None
    try:
        return _layout(name, data, told)
    except FileError as fault:
        raise FileError(f"the layout {name}: {fault}") from None


def _layout(name: str, data: bytes, told: Mapping[str, Any]) -> Layout:
    _only(told, _TOP, "the layout")
    shared = _mapping(told.get("all", {}), "all")
    tables, logs, lists, profiles = several = [told.get(k, []) for k in _KINDS]
    if not (all(isinstance(some, list) for some in several) and any(several)):
        raise FileError(
            "it has no [[table]]: write one for each table of the sheet, a [[log]] for a gauge's list, "
            "[[centres]] for a list of housing centres, or a [[trace]] for profile traces"
        )
    if profiles and (tables or logs or lists):
        raise FileError("a [[trace]] is about other files than the rest: write it a layout of its own")
    texts = {a: str(t) for a, t in _mapping(told.get("text", {}), "text").items()}
    for address in texts:
        block(address)
    files = _several(told.get("file"), "file")
    if not files:
        raise FileError('it says not which files it is for: write file = ["bores *.xlsx"]')
    return Layout(
        name, sha256(data).hexdigest(), data, files, _several(told.get("tab"), "tab") or ("*",), texts,
        tuple(_table({**shared, **_mapping(t, "table")}) for t in tables),
        tuple(_log({**shared, **_mapping(t, "log")}) for t in logs),
        tuple(_centres({**shared, **_mapping(t, "centres")}) for t in lists),
        tuple(trace({**shared, **_mapping(t, "trace")}) for t in profiles),
    )  # fmt: skip


def _only(told: Mapping[str, Any], known: frozenset[str], where: str) -> None:
    strange = [k for k in told if k not in known]
    if strange:
        raise FileError(f"{where} has no key {strange[0]!r}: it knows {', '.join(sorted(known))}")


def _mapping(told: Any, where: str) -> Mapping[str, Any]:
    if not isinstance(told, dict):
        raise FileError(f"{where} must be a table of keys")
    return told


def _several(told: Any, where: str) -> tuple[str, ...]:
    if told is None:
        return ()
    listed = [told] if isinstance(told, str) else told
    if not isinstance(listed, list) or not all(isinstance(x, str) for x in listed):
        raise FileError(f"{where} must be a text or a list of texts")
    return tuple(listed)


def _table(told: Mapping[str, Any]) -> TableLayout:
    _only(told, _TABLE, "a table")
    items = {k: _item(told[k], k) for k in ITEMS if k in told}
    lines = _lines(told)
    target = _item(told["target"], "target", frozenset({"unit"})) if "target" in told else None
    if target is not None and target.said and not target.unit:
        raise FileError('the target needs its unit: write target = {cell = "K4", unit = "in"}')
    if "targets" in lines and not lines["targets"].unit:
        raise FileError('targets need their unit: write targets = {cells = "C4:J4", unit = "in"}')
    return TableLayout(items, lines, target, _values(told, lines))


def _log(told: Mapping[str, Any]) -> LogLayout:
    _only(told, _LOG, "a log")
    items = {k: _item(told[k], k) for k in ITEMS if k in told}
    first = told.get("first")
    if not isinstance(first, int) or isinstance(first, bool) or first < 1:
        raise FileError("a log must say in which row its readings begin: first = 2")
    order = tuple(_spot(str(spot)) for spot in told.get("order", ()))
    if not order:
        raise FileError('a log must say the order of its readings: order = ["cyl-1 12 0", "cyl-1 12 90"]')
    if ("channels" in told) != ("channel" in told):
        raise FileError('channels (a column) goes with channel (what is read): channels = "F", channel = "1"')
    times = tuple(_column(t, "times") for t in _several(told.get("times"), "times"))
    target = _item(told["target"], "target", frozenset({"unit"})) if "target" in told else None
    if target is not None and target.said and not target.unit:
        raise FileError('the target needs its unit: write target = {cell = "K4", unit = "in"}')
    channel = _column(told["channels"], "channels") if "channels" in told else None
    unit = _column(told["units"], "units") if "units" in told else None
    value = _column(told.get("values", ""), "values")
    return LogLayout(items, value, first, order, unit, times, channel, str(told.get("channel", "")), target)


def _centres(told: Mapping[str, Any]) -> CentresLayout:
    _only(told, _CENTRES, "centres")
    return layout_centres.centres(told, {k: _item(told[k], k) for k in ITEMS if k in told})


def _unit(told: Mapping[str, Any]) -> None:
    if told.get("unit"):
        try:
            units.unit(str(told["unit"]))
        except UnitError as fault:
            raise FileError(str(fault)) from None


def _column(told: Any, key: str) -> int:
    text = str(told).strip()
    if not (text.isascii() and text.isalpha() and len(text) <= 3):
        raise FileError(f'{key} must name a column by its letter: {key} = "D"')
    return column_index(text)


def _spot(text: str) -> tuple[str, str, str]:
    """Feature, depth and direction of one reading of a log."""
    parts = text.split()
    if not 1 <= len(parts) <= 3:
        raise FileError(f'{text!r} in order is no feature, depth in mm and direction: write "cyl-1 12 90"')
    feature, station, clock = (*parts, "", "")[:3]
    return feature, station, clock


def _lines(told: Mapping[str, Any]) -> dict[str, Names]:
    found = {k: _line(told[k], k) for k in LINES if k in told}
    if "features" in found and found["features"].cells.size > 1:
        # a single cell runs the other way than the features do
        single = not found["features"].across
        found = {k: replace(n, across=single) if n.cells.size == 1 else n for k, n in found.items()}
    return found


def _item(told: Any, key: str, more: frozenset[str] = frozenset()) -> Item:
    if isinstance(told, dict):
        _only(told, _ITEM_KEYS | more, key)
        place = block(str(told["cell"])) if told.get("cell") else None
        _unit(told)
        return Item(
            "", place, bool(told.get("tab")), bool(told.get("file")), str(told.get("after", "")),
            str(told.get("unit", "")),
        )  # fmt: skip
    if isinstance(told, bool) or not isinstance(told, str | int | float):
        raise FileError(f'{key} must be a text, or say where it stands: {key} = {{cell = "B2"}}')
    return Item(str(told).strip())


def _line(told: Any, key: str) -> Names:
    where = f'write {key} = {{cells = "C5:J5"}}'
    if not isinstance(told, dict) or not told.get("cells"):
        raise FileError(f"{key} must say in which cells they stand: {where}")
    _only(told, _LINE_KEYS, key)
    cells = block(str(told["cells"]))
    _unit(told)
    if not (cells.across or cells.down):
        raise FileError(f"{key} must be one row or one column of cells: {where}")
    names = {folded(str(k)): str(v) for k, v in _mapping(told.get("names", {}), key).items()}
    blank = next((k for k, v in told.get("names", {}).items() if not str(v).strip()), None)
    if blank is not None:
        raise FileError(f"{key} do not say what {blank!r} means: write it behind the name")
    listed = tuple(str(x) for x in told.get("list", ()))
    span = told.get("span", 1)
    if not isinstance(span, int) or isinstance(span, bool) or span < 1 or cells.size % span:
        raise FileError(f"the span of {key} must divide its {cells.size} cells")
    if listed and len(listed) * span != cells.size:
        raise FileError(
            f"the list of {key} has {len(listed)} entries for {cells.size // span} places in {cells.text}"
        )
    return Names(cells, names, listed, str(told.get("word", "")), str(told.get("unit", "")), span,
                 cells.across)  # fmt: skip


def _values(told: Mapping[str, Any], lines: Mapping[str, Names]) -> Block:
    """Block of a table's values: written, else where its lines across and its lines down cross."""
    if told.get("values"):
        spot = told["values"]
        return block(str(spot["cells"] if isinstance(spot, dict) else spot))
    across = _ends([n.cells for n in lines.values() if n.across], "left", "right")
    down = _ends([n.cells for n in lines.values() if not n.across], "top", "bottom")
    if across is None or down is None:
        raise FileError('nothing says where its values stand: write values = "C6:J11"')
    return Block(down[0], across[0], down[1], across[1])


def _ends(blocks: Sequence[Block], first: str, last: str) -> tuple[int, int] | None:
    found = {(getattr(b, first), getattr(b, last)) for b in blocks}
    if len(found) > 1:
        raise FileError(f"its lines do not reach equally far: {', '.join(b.text for b in blocks)}")
    return next(iter(found), None)
