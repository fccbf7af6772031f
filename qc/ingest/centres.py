"""Reader of lists of centres and sizes from a coordinate measuring machine: one line a hole and axis.

A height or sideways place becomes a reading of `tunnel_centre`, its station the place along the line: the
nominal one where the list has it, so that a block measured twice has the same places. A diameter becomes a
reading of `tunnel_diameter`, `bore_diameter` or `rod_bore_diameter` by the method `fitted`, as a circle
through many points is no two-point size.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Final

from qc import units
from qc.errors import UnitError
from qc.ingest import beside, centre_checks, centre_columns, centre_words, typed_numbers
from qc.ingest.addresses import Cells
from qc.ingest.beside import SAY_IT
from qc.ingest.cellwise import CellRead, Place, letters, row_of
from qc.ingest.centre_columns import Columns
from qc.ingest.layout import ITEMS, Layout
from qc.ingest.layout_centres import NEEDED, CentresLayout
from qc.ingest.line import Doubt, Shop, unit_key
from qc.ingest.meaning import Sheet, converted, item_text, unit_in
from qc.ingest.rows import WRITTEN, Row
from qc.records import Cell, Finding, Reading

METHOD: Final = "fitted"
_SIZED: Final = {"main": "tunnel_diameter", "cyl": "bore_diameter", "rod": "rod_bore_diameter"}
_FIGURES: Final = ("nominal", "actual", "deviation", "plus", "minus", "out")


def claims(cells: Cells) -> bool:
    """Whether a sheet is a list of centres, by its header."""
    return centre_columns.columns(cells) is not None


def read(sheet: Sheet, told: CentresLayout) -> CellRead:
    """Readings of a list of centres, and findings about what was left over."""
    columns = centre_columns.columns(sheet.cells)
    if columns is None:
        return CellRead((), (centre_words.unread([], "it has no header we know", SAY_IT),))
    return _List(sheet, told, columns).read()


@dataclass(slots=True)
class _Line:
    """One line: its row, main, axis, and texts by role."""

    row: int
    feature: str
    axis: str
    texts: Mapping[str, str]


@dataclass(slots=True)
class _List:
    """Reads one list."""

    sheet: Sheet
    told: CentresLayout
    columns: Columns
    left_out: list[Cell] = field(default_factory=list)
    unmeasured: list[Cell] = field(default_factory=list)
    written: dict[str, int] = field(default_factory=dict)  # digits behind the mark, by role
    unnamed: dict[str, list[Cell]] = field(default_factory=lambda: {"axis": [], "feature": []})

    @property
    def cells(self) -> Cells:
        return self.sheet.cells

    def read(self) -> CellRead:
        why = self._missing()
        if why:
            at = self.columns.at["actual"]
            figures = [self.cells.cell(r, at) for r in self._rows() if self.cells.text(r, at)]
            return CellRead((), (centre_words.unread(figures, why, SAY_IT),))
        lines = list(self._lines())
        for role in _FIGURES:
            self.written[role] = centre_checks.places(one.texts.get(role, "") for one in lines)
        stations = self._stations(lines)
        rows = [self._row(line, stations) for line in lines if not line.axis.endswith("along")]
        return CellRead(tuple(rows), tuple(self._said(lines)))

    def _missing(self) -> str:
        """What the list and its layout do not say, in words."""
        if self.columns.twice:
            return f"more than one column could be its {', '.join(self.columns.twice)}"
        at = self.columns.at
        has = {"unit": bool(self.columns.unit) or "unit" in at, "date": "measured_at" in at}
        items = {k for k, item in self.told.items.items() if item.said}
        absent = [k for k in NEEDED if k not in items and k not in at and not has.get(k)]
        named = item_text(self.told.items["unit"], self.sheet) if "unit" in items else ""
        heading = self.columns.unit
        if named and heading and unit_key(unit_in(named)) != heading:
            return f"the layout says its unit is {named}, its heading says {heading}"
        return f"neither it nor a layout says its {', '.join(absent)}" if absent else ""

    def _rows(self) -> Iterator[int]:
        for row, _ in self.cells.grid.rows:
            if row > self.columns.row and not centre_columns.is_header(self.cells, row, self.columns):
                yield row

    def _lines(self) -> Iterator[_Line]:
        at, above = self.columns.at, ""
        for row in self._rows():
            texts = {role: self.cells.text(row, i) for role, i in at.items()}
            if texts["feature"]:
                above = texts["feature"]
            elif self.told.fill_down:
                texts["feature"] = above
            if not texts["axis"] and not texts["actual"]:
                continue
            empty = not texts["actual"] and (row, at["actual"]) not in self.cells.grid.formulas
            if typed_numbers.not_measured(texts["actual"]) or empty:
                self.unmeasured.append(self.cells.cell(row, at["actual"]))
                continue
            line = self._named(row, texts)
            if line is not None:
                yield line

    def _named(self, row: int, texts: Mapping[str, str]) -> _Line | None:
        """A line whose main and axis are known; others are noted."""
        feature, axis = self.told.feature(texts["feature"]), self.told.axis(texts["axis"])
        if feature == "-" or axis == "-":
            role = "feature" if feature == "-" else "axis"
            self.left_out.append(self.cells.cell(row, self.columns.at[role]))
            return None
        if feature is None or not _has(feature, axis):
            self.unnamed["feature"].append(self.cells.cell(row, self.columns.at["feature"]))
            return None
        if axis is None:
            self.unnamed["axis"].append(self.cells.cell(row, self.columns.at["axis"]))
            return None
        return _Line(row, feature, axis, texts)

    def _unit(self, texts: Mapping[str, str]) -> str:
        said = texts.get("unit") or self.columns.unit
        return said or (unit_in(item_text(self.told.items["unit"], self.sheet)) if "unit" in self.told.items
                        else "")  # fmt: skip

    def _stations(self, lines: list[_Line]) -> dict[str, str]:
        """Place along the line of each main [mm]; blank where two lines of a main name different ones."""
        found: dict[str, str] = dict(self.told.stations)
        for line in lines:
            if not line.axis.endswith("along"):
                continue
            text = line.texts.get("nominal") or line.texts["actual"]
            place = converted(text, self._unit(line.texts), "mm") if self._length(line) else ""
            number = centre_checks.plain(place)
            unit = self._unit(line.texts)
            if number is None or centre_checks.doubts(line.texts, self.written, unit, False, ""):
                found[line.feature] = ""
                continue
            number = -number if line.axis.startswith("-") else number
            told = f"{number - Decimal(self.told.start):f}"
            found[line.feature] = told if found.get(line.feature, told) == told else ""
        return found

    def _length(self, line: _Line) -> bool:
        try:
            return units.kind(units.unit(self._unit(line.texts))) == "length"
        except UnitError:
            return False

    def _row(self, line: _Line, stations: Mapping[str, str]) -> Row:
        at = self.columns.at["actual"]
        size = line.axis in ("diameter", "radius")
        told = self._common(line)
        doubts: list[Doubt] = []
        if size:
            told |= {"characteristic": _SIZED[_word(line.feature)], "method": told.get("method") or METHOD}
            told |= self._sizes(line)
            if _word(line.feature) != "main" and (station := line.texts.get("station_mm")):
                told["station_mm"] = station
        else:
            told |= {"characteristic": "tunnel_centre", "method": line.axis.removeprefix("-")}
            told["station_mm"] = line.texts.get("station_mm") or stations.get(line.feature, "")
            doubts += self._place_doubts(stations, told["station_mm"], letters(at), line)
        turned = line.axis == "radius" or line.axis.startswith("-")
        told["value"], more = self._turned(line, letters(at)) if turned else (line.texts["actual"], [])
        doubts += more
        if self._length(line):
            unit = units.unit(told["unit"])
            doubts += centre_checks.doubts(line.texts, self.written, unit, size, letters(at))
        if not line.texts["actual"]:
            doubts.append(Doubt("formula_without_value", "", letters(at), ""))
        place = Place(self.cells.grid.sheet, line.row, letters(at), self.cells.grid.hidden_at(line.row, at))
        return _as_written(row_of(self.sheet.shop, self.sheet.sha256, place, told, doubts), line)

    def _common(self, line: _Line) -> dict[str, str]:
        told = {ITEMS[k]: item_text(i, self.sheet) for k, i in self.told.items.items()}
        told |= {k: t for k, t in line.texts.items() if k not in (*_FIGURES, "axis", "station_mm") and t}
        return told | {"feature": line.feature, "unit": self._unit(line.texts), "reading": "size"}

    def _sizes(self, line: _Line) -> dict[str, str]:
        """Target and limits of a diameter; a radius doubled."""
        lower, upper = centre_checks.limits(line.texts, self.told.unsigned)
        told = {"target": line.texts.get("nominal", ""), "lower": lower, "upper": upper}
        if line.axis == "diameter":
            return {k: t for k, t in told.items() if centre_checks.plain(t) is not None}
        return {k: f"{n * 2:f}" for k, t in told.items() if (n := centre_checks.plain(t)) is not None}

    @staticmethod
    def _turned(line: _Line, column: str) -> tuple[str, list[Doubt]]:
        text = line.texts["actual"]
        number = centre_checks.plain(text)
        if number is None:
            return text, [Doubt("turned_figure", "", column, text)]
        return f"{number * 2 if line.axis == 'radius' else -number:f}", []

    def _place_doubts(
        self, stations: Mapping[str, str], station: str, column: str, line: _Line
    ) -> list[Doubt]:
        if centre_checks.plain(station) is None:
            return [Doubt("no_place", "", column, line.texts["actual"])]
        least = min(n for t in (*stations.values(), station) if (n := centre_checks.plain(t)) is not None)
        if least < 0:  # all of them wait: the layout's start will move every place
            start = f"{least + Decimal(self.told.start):f}"
            return [Doubt("place_below_nought", "", column, line.texts["actual"], start, f"{least:f}")]
        return []

    def _said(self, lines: list[_Line]) -> Iterator[Finding]:
        for kind, cells in self.unnamed.items():
            if cells:
                yield centre_words.not_said(kind, cells)
        if self.left_out:
            yield centre_words.not_said("", self.left_out, "note")
        if self.unmeasured:
            yield beside.not_measured(self.unmeasured)
        unsigned = [
            self.cells.cell(line.row, self.columns.at["minus"])
            for line in lines
            if line.axis in ("diameter", "radius") and not self.told.unsigned and "minus" in self.columns.at
            and (centre_checks.plain(line.texts["minus"]) or 0) > 0
            and not line.texts["minus"].startswith("+")
        ]  # fmt: skip
        if unsigned:
            yield centre_words.no_limits(unsigned)


def _word(feature: str) -> str:
    return feature.partition("-")[0]


def _has(feature: str, axis: str | None) -> bool:
    """Whether a hole is one that lists tell of: a main anything, a bore or rod its size."""
    word, _, number = feature.partition("-")
    return number.isdigit() and (word == "main" or (word in _SIZED and axis in ("diameter", "radius")))


def _as_written(row: Row, line: _Line) -> Row:
    """The row, its reading's text as the file has it: a turned figure is worked out from it."""
    text = line.texts["actual"]
    if dict(row.fields).get("value") == text:
        return row
    record = row.record
    if isinstance(record, Reading):
        record = replace(record, source=replace(record.source, text=text))
    return replace(row, record=record, names=(*row.names, WRITTEN), cells=(*row.cells, text))


def by_its_headings(cells: Cells, name: str, sha256: str, shop: Shop) -> CellRead:
    """Readings of a list that no layout is for: read where its own columns say everything."""
    own = Layout("the list's own headings", "", b"", ("*",), ("*",), {}, ())
    return read(Sheet(cells, name, sha256, shop, own), CentresLayout())
