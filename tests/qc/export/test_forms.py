import csv as readers
import io
import json as numbers
import zipfile

import pytest

from qc.errors import FileError, QuestionError
from qc.export import csv, json, table, write, xlsx

HEAD = {
    "version": 1,
    "revision": 7,
    "asked": {"machine": ["hone-2"]},
    "zone": "UTC",
    "cautions": ["be careful"],
}
CHART = {
    "answer": "chart", **HEAD,
    "series": [
        {"id": "a", "center": 0.1, "limits": {"phase": "set"}, "gauges": ["g1", "g2"],
         "blocks": [{"build": "B1", "mean": 1 / 3, "signals": []}, {"build": "=B2", "mean": None,
         "signals": [{"at": 1}]}]},
        {"id": "b", "center": None, "limits": None, "gauges": [], "blocks": []},
    ],
}  # fmt: skip


def rows(text):
    return list(readers.DictReader(io.StringIO(text, newline="")))


def test_a_table_has_a_line_for_each_block_and_one_for_a_series_without():
    found = rows(csv.text(CHART))
    assert [(r["id"], r["build"]) for r in found] == [("a", "B1"), ("a", "'=B2"), ("b", "")]
    assert found[0]["limits.phase"] == "set"
    assert found[0]["gauges"] == "g1; g2"
    assert found[1]["signals"] == '[{"at":1}]'
    assert {r["revision"] for r in found} == {"7"}


def test_a_float_comes_back_from_csv_and_json_bit_for_bit():
    assert float(rows(csv.text(CHART))[0]["mean"]) == 1 / 3
    assert numbers.loads(json.text(CHART))["series"][0]["blocks"][0]["mean"] == 1 / 3


def test_json_never_holds_a_nan():
    with pytest.raises(ValueError, match="JSON"):
        json.text({"mean": float("nan")})


# a spreadsheet takes text that begins with these for a formula (OWASP, CSV Injection, from memory)
@pytest.mark.parametrize(
    "text", ["=1+2", "+cmd|' /C calc'!A0", "-2+3", "@SUM(A1)", "\t=1", "\r=1", "-", "+inf", "-nan"]
)
def test_text_that_could_be_a_formula_is_neutralised(text):
    assert rows(csv.lines(["a"], [[text]]))[0]["a"] == "'" + text
    assert table.unguarded(table.guarded(text)) == text


@pytest.mark.parametrize("text", ["-3", "+0.004", "93.008", "1e-3", "plain", "", "a=b"])
def test_plain_numbers_and_words_stay_as_they_are(text):
    assert rows(csv.lines(["a", "b"], [[text, "x"]]))[0]["a"] == text


@pytest.mark.parametrize("text", ["'quoted", "''", "'=1", "plain", "=x", "-3"])
def test_exact_tables_give_every_text_back(text):
    assert table.unguarded(rows(csv.lines(["a", "b"], [[text, "x"]], exact=True))[0]["a"]) == text


def test_a_workbook_is_the_same_to_the_byte_and_holds_no_formula():
    openpyxl = pytest.importorskip("openpyxl")
    made = xlsx.content(CHART)
    assert made == xlsx.content(CHART)
    with zipfile.ZipFile(io.BytesIO(made)) as packed:
        assert b"<f>" not in packed.read("xl/worksheets/sheet1.xml")
    book = openpyxl.load_workbook(io.BytesIO(made))
    head, *lines = book["chart"].iter_rows(values_only=True)
    by_name = [dict(zip(head, line, strict=True)) for line in lines]
    assert by_name[0]["mean"] == pytest.approx(1 / 3, rel=1e-15)
    assert by_name[1]["build"] == "'=B2"
    assert ("caution", "be careful") in [row[:2] for row in book["about"].iter_rows(values_only=True)]
    book.close()


@pytest.mark.parametrize("ending", ["json", "csv", "xlsx"])
def test_an_answer_is_written_in_the_form_its_name_ends_with(tmp_path, ending):
    place = tmp_path / f"answer.{ending}"
    write.answer(CHART, place)
    assert place.read_bytes()
    assert [p.name for p in tmp_path.iterdir()] == [place.name], "no draft is left behind"


@pytest.mark.parametrize(
    ("name", "words"),
    [("a.pdf", "no report is written as PDF yet"), ("a.doc", "write .json"), ("a", "ending")],
)
def test_another_ending_is_refused_with_the_cure(tmp_path, name, words):
    with pytest.raises(QuestionError, match=words):
        write.answer(CHART, tmp_path / name)


def test_a_place_that_cannot_be_written_is_refused(tmp_path):
    with pytest.raises(FileError, match="name another place"):
        write.answer(CHART, tmp_path / "missing" / "a.csv")
