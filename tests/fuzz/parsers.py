"""Coverage-guided fuzzing of every parser that meets a foreign file: it answers or refuses, and nothing else.

Needs the library atheris, which the suite does not: `python -m tests.fuzz.parsers` runs every parser for its
number of inputs from seeds of the corpus and writes parsers.json beside (names behind it: only those);
`python -m tests.fuzz.parsers NAME RUNS` runs one of them here. A crash stops a run; its input is left in the
working folder.
"""

import io
import json
import subprocess
import sys
import tempfile
import time
import zipfile
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

RESULT = Path(__file__).with_suffix(".json")
ROOT = Path(__file__).parents[2]
RUNS = {
    "numbers": 20_000, "times": 20_000, "delimited": 10_000, "fixed_width": 10_000, "json_lines": 10_000,
    "layouts": 5_000, "sheet_xml": 3_000, "workbook": 3_000, "whole_files": 4_000, "traces": 400,
}  # fmt: skip
HEADER = b"build,machine,operation,characteristic,feature,value,unit,measured_at,target\n"
SEEDS = {
    "numbers": [b"93.008,4\n93.010,2", b"-1 234,5\n+3", "\u22123\n0.0003\n3/10".encode(), b"1'234.5\n1e-3"],
    "times": [b"2026-04-03T08:15:00Z", b"03/04/2026 8:15 pm", b"45321.5", b"20260403T0815"],
    "delimited": [HEADER + b'B-1,h,hone,bore_diameter,cyl-1,"96,01",mm,2026-04-03,96\n', b"sep=;\na;b\n1;2\n",
                  "build;value\n\u00fc;1".encode("utf-16"), "build\tvalue\n1\t2".encode("utf-16-be")],
    "fixed_width": [b"Feature  Axis  Nominal  Actual\nMain 1   Z       0.000   0.001\n"
                    b"Main 2   Z       0.000   0.002\n"],
    "json_lines": [b'{"build": "B-1", "value": 96.01}\n{"build": null}\n',
                   '{"a": "\u00fc"}'.encode("utf-16")],
    "layouts": [b'file = "a*"\n[text]\nA1 = "x"\n[[table]]\nbuild = {cell = "B2"}\nunit = "mm"\n'
                b'features = {cells = "C5:J5", word = "cyl"}\nstations = {cells = "B6:B8", unit = "mm"}\n',
                b'file = "l*"\n[[centres]]\naxes = {X = "along", Z = "-vertical"}\nstart = -5\nunit = "mm"\n',
                b'file = "g*"\n[[log]]\nvalues = "D"\nfirst = 2\norder = ["cyl-1 12 0"]\n'],
    "sheet_xml": [b'<worksheet><sheetData><row r="1" hidden="1"><c r="A1" t="str"><f>1</f><v>a</v></c>'
                  b'<c r="B1"><v>1</v></c></row></sheetData><cols><col min="1" max="2" hidden="1"/></cols>'
                  b'<mergeCells><mergeCell ref="A1:B2"/></mergeCells></worksheet>'],
}  # fmt: skip


def book(sheet: bytes) -> bytes:
    """A workbook whose one sheet is given."""
    from tests.generate.hostile import NAMES

    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        for name, part in {**NAMES, "xl/worksheets/sheet1.xml": sheet}.items():
            packed.writestr(name, part)
    return out.getvalue()


def seeds(name: str) -> list[bytes]:
    """First inputs of a parser."""
    if name in SEEDS:
        return SEEDS[name]
    from tests.generate import files, traces

    if name == "traces":
        with tempfile.TemporaryDirectory() as place:
            drawn = traces.files(Path(place), 3)
            return [(Path(place) / one["file"]).read_bytes()[:20_000] for one in drawn]
    made = [m.content for m in files.files(3) if len(m.content) < 8_000]
    packed = [c for c in made if c.startswith(b"PK")] or [book(SEEDS["sheet_xml"][0])]
    return packed if name == "workbook" else [c[:2000] for c in made if not c.startswith(b"PK")]


