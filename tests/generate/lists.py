"""Gauge loggers' lists, lists of housing centres and tables of limits, with the truth beside each cell.

Drawn by `tests.generate.files`; nothing of the product is used.
"""

import io
import random
from fractions import Fraction

import xlsxwriter

from tests.generate.files import CLOCKS, STATIONS, Made, Tidy, Truth, Way
from tests.generate.sheets import TICK, ticks

LOG = """file = ["{name}"]
[text]
{value}1 = "Value"
[[log]]
build = "{build}"
machine = "hone-1"
operation = "finish_bore"
characteristic = "bore_diameter"
state = "plate_on"
reading = "{reading}"
values = "{value}"
units = "E"
times = ["B", "C"]
first = 2
order = [{order}]
"""


def logger(draw: random.Random, number: int, unit: str, comma: bool) -> Made:
    """A gauge logger's list: its order says what was measured."""
    way = Way(unit=unit, reading="size" if unit in ("mm", "in") else "deviation", comma=comma)
    tidy = Tidy(draw, way, f"G{number}-{draw.randint(100, 999)}")
    made = Made(f"log {number}.csv", b"", f"logger {unit}")
    places = [(f"cyl-{n}", s, c) for n in range(1, 5) for s in STATIONS for c in CLOCKS]
    lines = ["No;Date;Time;Value;Unit;Ch"]
    for at, (feature, station, clock) in enumerate(places, start=2):
        if (station, clock) == (STATIONS[0], CLOCKS[0]):
            tidy.bore = draw.gauss(tidy.level, 2)
        text, size, target = tidy.figure()
        when = f"2026-06-{number % 28 + 1:02d};09:{at // 2:02d}:{at % 2 * 30:02d}"
        lines.append(f"{at - 1};{when};{text};{unit};1")
        made.truth[None, at, "D"] = Truth("kept", tidy.build, "bore_diameter", feature, station * 100_000_000,
                                          clock * 100_000, size)  # fmt: skip
    order = ", ".join(f'"{f} {s} {c}"' for f, s, c in places)
    made.layout = LOG.format(name=made.name, build=tidy.build, value="D", reading=way.reading, order=order)
    aim_unit, aim = tidy.aim
    if way.reading == "deviation":
        lines[0] += f";{aim.replace('.', ',') if comma else aim}"
        made.layout += f'target = {{cell = "G1", unit = "{aim_unit}"}}\n'
    made.content = ("\n".join(lines) + "\n").encode()
    return made


CENTRES = """file = ["{name}"]
[[centres]]
build = "{build}"
date = "2026-07-{day:02d}"
machine = "line-hone-1"
operation = "line_hone"
state = "caps_torqued"
unit = "{unit}"
features = {{{features}}}
axes = {{X = "along", Y = "horizontal", Z = "{vertical}", D = "diameter", R = "radius"}}
"""
TITLES = (
    ("Feature", "Axis", "Nominal", "Actual", "Deviation", "Tol+", "Tol-", "Out"),
    ("ELEMENT", "AX", "NOM", "ACT", "DEV", "+TOL", "-TOL", "OUT TOL"),
    ("Item", "Dim", "Nom.", "Meas.", "Dev.", "Upper Tol", "Lower Tol", "Out"),
    ("Element", "Achse", "Soll", "Ist", "Abw.", "Tol +", "Tol -", "Out"),
)


def centres(draw: random.Random, number: int, form: str, unit: str = "mm") -> Made:
    """A list of housing centres in one of several forms, with a few figures that do not agree."""
    build, comma = f"L{number}-{draw.randint(100, 999)}", form in (";", "\t") or number % 3 == 2
    comma = comma and form != ","
    name = f"line {number}.{'xlsx' if form == 'xlsx' else 'txt' if form == 'fixed' else 'csv'}"
    down = number % 2 == 1
    digits = 4 if unit == "mm" else 5
    made = Made(name, b"", f"centres {form} {unit}")
    rows: list[list[str]] = [["Protocol", build], list(TITLES[number % len(TITLES)])]
    held = set(draw.sample(range(20), 3))
    for n in range(1, 6):
        for axis in ("X", "Y", "Z", "R" if n == 5 else "D"):
            row, truth = _line(draw, (build, n, axis, unit, digits, down), len(rows) - 2 in held)
            rows.append([c.replace(".", ",") for c in row] if comma else row)
            if truth is not None:
                made.truth["Sheet1" if form == "xlsx" else None, len(rows), "D"] = truth
    if form == "fixed":
        widths = (12, 7, 13, 13, 12, 10, 10, 10)
        texts = ["".join(f"{c:<{w}}" if i < 2 else f"{c:>{w}}" for i, (c, w) in enumerate(
            zip(row, widths, strict=False))).rstrip() for row in rows]  # fmt: skip
        made.content = ("\n".join(texts) + "\n").encode()
    elif form == "xlsx":
        made.content = _sheet(rows)
    else:
        text = "\n".join(form.join(row) for row in rows) + "\n"
        made.content = text.encode("utf-16" if number == 3 else "utf-8")
    features = ", ".join(f'"HB {n}" = "main-{n}"' for n in range(1, 6))
    made.layout = CENTRES.format(name=name, build=build, day=number % 28 + 1, unit=unit, features=features,
                                 vertical="-vertical" if down else "vertical")  # fmt: skip
    return made


