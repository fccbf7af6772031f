"""Measurement files of every kind but hand sheets and traces, drawn from a seed, with the truth beside.

Tidy files in every encoding, separator and way of writing numbers, workbooks, JSON lines, gauge loggers'
lists, lists of housing centres and specifications. What a cell means is worked out here with exact fractions
(1 in = 25.4 mm). Nothing of the product is used. `python -m tests.generate.files FOLDER [SEED]` writes them.
"""

import csv
import io
import json
import random
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime
from fractions import Fraction
from pathlib import Path

import xlsxwriter

from tests.generate.sheets import TICK, ticks

ENCODINGS = ("utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252")
ODD = ("3/10", "30 over", "OK", "see note", "(3)", "4.03.05", "1 1/2", "-", "N/A", "#N/A", "96.0l2",
       "3 5035", "+-2")  # fmt: skip
DIGITS = {"mm": 4, "um": 1, "in": 5, "thou": 2, "tenth": 1}
TARGET_UNIT = {"mm": "mm", "um": "mm", "in": "in", "thou": "in", "tenth": "in"}
STATIONS, CLOCKS = (20, 60, 118), (0, 90)


@dataclass(frozen=True)
class Truth:
    """What one cell is: kept with these, or held; a limit of a specification; places in ticks."""

    kind: str
    build: str = ""
    characteristic: str = ""
    feature: str = ""
    station: int | None = None
    clock: int | None = None
    value: int = 0
    upper: int | None = None


@dataclass
class Made:
    """One file, its layout (blank: none), the truth by sheet, row and column, and what it is like."""

    name: str
    content: bytes
    says: str
    truth: dict[tuple[str | None, int, str], Truth] = field(default_factory=dict)
    layout: str = ""


def headers(names: list[str], style: int) -> list[str]:
    """Names of columns as different programs write them."""
    if style == 0:
        return names
    if style == 1:
        return [n.upper() for n in names]
    if style == 2:
        return [n.replace("_", " ").title() for n in names]
    return [f" {n.replace('_', '-').capitalize()} " for n in names]


def grouped(text: str, marks: str) -> str:
    """A number with marks between thousands and before the fraction."""
    whole, _, fraction = text.partition(".")
    sign, whole = (whole[0], whole[1:]) if whole[0] in "+-" else ("", whole)
    return sign + f"{int(whole):,}".replace(",", marks[0]) + (marks[1] + fraction if fraction else "")


@dataclass(frozen=True)
class Way:
    """How one program writes: unit and form, number marks, separator, encoding and so on."""

    unit: str = "mm"
    reading: str = "size"
    separator: str = ","
    encoding: str = "utf-8"
    comma: bool = False
    marks: str = ""
    quote_all: bool = False
    style: int = 0
    ending: str = "\n"
    odd: float = 0.03
    sep_line: bool = False


TIDY = (
    *(Way(encoding=e, style=n % 4, separator=s, comma=s != ",") for n, (e, s) in enumerate(
        zip(ENCODINGS * 2, (";", ",", "\t", ";", ",", ";", ",", "\t", ",", "|", ";", ","), strict=True))),
    Way(comma=True, quote_all=True), Way(comma=True, style=2, ending="\r\n"), Way(separator="\t", style=3),
    Way(unit="um", separator=";", marks=".,"), Way(unit="um", marks=",.", quote_all=True),
    Way(unit="um", separator=";", marks=" ,", encoding="cp1252"),
    Way(unit="um", separator="\t", marks="\N{NARROW NO-BREAK SPACE},", encoding="utf-16"),
    Way(unit="um", separator=";", marks="'.", style=1),
    Way(unit="um", reading="deviation", separator=";", comma=True), Way(unit="in", style=1),
    Way(unit="in", separator=";", comma=True, encoding="utf-16-le"), Way(unit="thou", reading="deviation"),
    Way(unit="tenth", reading="deviation", style=2, encoding="utf-8-sig"),
    Way(unit="mm", reading="deviation", separator=";", comma=True),
    Way(separator=";", comma=True, sep_line=True), Way(unit="in", reading="deviation", separator="|"),
)  # fmt: skip


