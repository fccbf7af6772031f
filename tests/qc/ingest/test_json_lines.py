"""JSON lines are read like any other readings file, numbers to the last digit."""

import json

import pytest

from qc.errors import FileError
from qc.ingest import json_lines
from qc.records import Asked


def lines(rows) -> str:
    return "".join(json.dumps(row) + "\n" for row in rows)


def test_readings_come_in_with_their_lines_as_rows(taken, bores, shop):
    result = taken("\ufeff\n" + lines(bores(3)), "bores.jsonl")
    assert (result.status, result.kept) == ("kept", 3)
    found = shop.readings(Asked())
    assert sorted(found["row"]) == [2, 3, 4]
    assert sorted(found["value"]) == [9_601_000_000, 9_601_100_000, 9_601_200_000]


def test_numbers_keep_every_digit_and_blanks_stay_blank():
    text = '{"a": 96.0100000000000000001, "b": 3, "c": null, "d": true}\n{"b": 1e-2, "e": "x"}\n'
    grid = json_lines.cells(text.encode("utf-8"))[0]
    assert grid.rows == (
        (0, ("a", "b", "c", "d", "e")), (1, ("96.0100000000000000001", "3", "", "TRUE", "")),
        (2, ("", "1e-2", "", "", "x")),
    )  # fmt: skip


def test_records_in_lines_come_before_the_readings_they_judge(shop, file, bore):
    from qc.ingest.run import ingest

    spec = {
        "build": "B-104",
        "characteristic": "bore_diameter",
        "reading": "size",
        "target": 96,
        "unit": "mm",
    }
    reading = bore(value=12, unit="um", reading="deviation")
    paths = [file(lines([reading]), "a.jsonl"), file(lines([spec]), "z.jsonl")]
    results = {r.file: r for r in ingest(shop, paths, by="test").files}
    assert (results["z.jsonl"].kept, results["a.jsonl"].kept) == (1, 1)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('{"a": 1}\n{"a": \n', "line 2 is no JSON object"),
        ('{"a": 1, "a": 2}\n', "a key stands in it twice"),
        ('{"a": [1, 2]}\n', "line 1 holds a list"),
        ('{"a": NaN}\n', "NaN is no number"),
        ('{"a": 1}\n[2]\n', "line 2 is JSON but no object"),
        ('{"a": ' * 100_000, "no JSON object"),
    ],
)
def test_what_is_no_json_line_is_refused_with_its_line(text, words):
    with pytest.raises(FileError, match=words):
        json_lines.cells(text.encode("utf-8"))
