"""What a layout says of a trace: parts of the file's name, what is missing, and a first one to complete."""

import random
import re
import shutil
from pathlib import Path

import pytest

from qc.errors import FileError
from qc.ingest import tried
from qc.ingest.layout import layout
from qc.ingest.line import Shop
from qc.ingest.run import ingest
from qc.records import Asked
from qc.store import Store
from tests.generate import traces as made

DRAW = random.Random(21)
CURVE = made.curve(DRAW)
Z = made.heights(CURVE, 9600, DRAW)
SDF = made.sdf([Z], 6)
BARE = """
file = ["*.sdf", "*.txt", "*.x3p"]
[[trace]]
build = "T-1"
feature = "cyl-3"
machine = "hone-2"
operation = "plateau_hone"
state = "plate_off"
cutoff_mm = 0.8
"""


@pytest.fixture
def traced(shop, file, tmp_path):
    def took(told, data=SDF, name="trace.sdf"):
        places = []
        for number, text in enumerate([told] if isinstance(told, str) else told):
            places.append(tmp_path / f"t{number}.toml")
            places[-1].write_text(text, encoding="utf-8")
        return ingest(shop, [file(data, name)], by="test", layouts=places).files[0]

    return took


@pytest.mark.parametrize(
    ("form", "name", "told"),
    [
        ("{build}_{feature}_{station_mm}", "K-12_cyl-3_60.sdf",
         {"build": "K-12", "feature": "cyl-3", "station_mm": "60"}),
        ("{build} Z{n}", "K-12 Z4.sdf", {"build": "K-12", "feature": "cyl-4"}),
        ("{build} Z{n}", "K-12 z4.SDF", {"build": "K-12", "feature": "cyl-4"}),
        ("{build}_{n}_{d}", "K-12_4_top.sdf", {"build": "K-12", "feature": "cyl-4", "station_mm": "12"}),
        ("{build}_{n}.sdf", "K-12_4.sdf", {"build": "K-12", "feature": "cyl-4"}),
        ("{build}_{feature}", "a_b_c.sdf", {"build": "a", "feature": "b_c"}),
        ("{build}_{feature}", "K-12.sdf", None),
        ("{build}_{feature}x", "K-12_cyl-3.sdf", None),
        ("({build})+{feature}", "(K-1)+cyl-2.sdf", {"build": "K-1", "feature": "cyl-2"}),
    ],
)  # fmt: skip
def test_parts_of_a_name_are_read_by_its_form(form, name, told):
    more = ['feature = "cyl-{n}"'] if "{n}" in form else []
    if "{d}" in form:
        more += ['station_mm = "{d}"', 'names.d = {top = "12"}']
    text = f'file = ["*"]\n[[trace]]\nname = "{form}"\n' + "\n".join(more)
    (one,) = layout("t.toml", text.encode("utf-8")).traces
    assert (one.parts(name) is None) == (told is None)
    if told is not None:
        assert one.told(name) == told


@pytest.mark.parametrize("key", ["build", "feature", "machine", "operation", "state", "cutoff_mm"])
def test_a_trace_whose_layout_leaves_something_out_waits_and_says_what(traced, shop, key):
    told = "\n".join(line for line in BARE.splitlines() if not line.startswith(key))
    result = traced(told)
    assert (result.status, result.rows) == ("held", 0)
    assert f"the layout t0.toml does not say its {key}" in result.findings[0]["saw"]
    assert traced(BARE).kept == 8  # and is read when it is said


def test_a_text_without_its_content_said_waits(traced):
    result = traced(BARE + 'date = "2026-05-04"\n', made.spacing_first(Z), "trace.txt")
    assert 'write content = "x_z"' in result.findings[0]["saw"]


def test_a_name_of_another_form_waits_and_says_the_form(traced):
    result = traced(BARE + 'name = "{n}_{m}"\n')
    assert "its name trace.sdf is not of the form {n}_{m}" in result.findings[0]["saw"]


