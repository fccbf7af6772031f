"""Readings that count, marked by a doubt, made void or put right by a decision."""

import pytest

from qc.errors import InputError, QuestionError
from qc.ingest import held
from qc.records import Cell, Finding
from tests.qc.shopfloor import Shop, reading


@pytest.fixture
def floor(sqlite_store, tmp_path):
    return Shop(sqlite_store, tmp_path)


def asked_about(floor, rows, code="stands_out", count=0):
    """Four bores taken in, and a question about some of their cells."""
    sizes = ("96.001", "96.002", "96.009", "96.001")
    floor.take([reading("B1", f"cyl-{n + 1}", v, reading="size", unit="mm") for n, v in enumerate(sizes)])
    cells = tuple(Cell(row, "value", sizes[row - 2]) for row in rows)
    with floor.store.write(by="test", command="doubt") as write:
        file_id = int(floor.store.files()["file_id"].iloc[-1])
        doubt = Finding("ask", code, cells, "saw", "doubt", "proposal", "effect", count)
        (number,) = write.add_findings(file_id, [doubt])
    return number


def sizes(floor):
    frame = floor.store.readings()
    return dict(zip(frame["feature"], frame["value"] / 1e8, strict=True))


def test_a_discarded_question_makes_its_readings_void(floor):
    number = asked_about(floor, (4,))
    held.decide(floor.store, number, "discard", "a chip under the anvil", "ann")
    assert sizes(floor) == {"cyl-1": 96.001, "cyl-2": 96.002, "cyl-4": 96.001}
    held.undo(floor.store, number, "it was clean", "ann")
    assert sizes(floor)["cyl-3"] == 96.009


def test_a_corrected_cell_counts_as_it_should_read(floor):
    number = asked_about(floor, (4,))
    assert held.decide(floor.store, number, "correct", "misread", "ann", "96.003").kept == 1
    assert sizes(floor)["cyl-3"] == 96.003
    ids = floor.store.readings()
    assert ids[ids["feature"] == "cyl-3"]["id"].iloc[0].endswith(":4:value/2")
    assert ids[ids["feature"] == "cyl-3"]["text"].iloc[0] == "96.009"


def test_single_cells_are_corrected_by_their_row(floor):
    number = asked_about(floor, (3, 4))
    held.decide(floor.store, number, "correct", "misread", "ann", {"3:value": "96.005"})
    assert sizes(floor)["cyl-2"] == 96.005
    assert sizes(floor)["cyl-3"] == 96.009


@pytest.mark.parametrize(("correction", "kind", "why"), [
    (None, QuestionError, "no proposal"),
    ("about 96", InputError, "cannot be read either"),
    ({"9:value": "96.003"}, QuestionError, "none of these cells"),
])  # fmt: skip
def test_a_correction_that_says_nothing_changes_nothing(floor, correction, kind, why):
    number = asked_about(floor, (4,))
    before = sizes(floor), floor.store.revision()
    with pytest.raises(kind, match=why):
        held.decide(floor.store, number, "correct", "misread", "ann", correction)
    assert (sizes(floor), floor.store.revision()) == before


def test_a_question_about_limits_or_with_unlisted_cells_is_not_about_readings(floor):
    number = asked_about(floor, (4,), code="other_limits")
    with pytest.raises(QuestionError, match="about limits"):
        held.decide(floor.store, number, "discard", "x", "ann")


def test_more_cells_than_are_listed_are_not_voided_by_halves(floor):
    number = asked_about(floor, (4,), count=300)
    with pytest.raises(QuestionError, match="names 300 cells and lists 1"):
        held.decide(floor.store, number, "discard", "x", "ann")
