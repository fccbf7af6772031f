"""Hand sheets of many shops: what is kept is true to the last digit, what is not certain waits."""

import io
import itertools

import openpyxl
import pandas as pd
import pytest

from qc.ingest.held import decide
from qc.ingest.run import ingest
from qc.records import Asked
from qc.store import Store
from tests.generate import sheets

CASES = sheets.cases()


@pytest.fixture(scope="module")
def corpus(tmp_path_factory, empty_store):
    """Every sheet taken into one store, each with its layout; what became of each cell."""
    import shutil

    folder = tmp_path_factory.mktemp("sheets")
    layouts = folder / "layouts"
    layouts.mkdir()
    for case in CASES:
        (folder / case.name).write_bytes(case.content)
        (layouts / f"{case.name}.toml").write_text(case.layout, encoding="utf-8")
    with Store.open(shutil.copy(empty_store, folder / "shop.db")) as store:
        results = ingest(store, [folder / case.name for case in CASES], by="test").files
        found = store.readings(Asked())
        waiting = store.held()
    kept = {}
    for r in found.itertuples():
        sheet = r.sheet if isinstance(r.sheet, str) else None
        kept.setdefault(r.file, {})[sheet, f"{r.column}{r.row}"] = r
    held = {}
    for h in waiting.itertuples():
        sheet = h.sheet if isinstance(h.sheet, str) else None
        held.setdefault(h.file, set()).add((sheet, f"{h.fields['cell']}{h.row}"))
    return {r.file: r for r in results}, kept, held


def _known(value):
    return None if pd.isna(value) else int(value)


@pytest.mark.parametrize("case", CASES, ids=lambda c: c.name)
def test_no_clean_value_is_wrong_and_none_is_lost(corpus, case):
    results, kept, held = corpus
    mine, waits = kept.get(case.name, {}), held.get(case.name, set())
    assert (results[case.name].kept, results[case.name].held) == (len(mine), len(waits))
    wrong = {}
    for place, truth in case.truth.items():
        reading = mine.get(place)
        if reading is None:
            became = "held" if place in waits else "nothing"
            told = truth.kind
        else:
            became = (
                reading.build,
                reading.feature,
                _known(reading.station),
                _known(reading.clock),
                reading.value,
            )
            clock = None if truth.clock is None else truth.clock * 100_000
            told = (truth.build, truth.feature, truth.station, clock, truth.size)
            told = told if truth.kind == "kept" else truth.kind
        if became != told:
            wrong[place] = (became, told)
    assert not wrong, case.says
    assert set(mine) <= set(case.truth)


def test_the_corpus_is_as_varied_as_it_says():
    kinds = [c.kind for case in CASES for c in case.truth.values()]
    assert len(CASES) >= 30
    assert kinds.count("kept") > 1000
    assert kinds.count("held") > 40
    assert kinds.count("nothing") > 20
    assert len({case.says for case in CASES}) >= 20


def book(*tabs, merged=()) -> bytes:
    """A workbook of tabs, each a name and its rows."""
    made = openpyxl.Workbook()
    made.remove(made.active)
    for name, rows in tabs:
        sheet = made.create_sheet(name)
        for row in rows:
            sheet.append(row)
        for block in merged:
            sheet.merge_cells(block)
    out = io.BytesIO()
    made.save(out)
    return out.getvalue()


def proving(**other) -> list[list]:
    """Rows of a sheet whose headings say everything; what is named is put in the place of it."""
    said = {
        "build": "B-7", "machine": "hone-1", "operation": "finish_bore", "heading": "bore size (mm)",
        "state": "plate on", "date": "2026-05-04", "depth": "depth (mm)", "names": ["cyl-1", "cyl-2"],
    } | other  # fmt: skip
    return [
        ["build", said["build"], "machine", said["machine"], "operation", said["operation"]],
        ["date", said["date"], said["state"]],
        [said["heading"]],
        [said["depth"], *said["names"]],
        [12, 96.012, 96.013],
        [118, 96.009, 96.011],
    ]


def test_a_sheet_that_proves_all_by_its_headings_needs_no_layout(taken, shop):
    result = taken(book(("May", proving())), "may.xlsx")
    assert (result.status, result.kept) == ("kept", 4), result.findings
    found = shop.readings(Asked()).set_index(["feature", "station"])
    assert found.loc[("cyl-2", 11_800_000_000), "value"].item() == 9_601_100_000
    assert set(found["build"]) == {"B-7"}
    assert set(found["state"]) == {"plate_on"}


