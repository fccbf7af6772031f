import io
import zipfile
from datetime import UTC, date, datetime

import openpyxl
import pytest
import xlsxwriter

from qc.errors import FileError
from qc.ingest import visibility, workbook
from qc.ingest.visibility import column_number


def at(*parts: int) -> datetime:
    """A local time as a cell holds it."""
    return datetime(*parts, tzinfo=UTC).replace(tzinfo=None)


HEADER = ["build", "machine", "operation", "characteristic", "feature", "value", "unit", "measured_at"]
ROW = ["B-104", "hone-1", "finish_bore", "bore_diameter", "cyl-1", 96.012, "mm", at(2026, 4, 3, 8, 15)]


@pytest.fixture
def saved():
    """Bytes of a workbook that a function filled, written by another library than the one that reads."""

    def made(fill) -> bytes:
        book = openpyxl.Workbook()
        book.remove(book.active)
        fill(book)
        out = io.BytesIO()
        book.save(out)
        return out.getvalue()

    return made


def test_every_sheet_is_read_with_its_rows_as_the_sheet_counts_them(saved):
    def fill(book):
        one, two = book.create_sheet("May"), book.create_sheet("June")
        one.append(HEADER)
        one.append(ROW)
        two["B3"] = "x"

    may, june = workbook.cells(saved(fill))
    assert may.sheet == "May"
    assert may.rows[1] == (2, ("B-104", "hone-1", "finish_bore", "bore_diameter", "cyl-1", "96.012", "mm",
                               "2026-04-03T08:15:00"))  # fmt: skip
    assert june.rows == ((3, ("", "x")),)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (7, "7"),
        (96.012, "96.012"),
        (0.1 + 0.2, "0.3"),
        (-0.002, "-0.002"),
        (True, "TRUE"),
        (date(2026, 4, 3), "2026-04-03"),
        (at(2026, 4, 3), "2026-04-03"),
        (at(2026, 4, 3, 8, 15, 7), "2026-04-03T08:15:07"),
        ("=1+1", ""),  # never calculated: this library writes no result
        ("0012", "0012"),
        (None, ""),
    ],
)
def test_a_cell_is_the_text_that_a_person_would_have_typed(saved, value, text):
    def fill(book):
        book.create_sheet("A").append(["first", value])

    cells = workbook.cells(saved(fill))[0].rows[0][1]
    assert (*cells, "")[1] == text


def test_hidden_rows_and_hidden_sheets_are_told(saved):
    def fill(book):
        seen, unseen, deep = (book.create_sheet(n) for n in ("seen", "unseen", "deep"))
        for sheet in (seen, unseen, deep):
            for _ in range(4):
                sheet.append(["a", "b"])
        seen.row_dimensions[3].hidden = True
        unseen.sheet_state, deep.sheet_state = "hidden", "veryHidden"

    grids = workbook.cells(saved(fill))
    assert [(g.sheet, g.hidden, sorted(g.hidden_rows)) for g in grids] == [
        ("seen", False, [3]), ("unseen", True, []), ("deep", True, []),
    ]  # fmt: skip


def _replaced(data: bytes, part: str, change) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            new.writestr(name, change(old.read(name)) if name == part else old.read(name))
    return out.getvalue()


@pytest.fixture
def plain() -> bytes:
    out = io.BytesIO()
    book = xlsxwriter.Workbook(out, {"in_memory": True})
    book.add_worksheet("A").write_row(0, 0, ["a", "b"])
    book.close()
    return out.getvalue()


def test_a_packed_bomb_is_refused_before_it_unpacks(plain, monkeypatch):
    monkeypatch.setattr(visibility, "MOST_BYTES", 5_000_000)  # 300 MB take long to pack
    bomb = _replaced(plain, "xl/theme/theme1.xml", lambda _: b"0" * 20_000_000)
    assert len(bomb) < 50_000
    with pytest.raises(FileError, match="more than 5 MB"):
        workbook.cells(bomb)
    assert workbook.cells(_replaced(plain, "xl/theme/theme1.xml", lambda _: b"0" * 2_000_000))


def test_a_cell_far_away_does_not_make_a_huge_sheet(plain):
    def far(xml: bytes) -> bytes:
        return xml.replace(
            b"</sheetData>", b'<row r="1000000"><c r="XFD1000000"><v>1</v></c></row></sheetData>'
        )

    with pytest.raises(FileError, match="16384 columns"):
        workbook.cells(_replaced(plain, "xl/worksheets/sheet1.xml", far))


def test_ten_thousand_columns_are_refused(saved):
    with pytest.raises(FileError, match="10000 columns; at most 500"):
        workbook.cells(saved(lambda book: book.create_sheet("A").append(list(range(10_000)))))


def test_entities_are_refused(plain):
    def nested(xml: bytes) -> bytes:
        start = xml.index(b"<worksheet")
        return xml[:start] + b'<!DOCTYPE w [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]>' + xml[start:]

    with pytest.raises(FileError, match="entities"):
        workbook.cells(_replaced(plain, "xl/worksheets/sheet1.xml", nested))


@pytest.mark.parametrize(
    "spoil",
    [
        lambda data: data[:200],
        lambda data: data[: len(data) // 2],
        lambda data: _replaced(data, "xl/workbook.xml", lambda _: b"<workbook"),
        lambda data: _replaced(data, "xl/worksheets/sheet1.xml", lambda _: b"\x00\x01"),
        lambda data: _replaced(data, "xl/sharedStrings.xml", lambda xml: xml[:40]),
    ],
)
def test_a_damaged_workbook_is_refused_with_the_cure(plain, spoil):
    with pytest.raises(FileError, match="save"):
        workbook.cells(spoil(plain))


def test_another_packed_file_is_told_from_a_workbook():
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as other:
        other.writestr("mimetype", "application/x-other")
    with pytest.raises(FileError, match="no XLSX workbook"):
        workbook.cells(out.getvalue())


def test_columns_are_numbered_as_sheets_name_them():
    assert [column_number(c) for c in ("A", "Z", "AA", "XFD")] == [1, 26, 27, 16_384]
