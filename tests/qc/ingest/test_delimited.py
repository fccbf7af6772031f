import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.errors import FileError
from qc.ingest import delimited

HEADER = "build,machine,operation,characteristic,feature,value,unit,measured_at\n"


@pytest.mark.parametrize(
    "encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252", "utf-32"]
)
def test_one_text_is_read_alike_in_every_encoding(encoding):
    rows = ["B-1,hone-1,hone,ra,cyl-1,0.5,\N{MICRO SIGN}m,2026-04-03", "B-2,S\xfcd,x"]
    text = HEADER + "\n".join(rows) + "\n"
    assert delimited.cells(text.encode(encoding)) == delimited.cells(text.encode("utf-8"))


@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
def test_the_separator_is_told_by_the_header(separator):
    text = HEADER.replace(",", separator) + separator.join(
        ["B-1", "a", "b", "c", "cyl-1", "96.012", "mm", "2026-04-03"]
    )
    (grid,) = delimited.cells(text.encode())
    assert [len(row) for _, row in grid.rows] == [8, 8]


def test_decimal_commas_do_not_make_the_comma_a_separator():
    rows = "B-1;a;b;c;cyl-1;96,012;mm;2026-04-03;96,010;95,990;96,020;20,5;21,5;1,5\n" * 3
    header = HEADER.strip().replace(",", ";") + ";target;lower;upper;part_c;gauge_c;note\n"
    (grid,) = delimited.cells((header + rows).encode())
    assert grid.rows[1][1][5] == "96,012"


def test_line_numbers_are_the_files_own_across_quoted_line_breaks_and_blank_lines():
    text = 'a,b\n"one\ntwo",2\n\n\n3,4\r\n"5","six ""inch"""\n'
    (grid,) = delimited.cells(text.encode())
    assert grid.rows == ((1, ("a", "b")), (2, ("one\ntwo", "2")), (6, ("3", "4")), (7, ("5", 'six "inch"')))


def test_a_line_that_names_the_separator_is_obeyed_and_not_read():
    (grid,) = delimited.cells(b"sep=;\na;b\n1,5;2\n")
    assert grid.rows == ((2, ("a", "b")), (3, ("1,5", "2")))


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b'a,b\n"1,2\n3,4\n', "line 2 .*quote"),
        (b"a,b\n" + b"\x00\x00\x07" * 50, "NUL"),
        ((",".join(["x"] * 10_000) + "\n").encode(), "10000 columns; at most 500"),
        (b"a,b\n" + b"y" * 20_000 + b",1\n", "20000 characters"),
        (b"a,b\n\x81\x8d,\xff\n", "no text we can read"),
    ],
)
def test_what_is_no_plain_table_is_refused_in_one_sentence(data, words):
    with pytest.raises(FileError, match=words):
        delimited.cells(data)


@pytest.mark.parametrize(
    "head", [b"%PDF-1.7", b"\x89PNG\r\n", b"PK\x03\x04abc", b"\xd0\xcf\x11\xe0", bytes(range(32)) * 9]
)
def test_other_files_are_not_claimed(head):
    assert not delimited.claims(head, "bores.csv")


@given(st.binary(max_size=400))
def test_any_bytes_are_read_or_refused_and_nothing_else(data):
    try:
        grids = delimited.cells(data)
    except FileError:
        return
    assert all(isinstance(cell, str) for grid in grids for _, row in grid.rows for cell in row)


CELL = st.text(
    st.characters(codec="utf-8", exclude_characters="\x00\r\n", exclude_categories=["Cc", "Cs"]), max_size=12
)


@given(st.lists(st.tuples(CELL, CELL, CELL), min_size=1, max_size=8), st.sampled_from(",;\t|"))
def test_cells_written_by_the_standard_library_come_back_unchanged(rows, separator):
    import csv
    import io

    text = io.StringIO()
    writer = csv.writer(text, delimiter=separator)
    writer.writerow(["build", "machine", "value"])
    writer.writerows(rows)
    (grid,) = delimited.cells(text.getvalue().encode())
    assert [row for _, row in grid.rows[1:]] == [row for row in rows if any(c.strip() for c in row)]
