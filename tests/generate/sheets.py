"""Hand sheets as shops keep them, with the truth beside each cell.

Every sheet is drawn from a seed; what its cells mean is worked out here with whole numbers and exact
fractions, from the definitions 1 in = 25.4 mm, 1 thou = 0.001 in, 1 tenth = 0.0001 in. Nothing of the
product is used. `python -m tests.generate.sheets FOLDER` writes them out to look at.
"""

import io
import random
import sys
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path

import xlsxwriter

TICK = {  # 1e-5 um in one unit
    "mm": Fraction(100_000_000), "um": Fraction(100_000), "in": Fraction(2_540_000_000),
    "thou": Fraction(2_540_000), "tenth": Fraction(254_000),
}  # fmt: skip
HELD = ("3/10", "30 over", "OK", "see note", "~", "3 low", "4.03.05", "(3)", "+-2", "1 1/2", "4.0305?")
NOTHING = ("-", "N/A", "n/a", "\u2013", "\u2014", "--")
DEPTHS = (12, 65, 118)


@dataclass
class Cell:
    """What a value cell is meant to be: kept with this size, waiting, or no reading at all."""

    kind: str
    build: str = ""
    feature: str = ""
    station: int | None = None
    clock: int | None = None
    size: int = 0


@dataclass
class Case:
    """One file, the layout for it (blank: none), and the truth by tab and cell address."""

    name: str
    content: bytes
    layout: str
    truth: dict[tuple[str | None, str], Cell]
    says: str
    extra: dict = field(default_factory=dict)


def address(row: int, column: int) -> str:
    letters, n = "", column + 1
    while n:
        n, rest = divmod(n - 1, 26)
        letters = chr(65 + rest) + letters
    return f"{letters}{row}"


def ticks(text: str, unit: str) -> int:
    exact = Fraction(text.replace(",", ".").replace("\u2212", "-").replace("+", "")) * TICK[unit]
    return round(exact)  # Python rounds a half to even, as the file contract says


