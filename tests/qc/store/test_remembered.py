"""Numbers of series and positions are handed from write to write, and never when they could be another's."""

import pytest

from qc.store import Store
from tests.qc.store.given import batch, reading, take


def _places(store: Store) -> list[tuple]:
    frame = store.readings()
    return sorted(zip(frame["machine"], frame["feature"], frame["row"], strict=True))


def _spoilt(store: Store) -> None:
    with store.write(by="bea", command="ingest") as write:
        number = write.add_file(batch("b.csv"), status="kept", kept=1, held=0, already_kept=0)
        write.add_readings(number, [reading(3, name="b.csv", machine="bar-9", feature="cyl-33")])
        raise ZeroDivisionError


def test_a_write_that_failed_leaves_no_number_behind(store):
    take(store, [reading(2)], "a.csv")
    with pytest.raises(ZeroDivisionError):
        _spoilt(store)
    take(store, [reading(4, name="c.csv", machine="bar-1", feature="cyl-44")], "c.csv")
    take(store, [reading(5, name="d.csv", machine="bar-9", feature="cyl-33")], "d.csv")
    assert _places(store) == [("bar-1", "cyl-44", 4), ("bar-9", "cyl-33", 5), ("hone-2", "cyl-1", 2)]


def test_another_programs_writes_are_seen(new_place):
    place = new_place()
    with Store.open(place, create=True) as one, Store.open(place) as other:
        take(one, [reading(2)], "a.csv")
        take(other, [reading(3, name="b.csv", machine="bar-1", feature="cyl-33")], "b.csv")
        take(one, [reading(4, name="c.csv", machine="bar-2", feature="cyl-44")], "c.csv")
        take(other, [reading(5, name="d.csv", machine="bar-2", feature="cyl-44", made_at=1)], "d.csv")
        take(one, [reading(6, name="e.csv", machine="bar-1", feature="cyl-33", made_at=1)], "e.csv")
        assert _places(one) == [
            ("bar-1", "cyl-33", 3), ("bar-1", "cyl-33", 6), ("bar-2", "cyl-44", 4), ("bar-2", "cyl-44", 5),
            ("hone-2", "cyl-1", 2),
        ]  # fmt: skip


def test_a_write_that_adds_nothing_hands_on_what_it_was_handed(store):
    take(store, [reading(2)], "a.csv")
    with store.write(by="bea", command="look"):
        pass
    take(store, [reading(3, name="b.csv", machine="bar-1")], "b.csv")
    assert _places(store) == [("bar-1", "cyl-2", 3), ("hone-2", "cyl-1", 2)]