def numbers(data: bytes) -> None:
    """Texts of a column as numbers, in whatever way they prove to be written."""
    from qc import units
    from qc.errors import NumberError
    from qc.ingest import number_marks

    texts = data.decode("utf-8", "replace").split("\n")
    way = number_marks.marks(texts)
    for text in texts:
        try:
            value = units.number(way.plain(text) if way else text)
        except NumberError:
            continue
        for unit in units.UNITS:
            assert isinstance(units.ticks(value, unit), int)


def moments(data: bytes) -> None:
    """A text as a date in every order that a shop may have set."""
    from qc.errors import TimeError
    from qc.ingest import times

    for order in (None, "day_first", "month_first", "serial"):
        try:
            times.parse_at(data.decode("utf-8", "replace"), UTC, order)
        except TimeError:
            continue


def whole(*names: str) -> Callable[[bytes], None]:
    """A file under each of these names, read and typed as qc ingest does."""
    from qc.ingest import parsed
    from qc.ingest.line import Shop

    def read(data: bytes) -> None:
        for name in names:
            parsed.parsed(name, data, Shop(), "0" * 64)

    return read


def parser(name: str) -> Callable[[bytes], None]:
    """What is fuzzed: a function of bytes that may only refuse."""
    from qc.errors import QcError
    from qc.ingest import delimited, fixed_width, json_lines, layout, workbook

    known: dict[str, Callable[[bytes], object]] = {
        "numbers": numbers, "times": moments, "delimited": delimited.cells, "fixed_width": fixed_width.cells,
        "json_lines": json_lines.cells, "layouts": lambda data: layout.layout("x.toml", data),
        "sheet_xml": lambda data: workbook.cells(book(data)), "workbook": workbook.cells,
        "whole_files": whole("x.csv", "x.xlsx"), "traces": whole("x.sdf"),
    }  # fmt: skip
    parse = known[name]

    def guarded(data: bytes) -> None:
        try:
            parse(data)
        except QcError:
            return

    return guarded


def one(name: str, runs: int) -> None:
    """Fuzz one parser in this process, which ends with it."""
    import atheris

    with atheris.instrument_imports(include=["qc"]):
        guarded = parser(name)
    with tempfile.TemporaryDirectory() as place:
        for n, seed in enumerate(seeds(name)):
            (Path(place) / f"{n}").write_bytes(seed)
        longest = 32_768 if name == "traces" else 4096
        options = [f"-runs={runs}", "-seed=1", f"-max_len={longest}", "-timeout=60", "-rss_limit_mb=2048",
                   "-verbosity=0"]  # fmt: skip
        atheris.Setup([sys.argv[0], *options, place], guarded)
        atheris.Fuzz()


def several(names: list[str]) -> None:
    """Fuzz parsers, each in a process of its own, and write down the numbers of inputs and crashes."""
    found = json.loads(RESULT.read_text(encoding="utf-8")) if RESULT.exists() else {}
    for name in names:
        start = time.monotonic()
        done = subprocess.run(
            [sys.executable, "-m", "tests.fuzz.parsers", name, str(RUNS[name])],
            cwd=ROOT, capture_output=True, check=False,
        )  # fmt: skip
        found[name] = {
            "inputs": RUNS[name], "crashes": int(done.returncode != 0),
            "s": round(time.monotonic() - start, 1), "at": datetime.now(UTC).isoformat(timespec="seconds"),
        }  # fmt: skip
        said = done.stderr.decode(errors="replace")[-1500:] if done.returncode else ""
        sys.stdout.write(f"{name} {found[name]} {said}\n")
        sys.stdout.flush()
    RESULT.write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    if len(sys.argv) == 3 and sys.argv[2].isdigit():
        one(sys.argv[1], int(sys.argv[2]))
    else:
        several(sys.argv[1:] or list(RUNS))