class Tidy:
    """Rows of one tidy file."""

    COLUMNS = ("build", "machine", "operation", "characteristic", "feature", "value", "unit", "measured_at",
               "state", "station_mm", "clock_deg", "reading", "target", "note")  # fmt: skip

    def __init__(self, draw: random.Random, way: Way, build: str) -> None:
        self.draw, self.way, self.build = draw, way, build
        inch = TARGET_UNIT[way.unit] == "in"
        self.aim = ("in", "3.7805") if inch else ("mm", "96.012")
        self.level = self.bore = draw.gauss(0, 1.5)  # um: no two blocks are alike

    def rows(self, bores: int = 4) -> Iterator[tuple[dict[str, str], Truth]]:
        """Yield each row's texts by our names of columns, and its truth."""
        way, draw = self.way, self.draw
        day = f"2026-{draw.randint(2, 10):02d}-{draw.randint(1, 28):02d}"
        for n in range(1, bores + 1):
            self.bore = draw.gauss(self.level, 2)
            for station in STATIONS:
                for clock in CLOCKS:
                    text, size, target = self.figure()
                    row = {
                        "build": self.build, "machine": "hone-1", "operation": "finish_bore",
                        "characteristic": draw.choice(("bore_diameter", "Bore Diameter")),
                        "feature": draw.choice((f"cyl-{n}", f"CYL {n}", f"cyl_0{n}")), "value": text,
                        "unit": {"mm": draw.choice(("mm", "MM"))}.get(way.unit, way.unit),
                        "measured_at": draw.choice((day, f"{day} 08:15", f"{day}T08:15:00Z")),
                        "state": draw.choice(("plate_on", "plate on")), "station_mm": str(station),
                        "clock_deg": str(clock), "reading": way.reading, "target": target,
                        "note": draw.choice(("", "", "\u00b5m, \"fein\"; \u00fcber 5\u00b0", "a\nb")),
                    }  # fmt: skip
                    truth = Truth("kept", self.build, "bore_diameter", f"cyl-{n}", station * 100_000_000,
                                  clock * 100_000, size)  # fmt: skip
                    if draw.random() < way.odd:
                        row["value"], truth = draw.choice(ODD), Truth("held")
                    yield row, truth

    def figure(self) -> tuple[str, int, str]:
        """A value's text, the size it means [1e-5 um], and the target's text."""
        way = self.way
        unit, aim = self.aim
        target = Fraction(aim) * TICK[unit]
        off = Fraction(self.draw.gauss(self.bore, 1)) * TICK["um"]
        step = Fraction(1, 10 ** DIGITS[way.unit])
        base = target if way.reading == "size" else Fraction(0)
        shown = round((base + off) / TICK[way.unit] / step) * step
        text = f"{float(shown):.{DIGITS[way.unit]}f}"
        size = ticks(text, way.unit) + (0 if way.reading == "size" else int(target))
        if way.reading == "deviation":
            told = f"{float(target / TICK[TARGET_UNIT[way.unit]]):.4f}"
        else:
            told = f"{float(target / TICK[way.unit]):.{DIGITS[way.unit]}f}"
        if way.reading == "deviation" and shown > 0 and self.draw.random() < 0.3:
            text = "+" + text
        return self.written(text), size, self.written(told)

    def written(self, text: str) -> str:
        if self.way.marks:
            return grouped(text, self.way.marks)
        if self.way.reading == "deviation":
            text = text.replace("-", self.draw.choice(("-", "\u2013")))
        return text.replace(".", ",") if self.way.comma else text


def delimited(draw: random.Random, number: int, way: Way) -> Made:
    """A tidy text file."""
    names = list(Tidy.COLUMNS)
    draw.shuffle(names)
    written = headers(names, way.style)
    out = io.StringIO()
    if way.sep_line:
        out.write(f"sep={way.separator}{way.ending}")
    rows = csv.writer(out, delimiter=way.separator, lineterminator=way.ending,
                      quoting=csv.QUOTE_ALL if way.quote_all else csv.QUOTE_MINIMAL)  # fmt: skip
    rows.writerow(written)
    made = Made(f"tidy {number:02d}.csv", b"", f"{way}")
    column = written[names.index("value")].strip()
    for row, truth in Tidy(draw, way, f"T{number:02d}-{draw.randint(100, 999)}").rows():
        at = out.getvalue().count("\n") + 1
        rows.writerow([row[n] for n in names])
        made.truth[None, at, column] = truth
    made.content = out.getvalue().encode(way.encoding)
    return made


def json_lines(draw: random.Random, number: int, encoding: str) -> Made:
    """A tidy file of JSON objects, numbers as numbers."""
    way = Way(odd=0.03)
    made, lines = Made(f"lines {number}.jsonl", b"", f"JSON lines {encoding}"), []
    for at, (row, truth) in enumerate(Tidy(draw, way, f"J{number}-{draw.randint(100, 999)}").rows(), start=1):
        told: dict[str, object] = {k: v for k, v in row.items() if v}
        text = json.dumps(told, ensure_ascii=False)
        if truth.kind == "kept":  # a number as the program wrote it
            text = text.replace(f'"{row["value"]}"', row["value"], 1)
        lines.append(text)
        made.truth[None, at, "value"] = truth
    made.content = ("\n".join(lines) + "\n").encode(encoding)
    return made


