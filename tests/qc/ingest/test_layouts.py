"""Layouts: what they may say, what is refused, and trying one before anything is taken in."""

import json
import tomllib
from pathlib import Path

import pytest
from click.testing import CliRunner

from qc.cli import main
from qc.errors import FileError
from qc.ingest.layout import layout

GOOD = """
file = ["b*.csv"]
[text]
A1 = "BORES (um)"
[all]
build = {file = true, after = "b "}
machine = "hone-1"
operation = "finish_bore"
state = "plate_on"
date = "2026-05-04"
[[table]]
characteristic = "bore_diameter"
reading = "deviation"
unit = "um"
features = {cells = "C2:H2", names = {"1" = "cyl-1", "2" = "cyl-2", "3" = "cyl-3"}, span = 2}
directions = {cells = "C3:H3", names = {x = "90", y = "0"}}
stations = {cells = "A4:A5", names = {top = "12", low = "118"}}
targets = {cells = "C6:H6", unit = "in"}
"""
SHEET = (
    "BORES (um),,,,,,,\n,,1,,2,,3,\n,,x,y,x,y,x,y\n"
    "top,,3,4,5,6,7,8\nlow,,-1,0,1,~,2,3\ntarget,,4,4,4.03,4.03,4,4\n"
)


@pytest.fixture
def bench(tmp_path, monkeypatch):
    """A folder with the sheet and the layout, and the command run in it."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("QC_STORE", raising=False)
    monkeypatch.setenv("TZ", "UTC")
    Path("b 77.csv").write_text(SHEET, encoding="utf-8")
    Path("good.toml").write_text(GOOD, encoding="utf-8")
    return lambda *words: CliRunner().invoke(main, list(words), catch_exceptions=False)


def cells(done) -> dict[str, dict]:
    return {c["cell"]: c for c in json.loads(done.stdout)["cells"]}


def test_a_tried_layout_tells_what_each_cell_becomes(bench):
    done = bench("layout", "try", "b 77.csv", "--layout", "good.toml", "--json")
    assert done.exit_code == 1
    found = cells(done)
    assert len(found) == 12
    first = found["C4"]
    # 4 in = 101.6 mm and 3 um
    assert (first["build"], first["feature"], first["station_mm"], first["clock_deg"], first["becomes"]) == (
        "77", "cyl-1", "12", "90", "101.603 mm"
    )  # fmt: skip
    assert (found["F4"]["feature"], found["F4"]["clock_deg"], found["F4"]["becomes"]) == (
        "cyl-2",
        "0",
        "102.368 mm",
    )
    assert found["F5"]["waits"]
    assert [c for c in found if found[c]["waits"]] == ["F5"]


def test_trying_takes_nothing_in_and_shows_a_grid(bench):
    done = bench("layout", "try", "b 77.csv", "--layout", "good.toml")
    lines = [line.split() for line in done.stdout.splitlines()]
    row = next(words for words in lines if words[:3] == ["4", "12", "mm"])
    assert row[3:7] == ["3", "=", "101.603", "mm"]
    assert not Path("shop.db").exists()


def test_without_a_layout_the_missing_keys_are_named(bench):
    done = bench("layout", "try", "b 77.csv")
    assert done.exit_code == 1
    for key in ("machine", "state", "(features)", "(directions)", "(stations)"):
        assert key in done.stdout
    assert "its figures are in (unit)" not in done.stdout  # the heading says um


def test_a_written_layout_leaves_out_what_is_not_proved_and_reads_once_completed(bench):
    assert bench("layout", "try", "b 77.csv", "--write", "new.toml").exit_code == 0
    text = Path("new.toml").read_text(encoding="utf-8")
    told = tomllib.loads(text)
    assert told["table"][0]["unit"] == "um"
    assert told["text"]["A1"] == "BORES (um)"
    assert "features" not in told["table"][0]
    tried = bench("layout", "try", "b 77.csv", "--layout", "new.toml")
    assert (tried.exit_code, "does not say its build, machine" in tried.stdout) == (1, True)
    said = {
        "build": '"77"', "machine": '"hone-1"', "operation": '"finish_bore"',
        "characteristic": '"bore_diameter"', "state": '"plate_on"', "reading": '"deviation"',
        "date": '"2026-05-04"',
        "features": '{cells = "C2:H2", word = "cyl", span = 2}',
        "directions": '{cells = "C3:H3", names = {x = "90", y = "0"}}',
        "stations": '{cells = "A4:A5", names = {top = "12", low = "118"}}',
    }  # fmt: skip
    lines = [f"{k} = {v}" for k, v in said.items()]
    kept = [line for line in text.splitlines() if not line.startswith("#")]
    kept = [line.replace("C4:H6", "C4:H5") for line in kept]
    Path("new.toml").write_text("\n".join([*kept, *lines]) + "\n", encoding="utf-8")
    done = bench("layout", "try", "b 77.csv", "--layout", "new.toml", "--json")
    found = cells(done)
    assert (found["C4"]["feature"], found["C4"]["clock_deg"], found["C4"]["station_mm"]) == (
        "cyl-1",
        "90",
        "12",
    )
    again = bench("layout", "try", "b 77.csv", "--write", "new.toml")
    assert (again.exit_code, "left alone" in again.output) == (2, True)


def test_a_named_layout_is_used_when_files_are_taken_in(bench):
    done = bench("ingest", "b 77.csv", "--layout", "good.toml", "--store", "s.db", "--json")
    one = json.loads(done.stdout)["files"][0]
    assert (one["status"], one["kept"], one["held"]) == ("part_held", 11, 1)
    assert "layout good.toml" in " ".join(f["saw"] for f in one["findings"])


def test_a_layout_that_does_not_fit_says_where(bench):
    Path("b 77.csv").write_text(SHEET.replace("(um)", "(thou)"), encoding="utf-8")
    done = bench("layout", "try", "b 77.csv", "--layout", "good.toml")
    assert done.exit_code == 2
    assert "A1 reads 'BORES (thou)' instead of 'BORES (um)'" in done.output


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('file = ["b*.csv"]', "", "which files it is for"),
        ('file = ["b*.csv"]', "file = [", "no TOML"),
        ("[[table]]", "[[tables]]", "no key 'tables'"),
        ('machine = "hone-1"', 'maschine = "hone-1"', "no key 'maschine'"),
        ('unit = "um"', "unit = true", "unit must be a text"),
        ('"C2:H2"', '"C2:F4"', "one row or one column"),
        ('"C2:H2"', '"C2"', "span of features must divide"),
        ('"C2:H2"', '"C2:D2"', "do not reach equally far"),
        ('"C2:H2"', '"C two"', "no address of cells"),
        ('"C2:H2"', '"F2:C2"', "runs backwards"),
        ('{top = "12", low = "118"}', '{top = "12", low = ""}', "what 'low' means"),
        ('"C6:H6", unit = "in"', '"C6:H6"', "targets need their unit"),
        ('"C6:H6", unit = "in"', '"C6:H6", unit = "inchs"', "the unit 'inchs' is unknown"),
        ('stations = {cells = "A4:A5", names = {top = "12", low = "118"}}', "", "where its values stand"),
        ('names = {top = "12", low = "118"}', "list = [12, 65, 118]", "3 entries for 2 places"),
    ],
)
def test_what_no_layout_says_is_refused_with_the_cure(old, new, words):
    assert old in GOOD
    with pytest.raises(FileError, match="the layout my.toml") as refused:
        layout("my.toml", GOOD.replace(old, new).encode("utf-8"))
    assert words in str(refused.value)


@pytest.mark.parametrize(
    "key", ["build", "machine", "operation", "state", "date", "unit", "reading", "characteristic"]
)
def test_a_layout_that_leaves_a_meaning_open_reads_nothing(bench, key):
    lines = [line for line in GOOD.splitlines() if not line.startswith(f"{key} =")]
    Path("good.toml").write_text("\n".join(lines), encoding="utf-8")
    done = bench("ingest", "b 77.csv", "--layout", "good.toml", "--store", "s.db", "--json")
    one = json.loads(done.stdout)["files"][0]
    assert (one["status"], one["kept"]) == ("held", 0)
    assert f"does not say its {key}" in one["findings"][0]["saw"]


def test_a_list_says_what_cells_do_not(bench):
    text = GOOD.replace('names = {top = "12", low = "118"}', "list = [12, 65.5]")
    Path("good.toml").write_text(text, encoding="utf-8")
    found = cells(bench("layout", "try", "b 77.csv", "--layout", "good.toml", "--json"))
    assert [found[c]["station_mm"] for c in ("C4", "C5")] == ["12", "65.5"]


def test_the_layout_in_the_readme_is_one():
    text = (Path(__file__).parents[3] / "README.md").read_text(encoding="utf-8")
    shown = text.split("```toml\n")[1].split("```")[0]
    table = layout("shown.toml", shown.encode("utf-8")).tables[0]
    assert table.missing == ()
    assert table.values.text == "B7:I9"
