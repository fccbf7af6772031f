"""Dated backups: once a day before the first write, before a migration, the last of them kept."""

import sqlite3
from datetime import date, timedelta
from pathlib import Path

import pytest

from qc.errors import StoreError
from qc.store import Store, dated, tables, upkeep
from tests.qc.store.given import fill, reading, take

DAY = date(2026, 11, 25)
SAMPLES = Path(__file__).parents[2] / "store_samples"


@pytest.fixture(autouse=True)
def _folder(monkeypatch, tmp_path):
    monkeypatch.setenv(dated.FOLDER, str(tmp_path / "kept"))


def names(tmp_path):
    return sorted(p.name for p in (tmp_path / "kept").glob("*"))


def every_row(store):
    with store.database.reading() as connection:
        return {
            table.name: sorted(repr(tuple(row)) for row in connection.execute(table.select()))
            for table in tables.metadata.sorted_tables
        }


def test_the_first_write_of_a_day_is_preceded_by_a_backup_of_what_was_there(store, tmp_path):
    fill(store)
    before = every_row(store)
    store.before_write = dated.Daily(pytest.fail, lambda: DAY)
    take(store, [reading(40)], "later.csv")
    take(store, [reading(41)], "last.csv")
    (made,) = (tmp_path / "kept").iterdir()
    assert made.name.endswith("-2026-11-25.db")
    with Store.open(made) as backup:
        assert every_row(backup) == before != every_row(store)
        assert [what for what, holds, _ in upkeep.check(backup) if not holds] == []


def test_the_next_day_makes_another_and_the_last_fourteen_stay(store, tmp_path):
    fill(store)
    days = [DAY + timedelta(days=n) for n in range(17)]
    clock = iter(days)
    store.before_write = dated.Daily(pytest.fail, lambda: next(clock))
    (tmp_path / "kept").mkdir()
    other = tmp_path / "kept" / "notes-2020-01-01.txt"
    other.write_text("not ours", encoding="utf-8")
    for row in range(17):
        take(store, [reading(40 + row)], f"{row}.csv")
    other.unlink()
    assert [name[-13:-3] for name in names(tmp_path)] == [d.isoformat() for d in days[-14:]]


def test_an_empty_store_needs_none(store, tmp_path):
    store.before_write = dated.Daily(pytest.fail, lambda: DAY)
    take(store, [reading()])
    assert names(tmp_path) == []


def test_a_backup_that_cannot_be_written_does_not_stop_the_work(store, tmp_path):
    fill(store)
    (tmp_path / "kept").write_text("a file stands in the way", encoding="utf-8")
    told = []
    store.before_write = dated.Daily(told.append, lambda: DAY)
    take(store, [reading(40)], "later.csv")
    assert len(store.readings()) == 6
    assert len(told) == 1
    assert dated.FOLDER in told[0]


def older(sample, tmp_path):
    place = tmp_path / "old.db"
    with sqlite3.connect(place) as old:
        old.executescript(sample.read_text(encoding="utf-8"))
    old.close()
    return place


@pytest.mark.parametrize("number", range(1, tables.SCHEMA))
def test_an_older_store_is_backed_up_as_it_stands_before_it_is_brought_up_to_date(number, tmp_path):
    place = older(SAMPLES / f"schema-{number}.sql", tmp_path)
    Store.open(place).close()
    (name,) = names(tmp_path)
    assert name.startswith("old-")
    assert name.endswith(f"-{dated.today().isoformat()}-schema-{number}.db")
    with sqlite3.connect(tmp_path / "kept" / name) as backup:
        told = backup.execute("SELECT value FROM meta WHERE name = 'schema'").fetchall()
    backup.close()
    assert told == [(str(number),)]
    with Store.open(tmp_path / "kept" / name) as restored:
        assert len(restored.readings()) == 5


def test_without_room_for_the_backup_nothing_is_brought_up_to_date(tmp_path):
    place = older(SAMPLES / "schema-1.sql", tmp_path)
    (tmp_path / "kept").write_text("a file stands in the way", encoding="utf-8")
    with pytest.raises(StoreError, match=dated.FOLDER):
        Store.open(place)
    with sqlite3.connect(place) as still:
        assert still.execute("SELECT value FROM meta WHERE name = 'schema'").fetchall() == [("1",)]
    still.close()


def test_a_servers_store_of_an_older_schema_is_backed_up_too(new_place, tmp_path):
    place = new_place()
    with Store.open(place, create=True) as store:
        fill(store)
        if store.database.path is not None:
            pytest.skip("a store in a file has its samples above")
        with store.database.writing() as connection:
            for kind in tables.SINCE_3:
                connection.exec_driver_sql(f"DROP TABLE {kind}")
            connection.execute(tables.meta.update().where(tables.meta.c.name == "schema").values(value="2"))
    with Store.open(place) as store:
        assert len(store.readings()) == 5
        assert store.records("choice").empty
    (name,) = names(tmp_path)
    with Store.open(tmp_path / "kept" / name) as restored:
        assert len(restored.readings()) == 5


def test_two_stores_of_one_name_do_not_share_their_backups(tmp_path):
    for folder in ("a", "b"):
        (tmp_path / folder).mkdir()
        with Store.open(tmp_path / folder / "shop.db", create=True) as store:
            fill(store)
            assert dated.backup_of(store, DAY) is not None
            assert dated.backup_of(store, DAY) is None
    assert len(names(tmp_path)) == 2


def test_the_folder_stands_beside_the_stores_file(monkeypatch, tmp_path):
    monkeypatch.delenv(dated.FOLDER)
    with Store.open(tmp_path / "shop.db", create=True) as store:
        assert dated.folder(store.database) == tmp_path / "shop-backups"