@pytest.mark.parametrize(
    ("missing", "key"),
    [
        ({"build": ""}, "build"), ({"machine": ""}, "machine"), ({"state": ""}, "state"),
        ({"date": ""}, "date"),
        ({"heading": "bore size"}, "unit"), ({"heading": "(mm)"}, "characteristic"),
        ({"heading": "bore size (mm), was (in)"}, "which of in, mm its figures are in (unit)"),
        ({"depth": "depth"}, "in which unit its depths are written (stations)"),
        ({"names": ["Bore 1", "Bore 2"]}, "whether 'Bore 1' is cyl-1 (features)"),
    ],
)  # fmt: skip
def test_without_proof_the_table_waits_and_the_sentence_names_the_key(taken, missing, key):
    result = taken(book(("May", proving(**missing))), "may.xlsx")
    assert (result.status, result.kept) == ("held", 0)
    stops = [f for f in result.findings if f["severity"] == "stop"]
    assert [f["code"] for f in stops] == ["needs_layout"]
    assert key in stops[0]["saw"]
    assert "qc layout try" in stops[0]["proposal"]


LAYOUT = """
file = ["bores*.xlsx"]
[text]
A3 = "bores (tenths)"
[all]
build = {tab = true}
machine = "hone-1"
operation = "finish_bore"
date = {cell = "B2"}
state = "plate_on"
[[table]]
characteristic = "bore_diameter"
reading = "deviation"
unit = "tenth"
features = {cells = "B4:C4", word = "cyl"}
stations = {cells = "A5:A6", unit = "mm"}
target = {cell = "E3", unit = "in"}
"""


def bores(**other) -> list[list]:
    """Rows of a sheet that the layout above is for."""
    said = {"heading": "bores (tenths)", "date": "2026-05-04", "first": 3, "more": ""} | other
    return [
        ["our shop"], ["date", said["date"]], [said["heading"], "", "", "nominal", 3.7805], ["", 1, 2],
        [12, said["first"], -1], [118, 0, 2], ["", said["more"]],
    ]  # fmt: skip


@pytest.fixture
def taken_by(shop, file, tmp_path):
    """The result of a file taken in with a layout."""

    def took(content: bytes, layout: str = LAYOUT, name: str = "bores may.xlsx"):
        place = tmp_path / "bores.toml"
        place.write_text(layout, encoding="utf-8")
        return ingest(shop, [file(content, name)], by="test", layouts=[place]).files[0]

    return took


def test_one_tab_a_build_is_read_with_one_layout(taken_by, shop):
    result = taken_by(book(("B-1", bores()), ("B-2", bores(first=-4))))
    assert (result.status, result.kept) == ("kept", 8)
    found = shop.readings(Asked()).set_index(["build", "sheet", "row", "column"])["value"]
    # 3.7805 in = 96.0247 mm; 3 tenths = 7.62 um
    assert found["B-1", "B-1", 5, "B"] == 9_602_470_000 + 762_000
    assert found["B-2", "B-2", 5, "B"] == 9_602_470_000 - 1_016_000
    assert "read_with_layout" in {f["code"] for f in result.findings}
    kinds = shop.files().set_index("name")["kind"]
    assert kinds["bores.toml"] == "layout"


def test_a_sheet_that_has_changed_is_not_read_with_the_old_layout(taken_by):
    result = taken_by(book(("B-1", bores(heading="bores (thou)"))))
    assert (result.status, result.kept) == ("held", 0)
    assert "A3 reads 'bores (thou)' instead of 'bores (tenths)'" in result.findings[0]["saw"]


def test_a_heading_that_contradicts_the_layout_holds_the_table(taken_by, shop):
    layout = LAYOUT.replace('A3 = "bores (tenths)"\n', "")
    result = taken_by(book(("B-1", bores(heading="bores (thou)"))), layout)
    assert (result.kept, result.held) == (0, 4)
    finding = result.findings[0]
    assert "unit tenth, but a heading above" in finding["saw"]
    decide(shop, finding["id"], "accept", "the heading was never changed", "test")
    assert len(shop.readings(Asked())) == 4


def test_a_number_beside_the_table_is_asked_about(taken_by):
    result = taken_by(book(("B-1", bores(more=7))))
    asked = [f for f in result.findings if f["code"] == "beside_the_table"]
    assert [(f["severity"], f["cells"][0]["text"], f["cells"][0]["column"]) for f in asked] == [
        ("ask", "7", "B")
    ]


