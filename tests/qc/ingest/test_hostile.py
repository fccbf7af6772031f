"""Files that mean harm or are broken: held under one sentence, in bounded time and memory, no traceback.

The bounds hold for a process that is given all of them at once: its address space, its processor time and its
largest memory are asserted. They follow from constants in qc.ingest.grid, sources and visibility.
"""

import csv
import json
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import openpyxl
import pytest

from qc.ingest import grid, sources, visibility
from tests.generate import hostile

resource = pytest.importorskip("resource", reason="no limits on a process there")
ADDRESS_SPACE = 4 << 30
PROCESSOR_S = 150
MEMORY_KB = 1_200_000
ROOT = Path(__file__).parents[3]


def run(*words: object) -> tuple[int, str, str, tuple[float, int]]:
    """Exit code, output, errors and used resources of qc in a child process with limits."""

    def limited() -> None:
        resource.setrlimit(resource.RLIMIT_AS, (ADDRESS_SPACE, ADDRESS_SPACE))
        resource.setrlimit(resource.RLIMIT_CPU, (PROCESSOR_S, PROCESSOR_S))

    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    done = subprocess.run(
        [sys.executable, "-m", "qc", *map(str, words)], capture_output=True, cwd=ROOT, preexec_fn=limited,
        env={**os.environ, "OPENBLAS_NUM_THREADS": "1"}, check=False,
    )  # fmt: skip
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    used = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return done.returncode, done.stdout.decode(), done.stderr.decode(), (used, after.ru_maxrss)


@pytest.fixture(scope="module")
def taken(tmp_path_factory):
    """What became of every hostile file, and what the process used."""
    folder = tmp_path_factory.mktemp("hostile")
    places = hostile.files(folder)
    store = tmp_path_factory.mktemp("store") / "shop.db"
    code, out, errors, used = run("ingest", folder, "--store", store, "--json", "--no-judge")
    return {p.name for p in places}, code, json.loads(out), errors, used


def test_all_of_them_are_answered_within_the_bounds(taken):
    names, code, told, errors, (processor, memory) = taken
    assert code == 1
    assert {one["file"] for one in told["files"]} == names
    assert "Traceback" not in errors
    assert processor < PROCESSOR_S
    assert memory < MEMORY_KB


@pytest.mark.parametrize("name", list(hostile.MADE))
def test_each_is_held_under_a_sentence_that_tells_a_cure(taken, name):
    one = next(f for f in taken[2]["files"] if f["file"] == name)
    if name == "cut in a number.csv":
        stops = [f for f in one["findings"] if f["severity"] == "stop"]
        assert (one["kept"], one["held"]) == (7, 1), one
        assert [f["code"] for f in stops] == ["perhaps_cut"]
        return
    assert (one["status"], one["kept"]) == ("held", 0), one
    if name == "all digits.csv":
        return
    if one["findings"]:  # several files of nothing are one content: the first holds the finding
        (finding,) = one["findings"]
        assert finding["code"] == "file_not_read"
        assert len(finding["saw"]) < 400
        assert not any(odd in finding["saw"] for odd in ("Error", "object at", "/tmp", "\n"))


def test_a_file_that_grows_while_it_is_read_is_not_read(tmp_path, monkeypatch):
    place = tmp_path / "a.csv"
    place.write_bytes(b"a,b\n")
    read = Path.read_bytes

    def slowly(path):
        data = read(path)
        with path.open("ab") as more:
            more.write(b"1,2\n")
        return data

    monkeypatch.setattr(Path, "read_bytes", slowly)
    with pytest.raises(sources.FileError, match="still being written"):
        sources.content(place)


def test_the_bounds_are_those_that_the_documents_state():
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    for words in (f"{sources.LARGEST // 10**6} MB", f"{grid.MOST_CELLS // 10**6} million cells",
                  f"{grid.MOST_COLUMNS} columns", f"{grid.LONGEST_CELL:,} characters",
                  f"{visibility.MOST_BYTES // 10**6} MB unpacked"):  # fmt: skip
        assert words in text


BAD = {
    "build": "=HYPERLINK(\"http://x\",\"y\")", "engine": "@SUM(A1)", "serial": "-2+3",
    "machine": "../../../etc/x", "operation": "+cmd|' /C calc'!A0", "gauge": "=1+1", "operator": "\tx",
    "note": "<script>alert(1)</script>", "material": "C:\\x\\..\\y", "torque": "%2e%2e%2f",
}  # fmt: skip


@pytest.fixture(scope="module")
def odd(tmp_path_factory):
    """A store whose names are formulas, paths and scripts."""
    folder = tmp_path_factory.mktemp("odd")
    fields = ["characteristic", "feature", "value", "unit", "measured_at", "target", *BAD]
    with (folder / "=cmd ..%2f'x.csv").open("w", encoding="utf-8", newline="") as file:
        rows = csv.writer(file)
        rows.writerow(fields)
        for n in range(1, 5):
            size = ["bore_diameter", f"cyl-{n}", f"96.01{n}", "mm", "2026-04-03", "96.01"]
            rows.writerow([*size, *BAD.values()])
    code, out, errors, _ = run("ingest", folder, "--store", folder / "shop.db", "--no-judge")
    assert (code, "Traceback" in errors) == (0, False), out
    return folder


def test_exported_tables_hold_no_formula(odd, tmp_path):
    for ending in ("csv", "xlsx"):
        code, *_ = run("readings", "--store", odd / "shop.db", "--out", tmp_path / f"r.{ending}")
        assert code == 0
    with (tmp_path / "r.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))
    assert len(rows) == 5
    assert [c for row in rows for c in row if c[:1] in "=+-@\t\r" and c and not _number(c)] == []
    assert any("HYPERLINK" in c for row in rows for c in row)
    sheets = openpyxl.load_workbook(tmp_path / "r.xlsx").worksheets
    cells = [c for sheet in sheets for row in sheet.iter_rows() for c in row if c.value is not None]
    assert any("HYPERLINK" in str(c.value) for c in cells)
    assert [c.coordinate for c in cells if c.data_type == "f" or c.hyperlink] == []


def _number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def test_names_never_become_paths(odd, tmp_path):
    out = tmp_path / "out"
    out.mkdir()
    run("sheet", BAD["build"], "--store", odd / "shop.db", "--out", out / "s.xlsx")
    code, _, errors, _ = run("audit", out / "a.zip", "--store", odd / "shop.db")
    assert code in (0, 1), errors
    assert {p.name for p in out.iterdir()} <= {"s.xlsx", "a.zip"}
    assert {p.name for p in tmp_path.iterdir()} == {"out"}
    with zipfile.ZipFile(out / "a.zip") as pack:
        for name in pack.namelist():
            assert ".." not in name.split("/")
            assert not name.startswith(("/", "\\", "="))
            assert ":" not in name
