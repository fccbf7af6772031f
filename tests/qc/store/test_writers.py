"""Several programs at one store: real processes over both back ends."""

import multiprocessing
import threading
import time

import pytest

from qc.errors import StoreBusy
from qc.store import Store, database, upkeep
from tests.qc.store.given import batch, hold_on, open_new, reading, take, write_often

processes = multiprocessing.get_context("spawn")


@pytest.fixture
def place(new_place):
    told = new_place()
    Store.open(told, create=True).close()
    return told


def started(function, *arguments):
    process = processes.Process(target=function, args=arguments)
    process.start()
    return process


def ended(process):
    process.join(60)
    assert process.exitcode == 0


def test_two_programs_that_write_lose_nothing_and_leave_no_gap(place):
    together = processes.Barrier(2)
    both = [started(write_often, place, who, 12, together) for who in ("hone-1", "hone-2")]
    for process in both:
        ended(process)
    with Store.open(place) as store:
        assert store.revisions()["number"].tolist() == list(range(1, 25))
        assert store.series()["readings"].tolist() == [12, 12]
        assert [what for what, holds, _ in upkeep.check(store) if not holds] == []


def test_a_second_writer_waits_for_the_first(place):
    with Store.open(place) as store:
        with store.write(by="ann", command="ingest") as write:
            number = write.add_file(batch(), status="kept", kept=1, held=0, already_kept=0)
            write.add_readings(number, [reading()])
            other = started(write_often, place, "hone-7", 1)
            time.sleep(1.5)
            assert other.is_alive()
        ended(other)
        assert store.readings()["machine"].tolist() == ["hone-2", "hone-7"]
        assert store.readings()["revision"].tolist() == [1, 2]


def test_a_reader_does_not_wait_and_sees_nothing_unfinished(place):
    with Store.open(place) as store, Store.open(place) as other:
        with store.write(by="ann", command="ingest") as write:
            number = write.add_file(batch(), status="kept", kept=1, held=0, already_kept=0)
            write.add_readings(number, [reading()])
            assert other.readings().empty
            assert other.revision() == 0
        assert len(other.readings()) == 1


def test_a_writer_that_waits_too_long_is_told_so(place, monkeypatch):
    # the first has its turn from the beginning of its write, before it adds anything
    monkeypatch.setattr(database, "PATIENCE_MS", 300)
    with (
        Store.open(place) as store,
        Store.open(place) as other,
        store.write(by="ann", command="ingest") as write,
    ):
        with pytest.raises(StoreBusy, match="wait until it is done"):
            take(other, [reading()])
        write.set("zone", "UTC")
    with Store.open(place) as store:
        assert store.revisions()["command"].tolist() == ["ingest"]
        assert store.settings() == {"zone": "UTC"}


def test_a_writer_that_is_killed_leaves_nothing_and_frees_the_store(place):
    begun = processes.Event()
    process = started(hold_on, place, begun)
    assert begun.wait(60)
    process.kill()
    process.join(60)
    with Store.open(place) as store:
        assert store.revision() == 0
        assert store.files().empty
        take(store, [reading()])
        assert store.revision() == 1


def test_two_programs_may_make_the_store_at_once(new_place):
    place = new_place()
    both = [started(open_new, place) for _ in range(2)]
    for process in both:
        ended(process)
    with Store.open(place) as store:
        assert store.revision() == 0


def test_threads_share_a_store(place):
    with Store.open(place) as store:
        seen = []

        def ask():
            seen.append(len(store.readings()))

        take(store, [reading()])
        threads = [threading.Thread(target=ask) for _ in range(8)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join(60)
        assert seen == [1] * 8
