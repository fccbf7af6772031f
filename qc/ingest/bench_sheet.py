"""Our own bench sheet: a workbook to print and fill in, which tells for itself what each cell is about."""

from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final, Literal

from qc import units
from qc.catalogue import CATALOGUE, said
from qc.errors import FileError, QuestionError
from qc.ingest import bench_key
from qc.ingest.bench_plan import Column, SheetPlan, TablePlan

_CREATED: Final = datetime(2026, 1, 1, tzinfo=UTC).replace(tzinfo=None)  # the same bytes every time
_LABELS: Final = 3  # key, depth, direction
_CAUTION: Final = (
    "Figures are advice: the engine maker's data and the responsible machinist decide. Measure clean, "
    "at even temperature, in the state named."
)
FILL_IN: Final = (
    ("gauge", "gauge"), ("operator", "measured by"), ("measured_at", "date (and time)"),
    ("part_c", "part temperature, deg C"),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Form:
    """How the machinist likes to write: deviations or sizes, and in which unit."""

    reading: Literal["deviation", "size"]
    unit: str


def form_of(characteristic: str, reading: str | None, unit: str | None, metric: bool) -> Form:
    """How a characteristic is written on a sheet.

    Raises
    ------
    QuestionError
        When it has no target to deviate from, or the unit does not measure it.
    """
    entry = CATALOGUE[characteristic]
    if reading == "deviation" and not entry.coded:
        reading = "size"  # texture and form stand as they are beside deviations of sizes
    coded = entry.coded and reading != "size"
    usual = entry.unit
    if entry.kind == "length" and entry.coded:
        usual = ("um" if metric else "tenth") if coded else ("mm" if metric else "in")
    elif entry.kind == "length" and not metric:
        usual = "uin"
    if unit is not None and units.kind(unit) == entry.kind:
        usual = unit
    elif unit is not None and entry.coded:
        raise QuestionError(f"{unit} does not measure {characteristic}: take another --unit")
    return Form("deviation" if coded else "size", usual)


def write(plan: SheetPlan, forms: dict[str, Form], path: Path, *, pass_: int | None = None) -> None:
    """Write the sheet of a build.

    Parameters
    ----------
    forms : mapping
        By characteristic.
    path : Path
        An XLSX file that is not there yet.

    Raises
    ------
    FileError
        The file is there already, is to be something else than XLSX, or cannot be written.
    """
    import xlsxwriter
    from xlsxwriter.exceptions import XlsxWriterException

    if path.suffix.lower() != ".xlsx":
        raise FileError(f"a bench sheet is a workbook: name it {path.stem}.xlsx")
    if path.exists():
        raise FileError(f"{path.name} is there already and is left alone: name another file")
    book = xlsxwriter.Workbook(str(path), {"strings_to_formulas": False, "strings_to_urls": False})
    book.set_properties({"created": _CREATED, "title": f"bench sheet of {plan.build}"})
    looks = _looks(book)
    for n, (machine, operation) in enumerate(_tabs(plan), start=1):
        mine = [t for t in plan.tables if (t.head["machine"], t.head["operation"]) == (machine, operation)]
        _Tab(book.add_worksheet(f"{n} {_safe(machine)}"[:31]), looks, plan, forms, pass_).fill(mine)
    try:
        book.close()
    except (XlsxWriterException, OSError):
        raise FileError(
            f"{path.name} cannot be written: check its folder and your right to write there"
        ) from None


def _tabs(plan: SheetPlan) -> list[tuple[str, str]]:
    return list(dict.fromkeys((t.head["machine"], t.head["operation"]) for t in plan.tables))


def _safe(name: str) -> str:
    return "".join(" " if c in "[]:*?/\\'" else c for c in name)


def _looks(book: Any) -> dict[str, Any]:
    edge = {"border": 1, "border_color": "#9AA5B1"}
    return {
        "key": book.add_format({"font_size": 5, "font_color": "#C8CDD3"}),
        "title": book.add_format({"bold": True, "font_size": 13}),
        "words": book.add_format({"font_color": "#444444"}),
        "label": book.add_format({"font_color": "#444444", "align": "right", **edge}),
        "head": book.add_format({"bold": True, "align": "center", "bg_color": "#E8EEF4", **edge}),
        "given": book.add_format({"align": "center", "font_color": "#444444", **edge}),
        "fill": book.add_format({"align": "center", **edge}),
        "date": book.add_format({"align": "center", "num_format": "yyyy-mm-dd hh:mm", **edge}),
        "note": book.add_format({"align": "left", "num_format": "@", **edge}),
    }


def title(key: bench_key.TableKey) -> str:
    """Heading of a table."""
    again = f", pass {key.pass_}" if key.pass_ else ""
    return f"{key.build}{again}: {said(key.characteristic)}, {said(key.state)}"


def how(key: bench_key.TableKey) -> str:
    """How a table is to be filled in."""
    whose = f"{key.machine}, {said(key.operation)}"
    if key.reading == "deviation":
        return f"{whose}. Write how far each is from its target, in {key.unit}, + larger."
    return f"{whose}. Write sizes in {key.unit}."


def labels(row: str, key: bench_key.TableKey) -> tuple[str, ...]:
    """What we wrote at the left of a row, by the row's key."""
    aim = units.TARGET_UNIT.get(key.unit, key.unit) if key.reading == "deviation" else key.unit
    known = {bench_key.FILLED + column: (label,) for column, label in FILL_IN} | {
        bench_key.HEAD: ("depth, mm", "direction"), bench_key.NOTE: ("note",),
        "target": (f"target, {aim}",), "order": ("machined as no.",),
        **{name: (f"{name} limit, {key.unit}",) for name in ("lower", "upper")},
    }  # fmt: skip
    return known.get(row, ())


class _Tab:
    """Fills one worksheet, row by row."""

    def __init__(
        self, sheet: Any, looks: dict[str, Any], plan: SheetPlan, forms: dict[str, Form], pass_: int | None
    ) -> None:
        self.sheet, self.looks, self.plan, self.forms, self.pass_ = sheet, looks, plan, forms, pass_
        self.row = 0

    def fill(self, tables: list[TablePlan]) -> None:
        """Write the tables of one machine and operation, each on a page of its own where it does not fit."""
        widest = max(len(t.columns) for t in tables)
        sheet = self.sheet
        sheet.set_landscape()
        sheet.set_paper(9)  # A4
        sheet.set_margins(left=0.4, right=0.4, top=0.8, bottom=0.7)
        sheet.set_header(f"&L{self._plain(self.plan.build)}&C{self._plain(self._whose(tables[0]))}&R&P / &N")
        sheet.set_footer(f"&L&8{_CAUTION}")
        sheet.set_column(0, 0, 1.5)
        sheet.set_column(1, 2, 11)
        sheet.set_column(_LABELS, _LABELS + widest - 1, 10)
        sheet.set_column(_LABELS + widest, _LABELS + widest, 24)
        breaks = []
        for table in tables:
            breaks.append(self.row)
            self._table(table)
        sheet.set_h_pagebreaks(breaks[1:])
        # the key stays off the paper
        sheet.print_area(0, 1, self.row - 1, _LABELS + widest)
        sheet.fit_to_pages(1, 0)

    @staticmethod
    def _plain(text: str) -> str:
        return text.replace("&", "&&")

    def _whose(self, table: TablePlan) -> str:
        return f"{table.head['machine']}, {said(table.head['operation'])}"

    def _begin(self, key: str) -> None:
        self.sheet.write_string(self.row, 0, key, self.looks["key"])

    def _table(self, table: TablePlan) -> None:
        head, form = table.head, self.forms[table.head["characteristic"]]
        key = bench_key.TableKey(
            build=self.plan.build, engine=self.plan.engine or "", serial=self.plan.serial or "",
            reading=form.reading, unit=form.unit, pass_=str(self.pass_ or ""), **head,
        )  # fmt: skip
        self._begin(key.text())
        self.sheet.write_string(self.row, 1, title(key), self.looks["title"])
        self.row += 1
        self._begin(bench_key.WORDS)
        self.sheet.write_string(self.row, 1, how(key), self.looks["words"])
        self.row += 1
        for column, _ in FILL_IN:
            self._begin(bench_key.FILLED + column)
            self._label(bench_key.FILLED + column, key)
            look = self.looks["date" if column == "measured_at" else "note"]
            self.sheet.write_blank(self.row, _LABELS, None, look)
            self.row += 1
        self._headings(table, form, key)
        for station, clock in table.positions:
            self._begin(bench_key.place(station, clock))
            self._given(1, station, "mm", self.looks["label"])
            self._given(2, clock, "deg", self.looks["label"])
            self._blanks(len(table.columns) + 1)
            self.row += 1
        self._begin(bench_key.NOTE)
        self._label(bench_key.NOTE, key)
        self._blanks(len(table.columns))
        self.row += 2

    def _blanks(self, count: int) -> None:
        for i in range(count):
            self.sheet.write_blank(self.row, _LABELS + i, None, self.looks["fill"])

    def _given(self, at: int, ticks: int | None, unit: str, look: Any) -> None:
        if ticks is None:
            self.sheet.write_blank(self.row, at, None, look)
        else:
            self.sheet.write_number(self.row, at, float(units.exact(ticks, unit)), look)

    def _label(self, row: str, key: bench_key.TableKey) -> None:
        self.sheet.merge_range(self.row, 1, self.row, 2, labels(row, key)[0], self.looks["label"])

    def _headings(self, table: TablePlan, form: Form, key: bench_key.TableKey) -> None:
        aim = units.TARGET_UNIT.get(form.unit, form.unit) if form.reading == "deviation" else form.unit
        self._begin(bench_key.COLUMNS)
        for i, c in enumerate(table.columns):
            both = (_text(_limit(c, name, form), form.unit) for name in ("lower", "upper"))
            told = bench_key.column(c.feature, _text(c.target, aim), *both)
            self.sheet.write_string(self.row, _LABELS + i, told, self.looks["key"])
        self.sheet.write_string(self.row, _LABELS + len(table.columns), bench_key.NOTE, self.looks["key"])
        self.sheet.set_row(self.row, 6)
        self.row += 1
        self._begin(bench_key.HEAD)
        for i, label in enumerate(labels(bench_key.HEAD, key), start=1):
            self.sheet.write_string(self.row, i, label, self.looks["head"])
        for i, c in enumerate(table.columns):
            self.sheet.write_string(self.row, _LABELS + i, c.feature, self.looks["head"])
        self.sheet.write_string(self.row, _LABELS + len(table.columns), bench_key.NOTE, self.looks["head"])
        self.row += 1
        if CATALOGUE[table.head["characteristic"]].coded:
            self._line("target", key, [c.target for c in table.columns], aim)
        for name in ("lower", "upper"):
            limits = [_limit(c, name, form) for c in table.columns]
            if any(x is not None for x in limits):
                self._line(name, key, limits, form.unit)
        self._line("order", key, [None] * len(table.columns), "mm")

    def _line(self, row: str, key: bench_key.TableKey, sizes: list[int | None], unit: str) -> None:
        self._begin(row)
        self._label(row, key)
        for i, ticks in enumerate(sizes):
            self._given(_LABELS + i, ticks, unit, self.looks["given"])
        self.row += 1


def _text(ticks: int | None, unit: str) -> str:
    return "" if ticks is None else format(float(units.exact(ticks, unit)), ".15g")


def _limit(column: Column, name: str, form: Form) -> int | None:
    """A limit as it is written on the sheet: a distance, or a size where sizes are written."""
    ticks: int | None = getattr(column, name)
    if ticks is None or form.reading == "deviation" or column.target is None:
        return ticks
    return column.target + ticks
