"""What a workbook hides, joins, computes or cannot compute, and numbers that could be two things."""

import io

import openpyxl
import pytest
import xlsxwriter

from qc.ingest.held import decide
from qc.records import Asked

HEADER = [
    "build",
    "machine",
    "operation",
    "characteristic",
    "feature",
    "value",
    "unit",
    "measured_at",
    "target",
]

MADE = ["B-1", "hone-1", "finish_bore", "bore_diameter"]


@pytest.fixture
def book():
    """A workbook of bore readings; `change` works on the sheet before it is saved."""

    def made(change=lambda sheet: None, values=(96.012, 96.013, 96.011)):
        book = openpyxl.Workbook()
        sheet = book.active
        sheet.append(HEADER)
        for n, value in enumerate(values, start=1):
            sheet.append([*MADE, f"cyl-{n}", value, "mm", "2026-04-03", 96.01])
        change(sheet)
        out = io.BytesIO()
        book.save(out)
        return out.getvalue()

    return made


def hide(*letters):
    def change(sheet):
        for letter in letters:
            sheet.column_dimensions[letter].hidden = True

    return change


def test_readings_from_a_hidden_column_are_held_like_those_of_hidden_rows(taken, book, codes, shop):
    result = taken(book(hide("F")), "b.xlsx")
    assert (result.kept, result.held) == (0, 3)
    assert codes(result) == [("stop", "hidden_column")]
    assert "column value is hidden" in result.findings[0]["saw"]
    decide(shop, result.findings[0]["id"], "accept", "hidden for printing", "ann")
    assert list(shop.readings(Asked())["value"]) == [9_601_200_000, 9_601_300_000, 9_601_100_000]


def test_other_hidden_columns_are_named_and_asked_about(taken, book, codes):
    result = taken(book(hide("G", "I")), "b.xlsx")
    assert (result.kept, result.held) == (3, 0)
    assert codes(result) == [("ask", "columns_hidden")]
    said = next(f for f in result.findings if f["code"] == "columns_hidden")
    assert "unit, target" in said["saw"]


def test_a_hidden_column_without_anything_in_it_is_not_asked_about(taken, book, codes):
    def change(sheet):
        sheet["J1"] = "gauge"
        sheet.column_dimensions["J"].hidden = True

    assert codes(taken(book(change), "b.xlsx")) == []


def test_cells_joined_over_several_rows_hold_one_reading_and_the_others_wait(taken, book, codes):
    result = taken(book(lambda sheet: sheet.merge_cells("F2:F3")), "b.xlsx")
    assert (result.kept, result.held) == (2, 1)
    assert codes(result) == [("stop", "missing_value")]


def test_a_formula_counts_by_the_figure_saved_beside_it_and_waits_without_one(taken):
    out = io.BytesIO()
    book = xlsxwriter.Workbook(out, {"in_memory": True})
    sheet = book.add_worksheet()
    sheet.write_row(0, 0, HEADER)
    for n, (formula, result) in enumerate(
        (("=96+0.012", 96.012), ("=96+0.013", ""), ("=NA()", "#N/A")), start=1
    ):
        sheet.write_row(n, 0, [*MADE, f"cyl-{n}", "", "mm", "2026-04-03", 96.01])
        sheet.write_formula(n, 5, formula, None, result)
    book.close()
    result = taken(out.getvalue(), "b.xlsx")
    assert (result.kept, result.held) == (1, 2)
    (finding,) = (f for f in result.findings if f["severity"] == "stop")
    assert finding["code"] == "formula_without_value"
    assert "value in row 3, value in row 4" in finding["saw"]


@pytest.mark.parametrize("column", ["target", "unit"])
def test_a_formula_without_a_figure_beside_the_value_holds_its_row_too(taken, book, codes, column):
    def change(sheet):
        sheet[f"{'ABCDEFGHI'[HEADER.index(column)]}3"] = "=A1+1"  # saved without a result

    result = taken(book(change), "b.xlsx")
    assert (result.kept, result.held) == (2, 1)
    assert codes(result)[0] == ("stop", "formula_without_value")


@pytest.mark.parametrize("error", ["#N/A", "#DIV/0!", "#VALUE!", "#REF!", "#NAME?", "#NUM!", "#NULL!"])
def test_an_error_in_a_cell_is_held_whatever_it_is_called(taken, book, codes, error):
    def change(sheet):
        sheet["F3"].value = error
        sheet["F3"].data_type = "e"

    result = taken(book(change), "b.xlsx")
    assert (result.kept, result.held) == (2, 1)
    assert codes(result) == [("stop", "formula_without_value")]


def rows(*values, unit="um", reading="", target=""):
    return "build,machine,operation,characteristic,feature,value,unit,measured_at,reading,target\n" + "".join(
        f'B-1,hone-1,finish_bore,bore_diameter,cyl-{n},"{v}",{unit},2026-04-03,{reading},"{target}"\n'
        for n, v in enumerate(values, start=1)
    )


def test_sizes_with_marks_between_thousands_are_read_where_the_file_proves_them(taken, shop):
    result = taken(rows("93.008,4", "93.010,2", "93.011"))
    assert (result.kept, result.held) == (3, 0)
    assert list(shop.readings(Asked())["value"]) == [9_300_840_000, 9_301_020_000, 9_301_100_000]
    assert list(shop.readings(Asked())["text"]) == ["93.008,4", "93.010,2", "93.011"]


@pytest.mark.parametrize("text", ["93,008", "93.008", "+93,008"])
def test_a_size_that_is_a_thousand_times_another_by_its_mark_waits(taken, codes, shop, text):
    result = taken(rows(text, text[:-1] + "9"))
    assert (result.kept, codes(result)) == (0, [("stop", "thousands_mark")])
    decide(shop, result.findings[0]["id"], "correct", "a mark between thousands", "ann")
    assert set(shop.readings(Asked())["value"]) == {9_300_800_000, 9_300_900_000}


def test_the_same_marks_are_decimal_beyond_doubt_in_mm_and_in_deviations(taken, codes):
    assert taken(rows("93,008", "93,009", unit="mm"), "a.csv").kept == 2
    result = taken(
        rows("3,125", "-2,250", reading="deviation", target="96,010").replace("B-1", "B-2"), "b.csv"
    )
    assert (result.kept, codes(result)) == (2, [])


def test_a_row_read_again_after_a_decision_keeps_its_way_of_writing(taken, shop):
    text = rows("93.008,4", "93.010,2", "93.011").replace("cyl-3", "hole-3")
    result = taken(text)
    assert (result.kept, result.held) == (2, 1)
    decide(shop, result.findings[0]["id"], "correct", "named otherwise", "ann", {"feature": "cyl-3"})
    assert sorted(shop.readings(Asked())["value"]) == [9_300_840_000, 9_301_020_000, 9_301_100_000]


def test_limits_and_targets_with_such_a_mark_wait_as_well(taken, codes):
    text = "characteristic,lower,upper,unit,reading\nbore_diameter,\"93,000\",\"93,020\",um,size\n"
    result = taken(text, "s.csv")
    assert (result.kept, codes(result)) == (0, [("stop", "thousands_mark"), ("stop", "thousands_mark")])
    text = text.replace("bore_diameter", "ra").replace("93,000", "0,250").replace("93,020", "1,250")
    assert taken(text, "r.csv").kept == 1
    result = taken(rows("93008.4", target="93,010"), "t.csv")
    assert (result.kept, codes(result)) == (0, [("stop", "thousands_mark")])