def _line(draw: random.Random, told, spoil: bool) -> tuple[list[str], Truth | None]:
    """One line of a list, and its truth; the place along the line is no reading."""
    build, n, axis, unit, digits, down = told
    step = Fraction(1, 10**digits)
    nominal = {"X": Fraction(100 * (n - 1)), "Y": Fraction(0), "Z": Fraction(0), "D": Fraction(64),
               "R": Fraction(32)}[axis] * TICK["mm"] / TICK[unit]  # fmt: skip
    nominal = round(nominal / step) * step
    off = round(Fraction(draw.gauss(0, 4)) * TICK["um"] / TICK[unit] / step) * step
    tolerance = round(Fraction(10) * TICK["um"] / TICK[unit] / step) * step
    beyond = max(abs(off) - tolerance, Fraction(0))
    said, dev = nominal + off, off
    if spoil and axis != "X":
        dev = off + draw.choice((-1, 1)) * 7 * step
    texts = [f"{float(v):.{digits}f}" for v in (nominal, said, dev, tolerance, -tolerance)]
    row = [f"HB {n}", axis, *texts, f"{float(beyond):.{digits}f}" if beyond else ""]
    if axis == "X":
        return row, None
    if spoil:
        return row, Truth("held")
    value = ticks(texts[1], unit)
    key = ("tunnel_diameter", None)
    if axis not in "DR":
        key = ("tunnel_centre", ticks(_along(n, unit, digits), unit))
    value = value * 2 if axis == "R" else -value if axis == "Z" and down else value
    return row, Truth("kept", build, key[0], f"main-{n}", key[1], None, value)


def _along(n: int, unit: str, digits: int) -> str:
    return f"{float(Fraction(100 * (n - 1)) * TICK['mm'] / TICK[unit]):.{digits}f}"


def _sheet(rows: list[list[str]]) -> bytes:
    out = io.BytesIO()
    book = xlsxwriter.Workbook(out, {"in_memory": True})
    sheet = book.add_worksheet("Sheet1")
    for r, row in enumerate(rows):
        for c, text in enumerate(row):
            plain = text.lstrip("-").replace(".", "", 1).isdigit()
            sheet.write_number(r, c, float(text)) if plain and r > 1 else sheet.write_string(r, c, text)
    book.close()
    return out.getvalue()


def specifications(draw: random.Random, number: int, separator: str, comma: bool, unit: str) -> Made:
    """A table of limits; a reversed pair waits."""
    made = Made(f"limits {number}.csv", b"", f"specifications {unit}")
    names = ["Characteristic", "Lower", "Upper", "Unit", "reading", "Engine", "Source"]
    lines = [separator.join(names)]
    kinds = ("bore_diameter", "tunnel_diameter", "rod_bore_diameter", "journal_diameter", "pin_diameter")
    for at, key in enumerate(kinds, start=2):
        low, high = -draw.randint(5, 12), draw.randint(5, 12)
        scale = {"um": 1, "mm": 1000}[unit]
        texts = [f"{v / scale:.{0 if unit == 'um' else 3}f}" for v in (low, high)]
        wrong = at == 4 and number == 1
        texts = texts[::-1] if wrong else texts
        row = [key, *texts, unit, "deviation", f"engine-{number}", "book p. 3"]
        if comma:
            row[1:3] = [c.replace(".", ",") for c in row[1:3]]
        lines.append(separator.join(row))
        made.truth[None, at, "limits"] = Truth("held") if wrong else Truth(
            "limits", f"engine-{number}", key, value=low * 100_000, upper=high * 100_000)  # fmt: skip
    made.content = ("\n".join(lines) + "\n").encode()
    return made
