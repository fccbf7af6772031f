"""What changed since the shop was told last, and that only the series touched are judged again."""

import pytest

from qc.notify.after import Watch
from qc.reports import changes, judgements
from tests.qc.reports.textured import day, limits, texture
from tests.qc.shopfloor import block, event


@pytest.fixture
def shop(floor):
    """Two quiet hones, told of once."""
    floor.take(limits())
    floor.take([*texture(0, 24), *texture(0, 24, "hone-2", step=99)])
    changes.changed(floor.store, None, by="test")
    return floor


def taken(shop, *files):
    """What changed with some files."""
    watch = Watch(shop.store, by="test")
    for rows in files:
        shop.take(rows)
    found = watch.told()
    assert found["not_given"] == {}
    return found["changed"]


def test_nothing_new_changes_nothing(shop):
    assert taken(shop) == []


def test_a_condition_that_turned_is_told_with_the_new_matter(shop):
    rows = taken(shop, texture(24, 34))
    by_series = {r["series"].split("/")[2]: r for r in rows}
    assert set(by_series) == {"ra", "rk"}
    for row in rows:
        assert row["was"] == "steady"
        assert row["now"] in ("stepped", "drifting")
        assert row["matter"]["became"] == "new"
        assert f": steady -> {row['now']}; new matter hone-1-plateau-hone-wear-1b" in row["sentence"]
    assert changes.lines(rows) == [r["sentence"] for r in rows]


def test_what_was_told_is_not_told_again(shop):
    taken(shop, texture(24, 34))
    assert taken(shop, texture(34, 35)) == []


def test_a_new_matter_is_noted_once_so_that_its_name_stays(shop):
    taken(shop, texture(24, 34))
    taken(shop, texture(34, 35))
    noted = shop.store.records("matter")
    assert list(noted["act"]) == ["opened"]


def test_a_matter_ended_by_an_event_is_told_without_a_series_of_its_own(shop):
    taken(shop, texture(24, 34))
    (row,) = taken(shop, [event("stones_changed", day(34)[:10])])
    assert (row["series"], row["matter"]["became"]) == (None, "ended")
    assert "stones changed" in row["sentence"]


def test_files_of_a_first_day_are_counted_and_not_listed(floor):
    floor.take(limits())
    watch = Watch(floor.store, by="test")
    floor.take([*texture(0, 24), *texture(0, 3, "hone-2")])
    rows = watch.told()["changed"]
    assert len(rows) == 4
    assert changes.lines(rows) == [
        "series judged for the first time: 2 steady and 2 with too few blocks to say"
    ]


def test_a_shop_that_was_never_told_is_held_against_what_it_was_before_the_files(floor):
    floor.take(limits())
    floor.take(texture(0, 24))
    rows = taken(floor, texture(24, 34))
    assert {r["was"] for r in rows} == {"steady"}


def test_only_the_series_that_a_file_touches_are_judged_again(shop, monkeypatch):
    judged = []
    real = judgements.judge
    monkeypatch.setattr(
        judgements, "judge", lambda s, **more: judged.extend(o.key for o in s) or real(s, **more)
    )
    taken(shop, block("3B1", day(40), [0, 1, 2, 3], machine="hone-3"))
    assert {(key[0], key[2]) for key in judged} == {("hone-3", "bore_diameter")}


def test_many_files_are_judged_once_at_the_end(shop, monkeypatch):
    calls = []
    real = changes.judged
    monkeypatch.setattr(changes, "judged", lambda store: calls.append(1) or real(store))
    taken(shop, *(texture(i, i + 1) for i in range(24, 30)))
    assert len(calls) == 1


def test_what_a_person_says_costs_no_new_history(shop, monkeypatch):
    from qc.history import compose
    from qc.records import Asked
    from qc.reports import acts, conditions, drift

    before = drift.answer(shop.store, Asked())
    monkeypatch.setattr(compose, "_composed", lambda *_: pytest.fail("the history was made anew"))
    monkeypatch.setattr(conditions, "_judged", lambda *_: pytest.fail("the shop was judged anew"))
    about = {"characteristic": "ra", "machine": None, "operation": None}
    revision = acts.react(shop.store, about, does="dress", tells=None, remeasures=None, by="test")
    after = drift.answer(shop.store, Asked())
    assert after["revision"] == revision == before["revision"] + 1
    monkeypatch.undo()
    shop.take(block("3B1", day(40), [0, 1, 2, 3], machine="hone-3"))
    assert len(drift.answer(shop.store, Asked())["series"]) == len(before["series"]) + 1
