"""Before and after of a doubt: sizes, verdicts and the file around it, worked by hand."""

import pytest

from qc.errors import QuestionError
from qc.ingest.held import decide
from qc.records import Asked
from qc.reports import held_effect
from tests.qc.shopfloor import reading, window


def doubted(floor):
    floor.take([window(-10, 10)])
    rows = [reading("B1", f"cyl-{n}", f"96.00{n}", reading="size", unit="mm") for n in range(1, 9)]
    rows[3]["value"] = "3.7797"
    floor.take(rows, "K-1.csv", held=1)
    return int(floor.store.held()["finding_id"].iloc[0])


def told(floor, number):
    return held_effect.answer(floor.store, number, Asked())


def test_a_cell_in_inches_is_shown_before_and_after_with_both_verdicts(floor):
    document = told(floor, doubted(floor))
    (one,) = document["findings"][0]["before_after"]
    assert (one["row"], one["column"], one["text"], one["about"]) == (5, "value", "3.7797", "B1 cyl-4")
    assert one["as_written"]["value"] == pytest.approx(3.7797)
    assert one["as_written"]["verdict"] == "does_not_conform"
    # 3.7797 in = 96.00438 mm, 4.38 um above the target of 96 mm
    assert one["as_proposed"]["value"] == pytest.approx(96.00438)
    assert one["as_proposed"]["deviation"] == pytest.approx(4.38)
    assert one["as_proposed"]["verdict"] == "conforms"
    assert document["findings"][0]["verdicts"] == {
        "as_written": {"does_not_conform": 1}, "as_proposed": {"conforms": 1},
    }  # fmt: skip
    assert document["sentence"].startswith("As written 1 ")


def test_warm_bores_are_judged_at_20_degrees_as_their_series_is_where_the_metal_is_known(floor):
    floor.take([window(-10, 10)])
    rows = [
        reading("B1", f"cyl-{n}", "96.010", reading="size", unit="mm", part_c="30", material="grey iron")
        for n in range(1, 9)
    ]
    rows[3]["value"] = rows[5]["value"] = "3.7800"  # in = 96.012 mm
    rows[5]["material"] = ""
    floor.take(rows, "K-1.csv", held=2)
    document = told(floor, int(floor.store.held()["finding_id"].iloc[0]))
    known, unknown = (one["as_proposed"] for one in document["findings"][0]["before_after"])
    # grey iron, 11.4e-6/K: 96.012 mm less 10 K x 11.4e-6 x 96012 um = 10.945 um, 1.055 um above the target
    assert known["value"] == pytest.approx(96.012)
    assert known["value_20"] == pytest.approx(96.001054632, abs=1e-8)
    assert known["deviation"] == pytest.approx(1.05463, abs=1e-5)
    assert (known["verdict"], known["not_at_20"]) == ("conforms", None)
    assert (unknown["value_20"], unknown["verdict"]) == (None, "does_not_conform")
    assert "Sizes are judged at 20 degC" in document["sentence"]
    assert "judged as read where the part's material is not said" in document["sentence"]


def test_the_file_around_the_cell_is_shown_and_the_cell_marked(floor):
    grid = told(floor, doubted(floor))["findings"][0]["grid"]
    marked = [(row["row"], cell["text"]) for row in grid["rows"] for cell in row["cells"] if cell["doubted"]]
    assert marked == [(5, "3.7797")]
    assert [row["row"] for row in grid["rows"]] == [1, 2, 3, 4, 5, 6, 7, 8, 9]
    assert [cell["text"] for cell in grid["rows"][0]["cells"]][:7] == [
        "machine", "operation", "characteristic", "feature", "state", "reading", "value",
    ]  # fmt: skip


def test_without_limits_no_verdict_is_told(floor):
    floor.take([reading("B1", "cyl-1", "9600.1", reading="size", unit="mm")], held=1)
    number = int(floor.store.held()["finding_id"].iloc[0])
    (one,) = told(floor, number)["findings"][0]["before_after"]
    assert one["as_written"]["verdict"] is None


def test_a_row_that_cannot_be_read_says_so(floor):
    floor.take([reading("B1", "cyl-1", "see note")], held=1)
    number = int(floor.store.held()["finding_id"].iloc[0])
    document = told(floor, number)
    assert document["findings"][0]["before_after"][0]["as_written"]["value"] is None
    assert "cannot be read" in document["sentence"]


def test_a_decided_doubt_changes_nothing_any_more(floor):
    number = doubted(floor)
    decide(floor.store, number, "correct", "inches", "ann")
    document = told(floor, number)
    assert document["findings"][0]["before_after"] == []
    assert document["findings"][0]["decided"]["by"] == "ann"


def test_an_unknown_doubt_is_refused(floor):
    with pytest.raises(QuestionError, match="no doubt has the number 9"):
        told(floor, 9)
