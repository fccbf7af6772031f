"""One row of a file as its columns' texts, and the doubts that typing it raises."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, tzinfo
from decimal import Decimal
from functools import lru_cache
from typing import Any, Final

from qc import units
from qc.errors import NumberError, TimeError, UnitError
from qc.ingest import times
from qc.ingest.number_marks import Marks, either
from qc.records import Source

FARTHEST: Final = 10**13  # 100 m: a larger length fits neither the shop nor the store's whole numbers


@dataclass(frozen=True, slots=True)
class Doubt:
    """A cell in doubt: cells of one file with the same code and cause make one finding.

    proposal : what the cell might say instead, an empty text where nothing is proposed
    beside : what it was compared with, in words
    """

    code: str
    cause: str
    column: str
    text: str
    proposal: str = ""
    beside: str = ""


@dataclass(frozen=True, slots=True)
class Shop:
    """What the shop has said about its files: zone and the order of day and month; texts read before."""

    zone: tzinfo = UTC
    date_order: str | None = None
    times_read: dict[tuple[str, str], tuple[int, bool]] = field(default_factory=dict, compare=False)
    rows_said: dict[tuple[str | None, ...], Any] = field(default_factory=dict, compare=False)


@lru_cache(maxsize=4096)
def unit_key(text: str) -> str | None:
    """Key of a unit, None for one that nobody knows."""
    try:
        return units.unit(text)
    except UnitError:
        return None


@dataclass(slots=True)
class Line:
    """One row: `texts` of the filled cells by our names of columns, `headers` how the file writes those."""

    shop: Shop
    sha256: str
    number: int
    sheet: str | None
    texts: Mapping[str, str]
    headers: Mapping[str, str]
    doubts: list[Doubt] = field(default_factory=list)
    marks: Marks | None = None  # how its table writes thousands, where it does

    def text(self, column: str) -> str | None:
        """Text of a cell, None for a blank or absent one."""
        return self.texts.get(column)

    def doubt(self, code: str, column: str, *, cause: str | None = None, proposal: str = "") -> None:
        """Note a doubt about a cell; without a cause those of that column and code belong together."""
        header = self.headers.get(column, column)
        self.doubts.append(
            Doubt(code, column if cause is None else cause, header, self.text(column) or "", proposal)
        )

    def plain(self, text: str) -> str:
        """A number as its table writes them, without thousands marks."""
        return text if self.marks is None else self.marks.plain(text)

    def doubt_marks(self, columns: Iterable[str], unit: str, characteristic: str) -> None:
        """Doubt sizes whose mark could stand between thousands where the table does not prove that."""
        for column in columns:
            text = self.text(column) or ""
            if self.marks is None and either(text, unit, characteristic):
                self.doubt("thousands_mark", column, proposal=text.replace(".", "").replace(",", ""))

    def required(self, column: str) -> str | None:
        """Text of a cell that must be filled."""
        found = self.text(column)
        if found is None:
            self.doubt("missing_value", column)
        return found

    def source(self, column: str) -> Source:
        """Where the record stands in the file."""
        return Source(
            self.sha256, self.number, self.headers.get(column, column), self.text(column) or "", self.sheet
        )

    def number_in(self, column: str, unit: str) -> int | None:
        """Ticks of a cell [1e-5 um, deg, %, min], None for a blank or unreadable one."""
        text = self.text(column)
        if text is None:
            return None
        ticks = number_ticks(self.plain(text), unit)
        if ticks is None:
            self.doubt("not_a_number", column)
        return ticks

    def whole(self, column: str, least: int = 1) -> int | None:
        """Whole number of a cell, None for a blank or unreadable one."""
        text = self.texts.get(column)
        if text is None:
            return None
        if text.isascii() and text.isdigit() and len(text) < 6 and int(text) >= least:
            return int(text)
        value = self._plain(column)
        if value is None:
            return None
        if value != value.to_integral_value() or not least <= value <= 1_000_000:
            self.doubt("not_whole", column)
            return None
        return int(value)

    def decimal(self, column: str) -> float | None:
        """Number of a cell as it is, None for a blank or unreadable one."""
        value = self._plain(column)
        return None if value is None else float(value)

    def _plain(self, column: str) -> Decimal | None:
        text = self.text(column)
        if text is None:
            return None
        try:
            return units.number(self.plain(text))
        except NumberError:
            self.doubt("not_a_number", column)
            return None

    def at(self, column: str, date_at: str = "noon") -> tuple[int, bool] | None:
        """Point in time of a cell, and whether it gives only the date; None for a blank or unreadable one."""
        text = self.text(column)
        if text is None:
            return None
        known = self.shop.times_read.get((text, date_at))
        if known is None:
            try:
                known = times.parse_at(text, self.shop.zone, self.shop.date_order, date_at=date_at)  # type: ignore[arg-type]
            except TimeError:
                self._doubt_date(column, text)
                return None
            self.shop.times_read[text, date_at] = known
        return known

    def _doubt_date(self, column: str, text: str) -> None:
        form = times.form(text)
        if form == "serial" and self.shop.date_order != "serial":
            self.doubt("serial_date", column, cause="")
        elif form == "day_or_month" and self.shop.date_order in (None, "serial"):
            self.doubt("date_order", column, cause="")
        else:
            self.doubt("impossible_date", column)

    def one_of(
        self, column: str, known: Callable[[str], str | None], code: str, near: Callable[[str], str]
    ) -> str | None:
        """A filled cell's key by `known`; one that is not known is doubted with `near` as the proposal."""
        text = self.text(column)
        if text is None:
            return None
        key = known(text)
        if key is None:
            self.doubt(code, column, cause=text, proposal=near(text))
        return key


@lru_cache(maxsize=65_536)
def number_ticks(text: str, unit: str) -> int | None:
    """Ticks of a text in a unit, None when it is no number or beyond anything a shop measures."""
    try:
        ticks = units.ticks(units.number(text), unit)
    except NumberError:
        return None
    return ticks if abs(ticks) <= FARTHEST else None
