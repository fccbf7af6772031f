"""A decision taken back leaves the figures as they were and the doubt open."""

import pytest

from qc.errors import QuestionError
from qc.ingest.held import decide, undo
from qc.store import upkeep
from tests.qc.shopfloor import Shop, reading


@pytest.fixture
def floor(store, tmp_path):
    return Shop(store, tmp_path)


def counting(store):
    frame = store.readings()
    return sorted(zip(frame["feature"], frame["value"], frame["machine"], strict=True))


def waiting(store):
    held = store.held()
    return sorted(zip(held["row"], held["fields"].map(lambda f: f["value"]), strict=True))


def sound(store):
    assert [what for what, holds, _ in upkeep.check(store) if not holds] == []


def slip(floor):
    """A bore of which one row was typed in inches."""
    rows = [reading("B1", f"cyl-{n}", f"96.00{n}", reading="size", unit="mm") for n in range(1, 9)]
    rows[3]["value"] = "3.7797"
    floor.take(rows, held=1)
    return int(floor.store.held()["finding_id"].iloc[0])


@pytest.mark.parametrize("decision", ["accept", "correct", "discard"])
def test_a_decision_taken_back_leaves_all_as_it_was(floor, decision):
    number = slip(floor)
    before = counting(floor.store), waiting(floor.store)
    decide(floor.store, number, decision, "so be it", "ann", "96.004" if decision == "correct" else None)
    assert (counting(floor.store), waiting(floor.store)) != before
    done = undo(floor.store, number, "the wrong sheet", "bea")
    assert (counting(floor.store), waiting(floor.store)) == before
    assert done.void == (decision != "discard")
    sound(floor.store)
    again = int(floor.store.held()["finding_id"].iloc[0])
    assert (again,) == done.findings
    decide(floor.store, again, "correct", "in inches", "ann", "96.004")
    assert ("cyl-4", 9_600_400_000, "hone-1") in counting(floor.store)
    sound(floor.store)


def test_a_doubt_taken_back_tells_who_decided_and_who_took_it_back_under_its_new_number(floor):
    first = slip(floor)
    decide(floor.store, first, "discard", "no such bore", "ann")
    (second,) = undo(floor.store, first, "the wrong sheet", "bea").findings
    before = floor.store.revision()
    decide(floor.store, second, "accept", "so be it", "cyd")
    (third,) = undo(floor.store, second, "in inches", "dee").findings
    found = floor.store.findings(open_only=False).set_index("id")
    told = [(s["by"], s["decision"], s["reason"], s["finding"]) for s in found["history"][third]]
    assert told == [("ann", "discard", "no such bore", first), ("bea", "undo", "the wrong sheet", first),
                    ("cyd", "accept", "so be it", second), ("dee", "undo", "in inches", second)]  # fmt: skip
    assert (found["again"][first], found["again"][second], found["again"][third]) == (
        (second,), (third,), None
    )  # fmt: skip
    then = floor.store.findings(open_only=False, as_of=before).set_index("id")
    assert (then["again"][first], then["again"][second]) == ((second,), None)
    assert [s["by"] for s in then["history"][second]] == ["ann", "bea"]
    assert floor.store.findings(open_only=False, as_of=before - 1)["history"].map(len).sum() == 0


def test_the_reading_that_a_decision_replaced_counts_again(floor):
    floor.take([reading("B1", "cyl-1", 3)])
    floor.take([reading("B1", "cyl-1", 5)], held=1)
    before = counting(floor.store), waiting(floor.store)
    number = int(floor.store.held()["finding_id"].iloc[0])
    decide(floor.store, number, "accept", "read again", "ann")
    assert [v for _, v, _ in counting(floor.store)] == [9_600_500_000]
    done = undo(floor.store, number, "it was the other bore", "ann")
    assert (done.void, done.back) == (1, 1)
    assert (counting(floor.store), waiting(floor.store)) == before
    sound(floor.store)


def test_a_name_put_right_is_put_back(floor):
    floor.take([reading("B1", f"cyl-{n}", n) for n in range(1, 5)])
    floor.take([reading("B2", "cyl-1", 2, machine="hone1")])
    before = counting(floor.store)
    names = floor.store.findings()
    number = int(names[names["code"] == "new_name"]["id"].iloc[-1])
    decide(floor.store, number, "correct", "a slip", "ann", "hone-1")
    assert {m for _, _, m in counting(floor.store)} == {"hone-1"}
    undo(floor.store, number, "it is another machine", "ann")
    assert counting(floor.store) == before
    sound(floor.store)


