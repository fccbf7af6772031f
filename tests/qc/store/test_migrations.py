import sqlite3
from pathlib import Path

import pytest

from qc.errors import StoreError
from qc.store import Store, migrations, tables, upkeep
from tests.qc.store.given import fill, reading, take

SAMPLES = Path(__file__).parents[2] / "store_samples"


def set_schema(store, text):
    with store.database.writing() as connection:
        connection.execute(tables.meta.update().where(tables.meta.c.name == "schema").values(value=text))


def test_a_store_of_a_newer_version_is_refused(new_place):
    place = new_place()
    with Store.open(place, create=True) as store:
        set_schema(store, str(tables.SCHEMA + 1))
    with pytest.raises(StoreError, match="newer version: update qc"):
        Store.open(place)
    with pytest.raises(StoreError, match="newer version: update qc"):
        Store.open(place, create=True)


def test_an_older_store_is_brought_up_to_date_once(new_place, monkeypatch):
    place = new_place()
    with Store.open(place, create=True) as store:
        ids = take(store, [reading()])
    steps = []
    monkeypatch.setattr(tables, "SCHEMA", tables.SCHEMA + 1)
    monkeypatch.setitem(
        migrations.STEPS,
        tables.SCHEMA - 1,
        lambda connection: steps.append(connection.exec_driver_sql("CREATE TABLE more (id INTEGER)")),
    )
    for _ in range(2):
        with Store.open(place) as store:
            assert store.readings()["id"].tolist() == ids
    assert len(steps) == 1


def test_a_step_that_fails_changes_nothing(new_place, monkeypatch):
    place = new_place()
    Store.open(place, create=True).close()

    def half(connection):
        connection.exec_driver_sql("CREATE TABLE more (id INTEGER)")
        raise ZeroDivisionError

    monkeypatch.setattr(tables, "SCHEMA", tables.SCHEMA + 1)
    monkeypatch.setitem(migrations.STEPS, tables.SCHEMA - 1, half)
    with pytest.raises(ZeroDivisionError):
        Store.open(place)
    monkeypatch.undo()
    with Store.open(place) as store, store.database.reading() as connection:
        assert migrations.schema(connection) == tables.SCHEMA


def test_a_schema_that_is_no_longer_known_is_refused(new_place):
    place = new_place()
    with Store.open(place, create=True) as store:
        set_schema(store, "0")
    with pytest.raises(StoreError, match="use the qc that wrote it"):
        Store.open(place)


def test_another_programs_database_is_left_alone(tmp_path):
    place = tmp_path / "other.db"
    with sqlite3.connect(place) as other:
        other.execute("CREATE TABLE recipe (name TEXT)")
    other.close()
    for create in (False, True):
        with pytest.raises(StoreError, match="another program"):
            Store.open(place, create=create)
    with sqlite3.connect(place) as other:
        assert other.execute("SELECT name FROM sqlite_master").fetchall() == [("recipe",)]
    other.close()


def test_a_table_of_the_same_name_is_not_taken_for_ours(new_place):
    place = new_place()
    with Store.open(place, create=True) as store, store.database.writing() as connection:
        connection.exec_driver_sql("DROP TABLE meta")
    with pytest.raises(StoreError, match="another program"):
        Store.open(place, create=True)


@pytest.mark.parametrize("sample", sorted(SAMPLES.glob("*.sql")), ids=lambda p: p.stem)
def test_a_store_of_every_released_schema_opens(sample, tmp_path):
    place = tmp_path / "old.db"
    with sqlite3.connect(place) as old:
        old.executescript(sample.read_text(encoding="utf-8"))
    old.close()
    with Store.open(place) as store:
        assert [what for what, holds, _ in upkeep.check(store) if not holds] == []
        assert len(store.readings()) == 5
        assert len(store.readings(status="all")) == 6
        assert store.revision() == 4
        assert store.specs(2) != store.specs() == []


def test_the_newest_schema_has_a_sample_and_agrees_with_it(tmp_path):
    # A changed schema needs a new number, a step, and a sample (the script is in the sample's first line).
    sample = SAMPLES / f"schema-{tables.SCHEMA}.sql"
    with sqlite3.connect(tmp_path / "old.db") as old:
        old.executescript(sample.read_text(encoding="utf-8"))
        expected = shape(old)
    old.close()
    with Store.open(tmp_path / "new.db", create=True):
        pass
    with sqlite3.connect(tmp_path / "new.db") as new:
        assert shape(new) == expected
    new.close()


def shape(connection):
    rows = connection.execute("SELECT type, name, sql FROM sqlite_master WHERE sql IS NOT NULL")
    return {(kind, name): " ".join(sql.split()) for kind, name, sql in rows}


def write_sample(path):
    """Write the sample of the newest schema anew."""
    place = path.with_suffix(".db")
    with Store.open(place, create=True) as store:
        fill(store)
    with sqlite3.connect(place) as made:
        lines = ["-- tests.qc.store.test_migrations.write_sample(path) wrote this", *made.iterdump()]
    made.close()
    place.unlink()
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
