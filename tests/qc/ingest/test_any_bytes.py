"""Whatever bytes come, a reader gives cells or one sentence: 400 drawn inputs a property.

tests/fuzz holds the same by coverage-guided fuzzing, outside the suite.
"""

import io
import json
import tempfile
import zipfile
from pathlib import Path

from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from qc.errors import FileError, QcError
from qc.ingest import fixed_width, json_lines, layout, number_marks, parquet, parsed, sources, workbook
from qc.ingest.line import Shop
from qc.records import Finding
from tests.fuzz import parsers
from tests.generate import files, hostile, qif, traces

many = settings(max_examples=400, deadline=None, suppress_health_check=list(HealthCheck))
SMALL = [m for m in files.files(11) if len(m.content) < 12_000]
with tempfile.TemporaryDirectory() as _place:
    DRAWN = [one["file"] for one in traces.files(Path(_place), 5)]
    TRACES = [(Path(_place) / name).read_bytes()[:30_000] for name in DRAWN]
LINE = b"Feature  Axis  Nominal  Actual\nMain 1   Z       0.000   0.001\n"
LAYOUT = b'file = "a*"\n[[centres]]\naxes = {Z = "vertical"}\nfeatures = {A = "main-1"}\nstart = 1\n'


def answered(name: str, data: bytes) -> None:
    """A file read or refused as `qc ingest` would: rows and findings, or one sentence."""
    try:
        one = parsed.parsed(name, data, Shop(), "0" * 64)
    except FileError:
        return
    assert all(isinstance(f, Finding) for f in one.notes)
    assert all((row.record is None) == bool(row.doubts) for row in one.rows)


@st.composite
def spoilt(draw, contents):
    """A true file with some bytes changed, cut out, put in or doubled."""
    data = bytearray(draw(st.sampled_from(contents)))
    for _ in range(draw(st.integers(1, 6))):
        at = draw(st.integers(0, max(len(data) - 1, 0)))
        end = min(at + draw(st.integers(0, 40)), len(data))
        data[at:end] = draw(st.one_of(st.binary(max_size=40), st.just(bytes(data[at:end] * 2)), st.just(b"")))
    return bytes(data)


@many
@given(st.binary(max_size=2000))
def test_any_bytes_are_answered(data):
    answered("x.csv", data)


@many
@given(spoilt([m.content for m in SMALL]))
def test_true_files_of_every_kind_with_spoilt_bytes_are_answered(data):
    answered("x.csv", data)


@many
@given(spoilt(TRACES))
def test_spoilt_traces_are_answered(data):
    answered("x.sdf", data)


@many
@given(spoilt([qif.document([{"feature": "main-1", "value": "64.006", "target": "64"}]).encode()]))
def test_spoilt_results_of_a_measuring_machine_are_answered(data):
    answered("x.qif", data)


@many
@given(
    st.binary(max_size=600),
    st.sampled_from(["xl/worksheets/sheet1.xml", "xl/workbook.xml", "xl/styles.xml"]),
)
def test_a_workbook_with_any_bytes_in_a_part_is_answered(data, part):
    answered("x.xlsx", hostile.packed("<worksheet/>", {part: data}))


@many
@given(spoilt([hostile.SHEET.format('<row r="1"><c r="A1" t="str"><f>1</f><v>1</v></c></row>').encode()]))
def test_a_sheet_with_spoilt_xml_is_answered(data):
    answered("x.xlsx", hostile.packed(data))


@many
@given(spoilt([hostile.packed("<worksheet/>"), b"PK\x03\x04"]))
def test_a_spoilt_package_is_answered(data):
    try:
        workbook.cells(data)
    except FileError:
        return


def test_a_package_with_any_one_byte_turned_over_is_answered():
    whole = hostile.packed("<worksheet><sheetData/></worksheet>")
    for at in range(len(whole)):
        answered("x.xlsx", whole[:at] + bytes([whole[at] ^ 0xFF]) + whole[at + 1 :])


@many
@given(st.text(max_size=400), st.sampled_from(["utf-8", "utf-16", "cp1252"]))
@example('{"a": 1e999}', "utf-8")
@example('{"a": NaN}', "utf-8")
@example('{"\\ud800": 1}', "utf-8")
def test_json_lines_are_answered(text, encoding):
    try:
        json_lines.cells(("{" + text).encode(encoding, "replace"))
    except FileError:
        return


@many
@given(st.one_of(spoilt([LINE]), st.binary(max_size=400).map(lambda more: LINE + more)))
def test_columns_of_fixed_width_are_answered(data):
    if fixed_width.claims(data, "x.txt"):
        answered("x.txt", data)
    try:
        fixed_width.cells(data)
    except FileError:
        return


@many
@given(st.one_of(spoilt([LAYOUT]), st.binary(max_size=300)))
def test_a_layout_is_read_or_refused(data):
    try:
        layout.layout("x.toml", data)
    except QcError:
        return


@many
@given(st.lists(st.text(st.sampled_from("0123456789.,' -+eE\N{THIN SPACE}x/"), max_size=12), max_size=8))
def test_marks_of_numbers_never_make_a_number_of_what_is_none_in_another_way(texts):
    way = number_marks.marks(texts)
    if way is None:
        return
    for text in texts:
        plain = way.plain(text)
        assert [c for c in plain if c.isdigit()] == [c for c in text if c.isdigit()]


@many
@given(st.binary(max_size=300))
def test_parquet_is_answered(data):
    try:
        parquet.cells(b"PAR1" + data + b"PAR1")
    except FileError:
        return


@many
@given(st.binary(max_size=300), st.text(max_size=20))
def test_every_reader_says_whether_a_file_is_its_own(data, name):
    claimed = [r for r in sources.READERS if r.claims(data, name)]
    assert all(isinstance(r.claims(data, name), bool) for r in claimed)


def test_the_last_coverage_guided_fuzzing_found_no_crash():
    told = json.loads(parsers.RESULT.read_text(encoding="utf-8"))
    assert set(told) == set(parsers.RUNS)
    assert {one["crashes"] for one in told.values()} == {0}
    assert all(told[name]["inputs"] == runs for name, runs in parsers.RUNS.items())


def test_the_seeds_are_files_that_are_read():
    assert len(SMALL) > 30
    assert zipfile.is_zipfile(io.BytesIO(hostile.packed("<worksheet/>")))
    assert parsed.parsed("x.csv", SMALL[0].content, Shop(), "0" * 64).rows