def test_what_was_changed_since_has_to_be_taken_back_first(floor):
    number = slip(floor)
    decide(floor.store, number, "correct", "inches", "ann", "96.004")
    one = floor.store.readings()
    one = one[one["feature"] == "cyl-4"]["id"].iloc[0]
    with floor.store.write(by="ann", command="void") as write:
        write.void(one, "slipped")
    with pytest.raises(QuestionError, match="changed in revision"):
        undo(floor.store, number, "no", "ann")


def test_what_nobody_decided_cannot_be_taken_back(floor):
    number = slip(floor)
    with pytest.raises(QuestionError, match="nothing to take back"):
        undo(floor.store, number, "x", "ann")
    with pytest.raises(QuestionError, match="no finding 99"):
        undo(floor.store, 99, "x", "ann")
    with pytest.raises(QuestionError, match="needs a reason"):
        undo(floor.store, number, "  ", "ann")


def test_the_order_of_dates_said_by_a_decision_is_unsaid(floor):
    floor.take([reading("B1", "cyl-1", 1, measured_at="03/04/2026")], held=1)
    number = int(floor.store.held()["finding_id"].iloc[0])
    decide(floor.store, number, "accept", "day first", "ann")
    assert floor.store.settings()["date_order"] == "day_first"
    undo(floor.store, number, "no", "ann")
    assert floor.store.settings().get("date_order") is None
    assert len(floor.store.held()) == 1
    sound(floor.store)


def test_a_decision_is_taken_back_once_only(floor):
    number = slip(floor)
    decide(floor.store, number, "discard", "not ours", "ann")
    undo(floor.store, number, "it is", "bea")
    before = counting(floor.store), waiting(floor.store), floor.store.revision()
    with pytest.raises(QuestionError, match="taken back in revision .* already"):
        undo(floor.store, number, "it is", "bea")
    assert (counting(floor.store), waiting(floor.store), floor.store.revision()) == before


def test_decisions_that_follow_one_another_are_taken_back_from_the_last_to_the_first(floor):
    floor.take([reading("B1", "cyl-1", "96.003", reading="size", unit="mm")])
    floor.take([reading("B1", "cyl-1", "96.OO5", reading="size", unit="mm")], held=1)
    first = counting(floor.store), waiting(floor.store)
    letters = int(floor.store.held()["finding_id"].iloc[0])
    done = decide(floor.store, letters, "correct", "letters for noughts", "ann", "96.005")
    assert (done.kept, done.held) == (0, 1)  # it reads otherwise than what counts
    second = counting(floor.store), waiting(floor.store)
    otherwise = int(floor.store.held()["finding_id"].iloc[0])
    decide(floor.store, otherwise, "accept", "read again", "ann")
    assert [v for _, v, _ in counting(floor.store)] == [9_600_500_000]
    undo(floor.store, otherwise, "no", "bea")
    assert (counting(floor.store), waiting(floor.store)) == second
    undo(floor.store, letters, "no", "bea")
    assert (counting(floor.store), waiting(floor.store)) == first
    sound(floor.store)


def test_what_taking_back_settled_is_not_itself_taken_back(floor):
    floor.take([reading("B1", "cyl-1", "96.003", reading="size", unit="mm")])
    floor.take([reading("B1", "cyl-1", "96.OO5", reading="size", unit="mm")], held=1)
    letters = int(floor.store.held()["finding_id"].iloc[0])
    decide(floor.store, letters, "correct", "letters for noughts", "ann", "96.005")
    otherwise = int(floor.store.held()["finding_id"].iloc[0])
    undo(floor.store, letters, "no", "bea")
    with pytest.raises(QuestionError, match="settled by taking another decision back"):
        undo(floor.store, otherwise, "no", "bea")


def test_a_decision_about_one_row_is_taken_back_while_others_wait(floor):
    rows = [reading("B1", f"cyl-{n}", f"96.00{n}", reading="size", unit="mm") for n in range(1, 9)]
    rows[3]["value"], rows[4]["value"] = "96.OO4", "96.OO5"
    floor.take(rows, held=2)
    before = counting(floor.store), waiting(floor.store)
    number = int(floor.store.held()["finding_id"].iloc[0])
    decide(floor.store, number, "correct", "a slip", "ann", {"5:value": "96.004"})
    then = counting(floor.store), waiting(floor.store)
    decide(floor.store, number, "correct", "a slip", "ann", {"6:value": "96.005"})
    undo(floor.store, number, "no", "bea")
    assert (counting(floor.store), waiting(floor.store)) == then
    undo(floor.store, number, "no", "bea")
    assert (counting(floor.store), waiting(floor.store)) == before
    with pytest.raises(QuestionError, match="already"):
        undo(floor.store, number, "no", "bea")
    sound(floor.store)