class Tab:
    """Cells of one tab: texts and numbers, joined cells, hidden rows and columns, formulas with results."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.cells: dict[tuple[int, int], object] = {}
        self.joined: list[tuple[int, int, int, int]] = []
        self.hidden_rows: set[int] = set()
        self.hidden_columns: set[int] = set()
        self.formulas: set[tuple[int, int]] = set()

    def put(self, row: int, column: int, value: object) -> None:
        self.cells[row, column] = value

    def into(self, book: xlsxwriter.Workbook) -> None:
        sheet = book.add_worksheet(self.name)
        for top, left, bottom, right in self.joined:
            sheet.merge_range(top - 1, left, bottom - 1, right, "")
        for (row, column), value in self.cells.items():
            if (row, column) in self.formulas:
                sheet.write_formula(row - 1, column, f"={value}+0", None, value)
            elif isinstance(value, str):
                sheet.write_string(row - 1, column, value)
            else:
                sheet.write_number(row - 1, column, value)
        for row in self.hidden_rows:
            sheet.set_row(row - 1, None, None, {"hidden": True})
        for column in self.hidden_columns:
            sheet.set_column(column, column, None, None, {"hidden": True})

    def csv(self, separator: str) -> bytes:
        rows = max(r for r, _ in self.cells)
        columns = max(c for _, c in self.cells) + 1
        lines = [
            separator.join(str(self.cells.get((r, c), "")) for c in range(columns))
            for r in range(1, rows + 1)
        ]
        return ("\n".join(lines) + "\n").encode("utf-8")


def workbook(tabs: list[Tab]) -> bytes:
    out = io.BytesIO()
    book = xlsxwriter.Workbook(out, {"in_memory": True, "strings_to_formulas": False})
    for tab in tabs:
        tab.into(book)
    book.close()
    return out.getvalue()


@dataclass(frozen=True)
class Style:
    """How one shop writes: unit and form, names, depths, directions, where target and build stand."""

    unit: str
    reading: str
    digits: int
    features: str = "Bore {n}"
    depths: str = "mm"
    directions: str = ""
    target: str = "cell in"
    build: str = "tab"
    comma: bool = False
    csv: str = ""
    down: bool = False
    as_text: bool = False
    hidden: str = ""
    formula: bool = False
    dirt: int = 3
    tabs: int = 1


STYLES = (
    Style("tenth", "deviation", 0), Style("tenth", "deviation", 0, features="{n}", directions="rows"),
    Style("tenth", "deviation", 1, target="cell mm", build="cell"), Style("thou", "deviation", 1),
    Style("thou", "deviation", 0, directions="columns"), Style("um", "deviation", 0, target="cell mm"),
    Style("um", "deviation", 1, target="line mm", features="cyl-{n}"), Style("um", "deviation", 0, down=True),
    Style("mm", "size", 3, target=""), Style("mm", "size", 4, comma=True, as_text=True),
    Style("mm", "size", 3, comma=True, csv=";", target="cell mm"), Style("in", "size", 4, target="cell in"),
    Style("in", "size", 5, csv=",", build="file"), Style("in", "deviation", 4, target="cell in"),
    Style("mm", "deviation", 3, target="cell mm", as_text=True), Style("tenth", "deviation", 0, hidden="row"),
    Style("um", "deviation", 0, hidden="column"), Style("um", "deviation", 0, formula=True, tabs=3),
    Style("tenth", "deviation", 0, depths="words", directions="columns", features="Cylinder {n}"),
    Style("in", "size", 4, depths="in", target=""), Style("thou", "deviation", 1, depths="words", down=True),
    Style("tenth", "deviation", 0, csv="\t", build="after", depths="in"),
    Style("um", "deviation", 1, comma=True, as_text=True, target="line mm"),
    Style("mm", "size", 4, tabs=4, build="after", directions="rows"),
)  # fmt: skip


def written(draw: random.Random, style: Style, target: Fraction) -> tuple[str, int]:
    """A reading's text as somebody types it, and its size [1e-5 um]."""
    step = Fraction(1, 10**style.digits)
    off = draw.randint(-40, 40) * (Fraction(1, 10) if style.unit == "um" else 1)
    if style.reading == "size":
        off = Fraction(draw.randint(-40, 40)) * (TICK["um"] / TICK[style.unit])
    base = target / TICK[style.unit] if style.reading == "size" else Fraction(0)
    near = (
        round((base + (off if style.reading == "size" else Fraction(draw.randint(-9, 9)) * step)) / step)
        * step
    )
    text = f"{float(near):.{style.digits}f}"
    if style.reading == "deviation" and near > 0 and draw.random() < 0.4:
        text = "+" + text
    if near < 0 and draw.random() < 0.3:
        text = text.replace("-", "\u2212")
    exact = ticks(text, style.unit)
    return text.replace(".", ",") if style.comma else text, exact + (
        int(target) if style.reading == "deviation" else 0
    )


