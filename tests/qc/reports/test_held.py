"""What waits for a person, and what no longer does."""

from qc.ingest.held import decide
from qc.records import Asked
from qc.reports import held
from tests.qc.shopfloor import reading

AT = "2026-05-04T08:00"


def told(floor, **more):
    return held.answer(floor.store, Asked(), **more)


def test_nothing_waits_in_a_clean_shop(floor):
    floor.take([reading()])
    assert told(floor)["findings"] == []
    assert told(floor)["sentence"] == "Nothing waits."


def test_a_held_cell_is_shown_with_its_place_its_doubt_and_the_rows_it_keeps_back(floor):
    floor.take([reading(), reading(feature="cyl-2", value=40_000)], "may.csv", held=1)
    found = [f for f in told(floor)["findings"] if f["held_rows"]]
    assert len(found) == 1
    one = found[0]
    assert (one["severity"], one["file"], one["held_rows"], one["decided"]) == ("stop", "may.csv", 1, None)
    assert one["cells"] == [{"sheet": None, "row": 3, "column": "value", "text": "40000"}]
    assert all(one[name] for name in ("saw", "doubt", "proposal", "effect"))
    assert told(floor)["sentence"].startswith("1 row kept out of the figures")


def test_what_counts_meanwhile_is_not_told_as_kept_out(floor):
    floor.take([reading()])
    floor.take([reading("B2", machine="Hone-1")])  # is it hone-1? asked, and counted until then
    assert told(floor)["sentence"] == "1 question about cells that count meanwhile."
    floor.take([reading("B3", value=40_000)], held=1)
    assert told(floor)["sentence"] == (
        "1 row kept out of the figures until a person decides; 1 question about cells that count meanwhile."
    )


def test_notes_that_keep_nothing_back_are_shown_only_when_all_are_asked_for(floor):
    floor.take([reading()])  # a new machine, engine and gauge: notes
    assert told(floor)["findings"] == []
    assert {f["severity"] for f in told(floor, every=True)["findings"]} == {"note"}


def test_what_was_decided_waits_no_longer_but_is_remembered(floor):
    floor.take([reading(feature="cyl-2", value=40_000)], held=1)
    number = next(f["id"] for f in told(floor)["findings"] if f["held_rows"])
    decide(floor.store, number, "discard", "misread", "ann")
    assert number not in {f["id"] for f in told(floor)["findings"]}
    one = next(f for f in told(floor, every=True)["findings"] if f["id"] == number)
    assert (one["decided"]["decision"], one["decided"]["by"], one["decided"]["reason"]) == (
        "discard",
        "ann",
        "misread",
    )
    assert one["held_rows"] == 0


def test_as_of_before_the_decision_it_still_waits(floor):
    floor.take([reading(feature="cyl-2", value=40_000)], held=1)
    before = floor.store.revision()
    number = next(f["id"] for f in told(floor)["findings"] if f["held_rows"])
    decide(floor.store, number, "discard", "misread", "ann")
    then = held.answer(floor.store, Asked(as_of=before))["findings"]
    assert number in {f["id"] for f in then}


def test_filters_choose_the_findings_whose_rows_they_let_through(floor):
    floor.take([reading(feature="cyl-2", value=40_000)], held=1)
    floor.take([reading("B2", machine="hone-2", value=50_000)], held=1)
    assert len(held.answer(floor.store, Asked())["findings"]) == 2
    found = held.answer(floor.store, Asked(machine=("hone-2",)))["findings"]
    assert [c["text"] for f in found for c in f["cells"]] == ["50000"]
    assert held.answer(floor.store, Asked(build=("B9",)))["findings"] == []