def workbook(draw: random.Random, number: int, hidden: str) -> Made:
    """A tidy workbook: two sheets, dates as dates, some figures worked out by formulas, something hidden."""
    way = Way(style=number % 4)
    out = io.BytesIO()
    book = xlsxwriter.Workbook(out, {"in_memory": True, "default_date_format": "yyyy-mm-dd hh:mm"})
    made = Made(f"book {number}.xlsx", b"", f"workbook, {hidden or 'nothing'} hidden")
    for s in range(2):
        name = ("Mai & Juni", "Block 2")[s]
        sheet = book.add_worksheet(name)
        names = [n for n in Tidy.COLUMNS if n != "note"]
        draw.shuffle(names)
        written = headers(names, way.style)
        sheet.write_row(s, 0, written)
        column = written[names.index("value")].strip()
        tidy = Tidy(draw, way, f"W{number}{s}-{draw.randint(100, 999)}")
        for at, (row, truth) in enumerate(tidy.rows(), s + 1):
            for i, n in enumerate(names):
                _write(sheet, at, i, n, row[n], draw)
            is_hidden = (hidden == "row" and at == s + 3) or (hidden == "sheet" and s == 1) or (
                hidden == "column" and s == 0)  # fmt: skip
            if hidden == "row" and at == s + 3:
                sheet.set_row(at, None, None, {"hidden": True})
            made.truth[name, at + 1, column] = Truth("held") if is_hidden else truth
        if hidden == "sheet" and s == 1:
            sheet.hide()
        if hidden == "column" and s == 0:
            i = names.index("value")
            sheet.set_column(i, i, None, None, {"hidden": True})
    book.add_worksheet("Notes").write_string(0, 0, "call the customer")
    book.close()
    made.content = out.getvalue()
    return made


def _write(sheet, row: int, column: int, name: str, text: str, draw: random.Random) -> None:
    if name == "measured_at" and draw.random() < 0.5:
        at = datetime.fromisoformat(text.rstrip("Z"))
        sheet.write_datetime(row, column, at) if "T" not in text else sheet.write_string(row, column, text)
    elif name in ("value", "target") and _plain(text) and draw.random() < 0.8:
        if draw.random() < 0.3:
            sheet.write_formula(row, column, f"={text}+0", None, float(text))
        else:
            sheet.write_number(row, column, float(text))
    else:
        sheet.write_string(row, column, text)


def _plain(text: str) -> bool:
    return text.replace(".", "", 1).isdigit()


def parquet(draw: random.Random, number: int) -> Made | None:
    """A tidy Parquet file, where the library to write one is there."""
    try:
        import pyarrow as pa
        import pyarrow.parquet as pq
    except ImportError:
        return None
    made, rows = Made(f"table {number}.parquet", b"", "Parquet"), []
    told = Tidy(draw, Way(odd=0), f"P{number}-{draw.randint(100, 999)}").rows()
    for at, (row, truth) in enumerate(told, start=1):
        rows.append({**row, "value": float(row["value"]), "target": float(row["target"])})
        made.truth[None, at, "value"] = truth
    out = io.BytesIO()
    pq.write_table(pa.Table.from_pylist(rows), out)
    made.content = out.getvalue()
    return made


def files(seed: int = 2026) -> list[Made]:
    """Every file of a seed."""
    from tests.generate.lists import centres, logger, specifications

    draw = random.Random(seed)
    made = [delimited(draw, n, way) for n, way in enumerate(TIDY)]
    made += [json_lines(draw, n, e) for n, e in enumerate(("utf-8", "utf-8-sig", "utf-16"))]
    made += [workbook(draw, n, h) for n, h in enumerate(("", "row", "sheet", "column"))]
    made += [one for n in range(2) if (one := parquet(draw, n)) is not None]
    made += [logger(draw, n, u, c) for n, (u, c) in enumerate(
        (("mm", True), ("in", False), ("um", True), ("tenth", False)))]  # fmt: skip
    lists = ((",", "mm"), (";", "mm"), ("\t", "mm"), (",", "in"), ("fixed", "mm"), ("fixed", "mm"),
             ("xlsx", "mm"), (";", "in"))  # fmt: skip
    made += [centres(draw, n, f, u) for n, (f, u) in enumerate(lists)]
    made += [specifications(draw, n, s, c, u) for n, (s, c, u) in enumerate(
        ((",", False, "um"), (";", True, "mm"), ("\t", False, "mm")))]  # fmt: skip
    return made


if __name__ == "__main__":
    folder = Path(sys.argv[1])
    (folder / "layouts").mkdir(parents=True, exist_ok=True)
    for one in files(int(sys.argv[2]) if len(sys.argv) > 2 else 2026):
        (folder / one.name).write_bytes(one.content)
        if one.layout:
            (folder / "layouts" / f"{one.name}.toml").write_text(one.layout, encoding="utf-8")
        print(one.name, len(one.truth), one.says)