def test_two_layouts_that_fit_hold_the_trace(traced):
    result = traced([BARE, BARE.replace("hone-2", "hone-3")])
    assert "more than one [[trace]] fits it (t0.toml and t1.toml)" in result.findings[0]["saw"]


def test_a_date_in_the_layout_may_be_a_date_of_toml(traced, shop):
    assert traced(BARE + "date = 2026-05-09\n").kept == 8
    assert shop.readings(Asked())["made_at"].iloc[0] == 1_778_328_000_000_000  # 2026-05-09T12:00Z


def test_a_trace_layout_leaves_workbooks_and_readings_alone(traced, bores, table):
    told = BARE.replace('file = ["*.sdf", "*.txt", "*.x3p"]', 'file = ["*"]')
    assert traced(told, table(bores()).encode("utf-8"), "bores.csv").kept == 8
    words = traced(told, b"PK\x03\x04 and no workbook", "bores.xlsx").findings[0]["saw"]
    assert "workbook is damaged" in words


@pytest.mark.parametrize(
    ("content", "data"),
    [
        ('content = "z"\nspacing = "0.5 um"\nz_unit = "um"', "\n".join(f"{v:.5f}" for v in Z)),
        ('content = "z"\nspacing = {after = "dx"}\nz_unit = "nm"',
         "Profile\ndx = 0,0005 mm\n" + "\n".join(f"{1000 * v:.2f}".replace(".", ",") for v in Z)),
        ('content = "x_z"\nx_unit = "mm"\nz_unit = "um"',
         "".join(f"{i * 0.0005:.4f},{v:.5f}\n" for i, v in enumerate(Z))),
        ('content = "x_z"',
         "Job 7\nmm um\n" + "".join(f"{i * 0.0005:.4f} {v:.5f}\n" for i, v in enumerate(Z))),
    ],
)  # fmt: skip
def test_texts_in_the_forms_of_instruments_give_the_same_figures(traced, shop, content, data):
    result = traced(BARE + 'date = "2026-05-04"\n' + content, data.encode("utf-8"), "trace.txt")
    assert result.kept == 8, result.findings
    found = shop.readings(Asked()).set_index("characteristic")["value"] / 1e5
    for key, value in CURVE.figures().items():
        assert found[key] == pytest.approx(value, rel=made.WITHIN[key]), key


@pytest.mark.parametrize(
    ("spacing", "words"),
    [
        ('"0.5"', "say it with its unit"), ('"um 0.5"', "say it with its unit"),
        ('"0.5 furlong"', "the unit 'furlong' is unknown"),
        ('{after = "step"}', "0 lines of its header begin"),
    ],
)  # fmt: skip
def test_a_spacing_that_is_not_clear_holds_the_trace(traced, spacing, words):
    told = BARE + f'date = "2026-05-04"\ncontent = "z"\nz_unit = "um"\nspacing = {spacing}\n'
    data = "\n".join(f"{v:.5f}" for v in Z).encode()
    assert words.casefold() in traced(told, data, "trace.txt").findings[0]["saw"].casefold()