def test_two_layouts_that_both_fit_read_nothing(shop, file, tmp_path):
    for name in ("one", "two"):
        (tmp_path / f"{name}.toml").write_text(LAYOUT + f"# {name}\n", encoding="utf-8")
    place = file(book(("B-1", bores())), "bores may.xlsx")
    paths = [tmp_path / "one.toml", tmp_path / "two.toml"]
    result = ingest(shop, [place], by="test", layouts=paths).files[0]
    assert (result.status, result.kept) == ("held", 0)
    assert "one.toml and two.toml both fit" in result.findings[0]["saw"]


def test_a_file_that_waited_for_its_layout_is_read_once_there_is_one(shop, file, tmp_path):
    place = file(book(("B-1", bores())), "bores may.xlsx")
    before = ingest(shop, [place], by="test").files[0]
    assert (before.status, before.kept) == ("held", 0)
    (tmp_path / "layouts").mkdir()
    (tmp_path / "layouts" / "bores.toml").write_text(LAYOUT, encoding="utf-8")
    after = ingest(shop, [place], by="test").files[0]
    assert (after.status, after.kept) == ("kept", 4)
    again = ingest(shop, [place], by="test").files[0]
    assert (again.status, again.kept) == ("already_kept", 0)
    findings = shop.findings()
    assert "needs_layout" not in set(findings["code"])
    assert len(shop.readings(Asked())) == 4


def test_a_cell_that_is_no_number_is_corrected_alone(taken_by, shop):
    result = taken_by(book(("B-1", bores(first="see note"))))
    finding = next(f for f in result.findings if f["code"] == "not_a_reading")
    decide(shop, finding["id"], "correct", "asked Jo", "test", "-5")
    found = shop.readings(Asked())
    places = sorted(zip(found["column"], found["row"], strict=True))
    assert places == list(itertools.product("BC", (5, 6)))
    one = found[(found["row"] == 5) & (found["column"] == "B")].iloc[0]
    assert one["value"] == 9_602_470_000 - 1_270_000
    assert one["id"].endswith(":B-1!5:B/2")


def test_a_formula_without_a_figure_waits(taken_by):
    result = taken_by(book(("B-1", bores(first="=1+2"))))
    assert (result.kept, result.held) == (3, 1)
    assert [f["code"] for f in result.findings if f["severity"] == "stop"] == ["formula_without_value"]


def test_a_date_that_could_be_two_waits_for_the_shop(taken_by, shop):
    result = taken_by(book(("B-1", bores(date="03/04/2026"))))
    assert (result.kept, result.held) == (0, 4)
    finding = next(f for f in result.findings if f["code"] == "date_order")
    decide(shop, finding["id"], "accept", "we write the day first", "test")
    assert len(shop.readings(Asked())) == 4


def test_layouts_that_lie_among_the_files_are_none_of_them(shop, file):
    place = file(book(("B-1", bores())), "bores may.xlsx")
    (place.parent / "layouts").mkdir()
    (place.parent / "layouts" / "bores.toml").write_text(LAYOUT, encoding="utf-8")
    found = ingest(shop, [place.parent], by="test").files
    assert [r.file for r in found] == ["bores may.xlsx"]


def test_a_feature_named_twice_with_other_figures_waits(taken_by):
    layout = LAYOUT.replace('word = "cyl"', 'list = ["cyl-1", "cyl-1"]')
    result = taken_by(book(("B-1", bores())), layout)
    assert (result.kept, result.held) == (2, 2)
    assert "reads_otherwise" in {f["code"] for f in result.findings}


def test_a_unit_cell_that_names_two_units_proves_none(taken_by, shop):
    layout = LAYOUT.replace('unit = "tenth"', 'unit = {cell = "A3"}')
    layout = layout.replace('A3 = "bores (tenths)"\n', "")
    result = taken_by(book(("B-1", bores(heading="bores (in), now (tenths)"))), layout)
    assert (result.kept, result.held) == (0, 4)
    finding = next(f for f in result.findings if f["severity"] == "stop")
    assert "bores (in), now (tenths), but a heading" in finding["saw"]
    decide(shop, finding["id"], "accept", "as the layout says", "test")
    assert len(shop.readings(Asked())) == 0  # that says no unit either
    assert set(shop.findings()["code"]) >= {"unknown_unit"}
