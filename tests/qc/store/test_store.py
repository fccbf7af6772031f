"""Opening, revisions and what an as-of text means, in both back ends."""

import pytest

from qc.errors import QuestionError, StoreError, StoreMissing
from qc.store import Store
from tests.qc.store.given import batch, reading, sha, take


def test_a_store_that_is_not_there_is_not_made_by_looking(new_place):
    place = new_place()
    with pytest.raises(StoreMissing, match="qc ingest"):
        Store.open(place)
    with pytest.raises(StoreMissing):
        Store.open(place)


def test_what_was_written_is_there_when_opened_again(new_place):
    place = new_place()
    with Store.open(place, create=True) as store:
        ids = take(store, [reading(2), reading(3)])
    with Store.open(place, create=True) as store:
        assert list(store.readings()["id"]) == ids


def test_a_revision_is_numbered_and_says_who_and_why(store):
    take(store, [reading(2)])
    with store.write(by="bea", command="void", reason="slipped") as write:
        assert write.revision == 2
        write.void(store.readings()["id"][0], "slipped")
    told = store.revisions()
    assert list(told["number"]) == [1, 2]
    assert list(told["by"]) == ["ann", "bea"]
    assert told["reason"].isna().tolist() == [True, False]
    assert told["at"].is_monotonic_increasing


def test_a_write_that_adds_nothing_leaves_no_revision(store):
    with store.write(by="ann", command="ingest") as write:
        assert write.add_readings(1, []) == []
        write.set("zone", None)
    assert store.revision() == 0


def test_a_write_that_fails_leaves_nothing(store):
    take(store, [reading(2)])

    def fail():
        with store.write(by="ann", command="ingest") as write:
            number = write.add_file(batch("b.csv"), status="kept", kept=1, held=0, already_kept=0)
            write.add_readings(number, [reading(2, name="b.csv", machine="hone-3")])
            write.set("zone", "UTC")
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fail()
    assert store.revision() == 1
    assert list(store.series()["machine"]) == ["hone-2"]
    assert store.settings() == {}
    assert len(store.files()) == 1
    assert take(store, [reading(2, name="b.csv", machine="hone-3")], "b.csv")


def test_a_file_is_taken_in_once_and_its_content_kept(store):
    take(store, [reading(2)])
    assert store.file_content(sha("a.csv")) == b"a.csv"
    with store.write(by="ann", command="ingest") as write:
        told = write.file(sha("a.csv"))
        assert (told["file_id"], told["kept"], told["status"]) == (1, 1, "kept")
        assert write.file(sha("b.csv")) is None
    with pytest.raises(StoreError, match="already, as a.csv"):
        take(store, [reading(3)])
    with pytest.raises(QuestionError, match="no file"):
        store.file_content(sha("b.csv"))


def test_as_of_takes_a_number_or_a_time(store):
    take(store, [reading(2)])
    take(store, [reading(2, name="b.csv", build="K-18")], "b.csv")
    assert [store.revision("1"), store.revision(2), store.revision(" 0 ")] == [1, 2, 0]
    assert store.revision("2001-01-01") == 0
    assert store.revision("2999-12-31") == 2
    assert store.revision("2999-12-31T10:00+01:00") == 2
    at = int(store.revisions()["at"][0])
    exact = (
        f"{__import__('datetime').datetime.fromtimestamp(at / 1e6, __import__('datetime').UTC).isoformat()}"
    )
    assert store.revision(exact) in (1, 2)
    with pytest.raises(QuestionError, match="newest is 2"):
        store.revision(3)
    with pytest.raises(QuestionError, match="no revision"):
        store.revision("yesterday")


def test_a_date_alone_is_the_end_of_that_day_in_the_shops_zone(store, monkeypatch):
    # 2026-05-31T23:30 in Auckland (UTC+12 in May) is 11:30 UTC of the same day.
    monkeypatch.setattr("time.time_ns", lambda: 1_780_227_000_000_000_000)
    with store.write(by="bea", command="shop") as write:
        write.set("zone", "Pacific/Auckland")
    assert store.revision("2026-05-30") == 0
    assert store.revision("2026-05-31") == 1
    assert store.revision("2026-05-31T23:29") == 0
    assert store.revision("2026-05-31T23:30") == 1


def test_a_clock_set_back_does_not_turn_revisions_round(store, monkeypatch):
    take(store, [reading(2)])
    monkeypatch.setattr("time.time_ns", lambda: 0)
    with store.write(by="bea", command="shop") as write:
        write.set("zone", "UTC")
    assert store.revisions()["at"].is_monotonic_increasing
