"""One shop in both back ends: the same numbers, ids and answers."""

import pytest

from qc.store import Store
from tests.qc.store.given import NOON, fill, reading, seen, take


@pytest.mark.postgresql
def test_both_back_ends_give_the_same_ids_and_answers(sqlite_place, postgresql_place, monkeypatch):
    answers = []
    for place in (sqlite_place(), postgresql_place()):
        ticking = iter(range(NOON * 1000, NOON * 1000 + 10**9, 10**6))
        monkeypatch.setattr("time.time_ns", lambda ticking=ticking: next(ticking))
        with Store.open(place, create=True) as store:
            ids = fill(store)
            names = ("Öl", "ol", "O'l", "OL", "o-l", "10", "9", "Zoë")
            late = [
                reading(n + 2, name="c.csv", machine=m, build=m, part_c=n / 3) for n, m in enumerate(names)
            ]
            ids += take(store, late, "c.csv")
            answers.append((ids, [seen(store, n) for n in range(6)], store.files(), store.revisions()))
    (ids, shown, files, revisions), other = answers
    assert ids == other[0]
    assert files.equals(other[2])
    assert revisions.equals(other[3])
    for mine, theirs in zip(shown, other[1], strict=True):
        for left, right in zip(mine, theirs, strict=True):
            assert left.equals(right)