def test_what_a_trace_would_become_is_shown_before_it_is_taken_in(file):
    by = layout("t.toml", BARE.encode("utf-8"))
    found = tried.tried(file(SDF, "trace.sdf"), Shop(), [by])
    assert not found.waits
    assert [c["column"] for c in found.cells] == ["ra", "rz", "rk", "rpk", "rvk", "mr1", "mr2", "vo"]
    rk = found.cells[2]
    assert rk["becomes"] == f"{float(rk['text']):.5f}".rstrip("0") + " um"
    assert float(rk["text"]) == pytest.approx(CURVE.figures()["rk"], rel=0.006)
    assert any("9600 points at 0.5 um, 4.8 mm" in f.saw for f in found.findings)
    other = layout("t.toml", BARE.replace('"*.sdf"', '"*.prf"').encode("utf-8"))
    assert tried.tried(file(SDF, "trace.sdf"), Shop(), [other]).waits
    assert not tried.tried(file(SDF, "trace.sdf"), Shop(), (), other).waits  # tried alone, whatever its file


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("K-12_cyl-3_60.sdf", SDF), ("K-12_cyl-3_60_2026-05-04.txt", made.spacing_first(Z)),
        ('K-"x"_cyl-3.x3p', made.x3p(Z)), ("trace.txt", made.columns(Z, "x [mm]\tz [um]\n", 1000.0)),
    ],
)  # fmt: skip
def test_a_first_layout_is_completed_by_taking_the_marks_away(traced, file, shop, name, data):
    first = tried.first_layout(file(data, name))
    by = layout("t.toml", first.encode("utf-8"))  # as it stands it is one, that does not say all
    assert by.for_file(name)
    assert by.traces[0].missing(name, False)
    said = {
        "build": '"K-12"', "feature": '"cyl-3"', "machine": '"hone-2"', "operation": '"plateau_hone"',
        "state": '"plate_off"', "date": '"2026-05-04"', "cutoff_mm": "0.8",
        "content": '"spacing_first"' if b"x [mm]" not in data else '"x_z"',
    }  # fmt: skip
    lines = []
    for line in first.splitlines():
        key = line.removeprefix("# ").partition(" =")[0]
        lines.append(f"{key} = {said[key]}" if line.startswith("# ") and key in said else line)
    result = traced("\n".join(lines), data, name)
    assert result.kept == 8, result.findings
    assert set(shop.readings(Asked())["feature"]) == {"cyl-3"}


def test_no_first_layout_comes_from_a_damaged_trace(file):
    with pytest.raises(FileError, match="was cut off"):
        tried.first_layout(file(SDF[:-10], "a.sdf"))


def test_the_layout_that_the_readme_shows_is_one(traced, shop):
    readme = (Path(__file__).parents[3] / "README.md").read_text(encoding="utf-8")
    (told,) = [block for block in re.findall(r"```toml\n(.*?)```", readme, re.DOTALL) if "[[trace]]" in block]
    assert traced(told, SDF, "K-0012_3_60.sdf").kept == 8
    found = shop.readings(Asked())[["build", "feature", "station"]].drop_duplicates()
    assert found.to_numpy().tolist() == [["K-0012", "cyl-3", 6_000_000_000]]


def test_a_trace_too_short_is_read_when_the_layout_says_the_cut_off_that_was_meant(traced, shop):
    short = made.sdf([Z[:4000]], 6)  # 2 mm
    assert "needs 4.8 mm" in traced(BARE, short).findings[0]["saw"]
    assert traced(BARE.replace("cutoff_mm = 0.8", "cutoff_mm = 0.25"), short).kept == 8
    assert shop.findings().query("severity == 'stop'").empty
    assert set(shop.readings(Asked())["method"]) == {"gauss-0.25", "iso13565-1-0.25"}


def test_the_same_files_in_any_order_give_the_same_readings(tmp_path, shop, empty_store):
    truth = made.files(tmp_path / "in", 31, ("sdf_int16", "x3p_int16", "columns_inch"))
    layouts = [tmp_path / "in" / t["layout"] for t in truth]
    told = []
    for number, order in enumerate((truth, truth[::-1])):
        with Store.open(shutil.copy(empty_store, tmp_path / f"s{number}.db")) as store:
            for one in order:
                place = tmp_path / "in" / one["file"]
                assert ingest(store, [place], by="t", layouts=layouts).files[0].kept == 8
            found = store.readings(Asked())[["id", "value", "feature", "made_at", "method"]]
            told.append(sorted(map(tuple, found.to_numpy().tolist())))
    assert told[0] == told[1]
    assert len(told[0]) == 24
