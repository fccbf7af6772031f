from pathlib import Path

import openpyxl
import pytest

from qc.errors import FileError, QuestionError
from qc.ingest import template, workbook
from qc.ingest.explained import said
from qc.ingest.kinds import KINDS
from qc.ingest.rows import tables


@pytest.mark.parametrize("kind", KINDS)
def test_every_column_is_explained_and_no_row_is_read(kind, tmp_path):
    place = tmp_path / "empty.xlsx"
    template.write(kind, place)
    (table,), passed_over = tables(workbook.cells(place.read_bytes()))
    assert table.kind == kind
    assert table.header == KINDS[kind].columns
    assert passed_over == []
    assert all(said(kind, column)[0] for column in KINDS[kind].columns)
    book = openpyxl.load_workbook(place)
    assert book.sheetnames == [kind, "columns", "lists"]
    assert [c.value for c in book["columns"]["A"]][2:] == list(KINDS[kind].columns)


def test_an_empty_file_has_the_same_bytes_every_time(tmp_path):
    for name in ("a.xlsx", "b.xlsx"):
        template.write("readings", tmp_path / name)
    assert (tmp_path / "a.xlsx").read_bytes() == (tmp_path / "b.xlsx").read_bytes()


def test_lists_stand_where_the_words_are_fixed(tmp_path):
    template.write("readings", tmp_path / "empty.xlsx")
    sheet = openpyxl.load_workbook(tmp_path / "empty.xlsx")["readings"]
    strict = {str(v.sqref)[:1] for v in sheet.data_validations.dataValidation if v.errorStyle != "warning"}
    columns = {name: chr(ord("A") + i) for i, name in enumerate(KINDS["readings"].columns)}
    assert {columns["characteristic"], columns["unit"], columns["state"], columns["reading"]} <= strict
    assert columns["machine"] not in strict


def _fill(place: Path, rows: list[dict[str, object]]) -> None:
    book = openpyxl.load_workbook(place)
    sheet = book.worksheets[0]
    header = [c.value for c in sheet[1]]
    for number, row in enumerate(rows, start=3):
        for column, value in row.items():
            sheet.cell(number, header.index(column) + 1).value = value  # type: ignore[arg-type]
    book.save(place)


def test_a_filled_template_comes_back_exactly(shop, tmp_path):
    from datetime import UTC, datetime

    from qc.ingest.run import ingest

    at = datetime(2026, 4, 3, 8, 15, tzinfo=UTC).replace(tzinfo=None)
    place = tmp_path / "filled.xlsx"
    template.write("readings", place)
    row = {"build": "0012", "machine": "hone-1", "operation": "finish_bore",
    "characteristic": "bore_diameter",
           "feature": "cyl-1", "value": 96.012, "unit": "mm", "measured_at": at, "target": 96, "trial": 1,
           "station_mm": 20, "clock_deg": 90, "note": "=1+1 is text"}  # fmt: skip
    _fill(place, [row, row | {"feature": "cyl-2", "value": 3.78, "unit": "in", "target": 3.78}])
    (result,) = ingest(shop, [place], by="ann").files
    assert (result.status, result.rows, result.kept) == ("kept", 2, 2), result.findings
    frame = shop.readings()
    assert frame["value"].tolist() == [9_601_200_000] * 2
    assert frame["build"].tolist() == ["0012"] * 2
    assert frame["target"].tolist() == [9_600_000_000, 9_601_200_000]
    assert frame["row"].tolist() == [3, 4]
    assert frame["made_at"].unique().tolist() == [20_546 * 86_400_000_000 + 29_700_000_000]


@pytest.mark.parametrize(
    ("kind", "row"),
    [
        ("specifications", {"characteristic": "bore_diameter", "unit": "um", "reading": "deviation",
        "lower": -10,
                            "upper": 10}),
        ("events", {"at": "2026-04-03", "event": "stones_changed", "machine": "hone-1"}),
        ("gauges", {"gauge": "bg-2", "kind": "bore gauge", "resolution": 0.002, "unit": "mm"}),
        ("builds", {"build": "B-1", "engine": "v8"}),
        ("machines", {"machine": "hone-1", "kind": "hone"}),
        ("plan", {"characteristic": "bore_diameter", "station_mm": 20, "clock_deg": 90}),
    ],
)  # fmt: skip
def test_every_template_can_be_filled_and_taken_in(shop, tmp_path, kind, row):
    from qc.ingest.run import ingest

    place = tmp_path / "filled.xlsx"
    template.write(kind, place)
    _fill(place, [row])
    (result,) = ingest(shop, [place], by="ann").files
    assert (result.status, result.kept, result.kind) == ("kept", 1, template.kind_named(kind).key), (
        result.findings
    )


def test_a_file_that_is_there_is_left_alone(tmp_path):
    (tmp_path / "mine.xlsx").write_bytes(b"mine")
    with pytest.raises(FileError, match="left alone"):
        template.write("readings", tmp_path / "mine.xlsx")
    assert (tmp_path / "mine.xlsx").read_bytes() == b"mine"
    with pytest.raises(FileError, match=r"name it mine\.xlsx"):
        template.write("readings", tmp_path / "mine.csv")
    with pytest.raises(FileError, match="cannot be written"):
        template.write("readings", tmp_path / "nowhere" / "mine.xlsx")
    with pytest.raises(QuestionError, match="measuring_plan"):
        template.write("recipes", tmp_path / "other.xlsx")