class Maker:
    """Makes one file in one style."""

    def __init__(self, number: int, style: Style, seed: int = 1000) -> None:
        self.draw = random.Random(seed + number)
        self.number, self.style = number, style
        self.name = f"sheet {number:02d}.{'csv' if style.csv else 'xlsx'}"
        self.truth: dict[tuple[str | None, str], Cell] = {}
        self.bores = self.draw.choice((4, 6, 8))
        self.span = 2 if style.directions == "columns" else 1
        self.clocks = (0, 90) if style.directions else (None,)
        self.lines: list[str] = []

    def case(self) -> Case:
        tabs = [self.tab(t) for t in range(self.style.tabs)]
        content = tabs[0].csv(self.style.csv) if self.style.csv else workbook(tabs)
        return Case(self.name, content, "\n".join(self.lines) + "\n", self.truth, str(self.style))

    def tab(self, t: int) -> Tab:
        s, job = self.style, f"{1100 + self.number}{'abcd'[t]}"
        build = f"sheet {self.number:02d}" if s.build == "file" else job
        tab = Tab(f"Job {job}" if s.build == "after" and not s.csv else job)
        aim_unit = s.target.split()[-1] if s.target else {"tenth": "in", "thou": "in"}.get(s.unit, s.unit)
        aim_unit = aim_unit if aim_unit in ("mm", "in") else "mm"
        aim = {"mm": "96.012", "in": "3.7805"}[aim_unit]
        target = Fraction(aim) * TICK[aim_unit]
        tab.put(1, 0, "ENGINE BLOCK INSPECTION")
        tab.joined.append((1, 0, 1, 6))
        tab.put(2, 0, "Job" if s.build != "after" else f"Job {job}")
        if s.build == "cell":
            tab.put(2, 1, job)
        tab.put(2, 3, "Date")
        tab.put(2, 4, f"2026-05-{1 + self.number % 28:02d}")
        heading = {"deviation": f"BORES +/- ({s.unit})", "size": f"BORES ({s.unit})"}[s.reading]
        tab.put(4, 0, heading)
        needs = s.reading == "deviation" or s.target
        if needs and not s.target.startswith("line"):
            tab.put(4, 8, "nominal")
            tab.put(4, 9, self.comma(aim) if s.comma else (aim if s.csv or s.as_text else float(aim)))
        places = self.places(tab, build, target, aim, aim_unit)
        if t == 0:
            self.write_layout(tab, heading, aim_unit, bool(needs), places)
        return tab

    @staticmethod
    def comma(text: str) -> str:
        return text.replace(".", ",")

    def places(self, tab: Tab, build: str, target: Fraction, aim: str, aim_unit: str) -> dict[str, str]:
        """Fill labels and values in; the addresses of the lines."""
        s = self.style
        by_rows = [(d, c) for d in DEPTHS for c in (self.clocks if s.directions == "rows" else (None,))]
        top, left = 8, 2
        across = [
            (f, c) for f in range(1, self.bores + 1) for c in (self.clocks if self.span == 2 else (None,))
        ]
        size_a, size_d = len(across), len(by_rows)
        self.labels(tab, across, by_rows, top, left, aim)
        for i, (f, c1) in enumerate(across):
            for j, (d, c2) in enumerate(by_rows):
                row, column = (top + j, left + i) if not s.down else (top + i, left + j)
                self.value(
                    tab, row, column, Cell("kept", build, f"cyl-{f}", d, c1 if c1 is not None else c2), target
                )
        end_a = (
            (top - 2, left, top - 2, left + size_a - 1)
            if not s.down
            else (top, left - 2, top + size_a - 1, left - 2)
        )
        end_d = (
            (top, left - 2, top + size_d - 1, left - 2)
            if not s.down
            else (top - 2, left, top - 2, left + size_d - 1)
        )
        told = {"features": end_a, "stations": end_d}
        if s.directions == "columns":
            told["directions"] = (top - 1, left, top - 1, left + size_a - 1)
        elif s.directions == "rows":
            told["directions"] = (top, left - 1, top + size_d - 1, left - 1)
        if s.target.startswith("line"):
            told["targets"] = (top - 1, left, top - 1, left + size_a - 1)
        self.hide(tab, top, left)
        return {k: f"{address(a, b)}:{address(c, d)}" for k, (a, b, c, d) in told.items()}

    def labels(self, tab, across, by_rows, top, left, aim) -> None:
        s = self.style
        for i, (f, c) in enumerate(across):
            name = s.features.format(n=f)
            spot = (top - 2, left + i) if not s.down else (top + i, left - 2)
            if i % self.span == 0:
                tab.put(*spot, name)
                if self.span == 2:
                    tab.joined.append((spot[0], spot[1], spot[0], spot[1] + 1))
            if c is not None:
                tab.put(top - 1, left + i, "AB"[c // 90])
            if s.target.startswith("line"):
                tab.put(top - 1, left + i, self.comma(aim) if s.comma else float(aim))
        for j, (d, c) in enumerate(by_rows):
            spot = (top + j, left - 2) if not s.down else (top - 2, left + j)
            told = {"mm": d, "in": f"{d / 25.4:.2f}", "words": {12: "top", 65: "mid", 118: "bottom"}[d]}[
                s.depths
            ]
            tab.put(*spot, told)
            if c is not None:
                tab.put(top + j, left - 1, "AB"[c // 90])

    def value(self, tab: Tab, row: int, column: int, cell: Cell, target: Fraction) -> None:
        s, spot = self.style, (row, column)
        text, cell.size = written(self.draw, s, target)
        if s.depths == "in":
            cell.station = ticks(f"{cell.station / 25.4:.2f}", "in")
        else:
            cell.station *= 100_000_000
        plain = not s.csv and not s.as_text and self.draw.random() < 0.8
        tab.put(*spot, float(text.replace("\u2212", "-")) if plain else text)
        if plain and s.formula and self.draw.random() < 0.5:
            tab.formulas.add(spot)
        if self.draw.random() < 0.02 * s.dirt:
            tab.formulas.discard(spot)
            kinds = [
                ("held", self.draw.choice(HELD)),
                ("nothing", self.draw.choice(NOTHING)),
                ("nothing", ""),
            ]
            if s.unit in ("tenth", "thou") and s.reading == "deviation":
                kinds.append(("held", self.draw.choice(("0.0003", "-0.0012", "4.0305"))))
            cell.kind, text = self.draw.choice(kinds)
            tab.put(*spot, text)
        self.truth[None if s.csv else tab.name, address(*spot)] = cell

    def hide(self, tab: Tab, top: int, left: int) -> None:
        if self.style.hidden == "row":
            tab.hidden_rows.add(top + 1)
            self._held(tab, [address(top + 1, left + i) for i in range(self.bores * self.span)])
        elif self.style.hidden == "column":
            tab.hidden_columns.add(left + 1)
            self._held(tab, [address(top + j, left + 1) for j in range(len(DEPTHS))])

    def _held(self, tab: Tab, places: list[str]) -> None:
        for place in places:
            cell = self.truth[tab.name, place]
            cell.kind = "held" if cell.kind == "kept" else cell.kind

    def write_layout(
        self, tab: Tab, heading: str, aim_unit: str, needs: bool, places: dict[str, str]
    ) -> None:
        s = self.style
        build = {
            "tab": "{tab = true}", "cell": '{cell = "B2"}', "file": "{file = true}",
            "after": '{tab = true, after = "Job "}',
        }[s.build]  # fmt: skip
        if s.csv and s.build != "file":
            build = '{cell = "A2", after = "Job "}' if s.build == "after" else f'"{tab.name}"'
        names = {"{n}": ', word = "cyl"', "cyl-{n}": "", "Cylinder {n}": "", "Bore {n}": ""}[s.features]
        if s.features in ("Bore {n}", "Cylinder {n}"):
            pairs = ", ".join(f'"{s.features.format(n=n)}" = "cyl-{n}"' for n in range(1, 9))
            names = f", names = {{{pairs}}}"
        depth = {
            "mm": ', unit = "mm"',
            "in": ', unit = "in"',
            "words": ', names = {top = "12", mid = "65", bottom = "118"}',
        }
        self.lines += [
            f'file = ["{self.name}"]', "[text]", f'A4 = "{heading}"', "[all]", 'machine = "hone-1"',
            'operation = "finish_bore"', 'state = "plate_on"', f"build = {build}", 'date = {cell = "E2"}',
            "[[table]]",
            'characteristic = "bore_diameter"', f'reading = "{s.reading}"', f'unit = "{s.unit}"',
            f'features = {{cells = "{places["features"]}"{names}}}',
            f'stations = {{cells = "{places["stations"]}"{depth[s.depths]}}}',
        ]  # fmt: skip
        if "directions" in places:
            self.lines.append(
                f'directions = {{cells = "{places["directions"]}", names = {{A = "0", B = "90"}}}}'
            )
        if "targets" in places:
            self.lines.append(f'targets = {{cells = "{places["targets"]}", unit = "mm"}}')
        elif needs:
            self.lines.append(f'target = {{cell = "J4", unit = "{aim_unit}"}}')


def cases(seed: int = 1000) -> list[Case]:
    """Every file: each style in two draws."""
    return [Maker(n, STYLES[n % len(STYLES)], seed).case() for n in range(2 * len(STYLES))]


if __name__ == "__main__":
    folder = Path(sys.argv[1])
    for one in cases():
        (folder / one.name).write_bytes(one.content)
        (folder / f"{Path(one.name).stem}.toml").write_text(one.layout, encoding="utf-8")
        print(one.name, len(one.truth), one.says)
