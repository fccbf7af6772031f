import os
import sqlite3
import zlib

import pytest

from qc.errors import StoreDamaged, StoreError, StoreMissing
from qc.store import Store, pages, upkeep
from qc.store.tables import metadata
from tests.qc.store.given import NOON, fill, reading, sha, take


def failed(store):
    return [what for what, holds, _ in upkeep.check(store) if not holds]


def every_row(store):
    with store.database.reading() as connection:
        return {
            table.name: sorted(repr(tuple(row)) for row in connection.execute(table.select()))
            for table in metadata.sorted_tables
        }


def test_a_sound_store_passes_every_check(store):
    assert failed(store) == []
    fill(store)
    told = upkeep.check(store)
    assert len(told) == 10
    assert failed(store) == []


# each damage goes past the triggers, as a stray program could
_DAMAGES = [
    ("DELETE FROM reading WHERE arrival = 2", "readings of a series are numbered without a gap"),
    (
        "UPDATE reading SET version = 3 WHERE arrival = 4",
        "versions of a place have no gap and at most one counts",
    ),
    ('UPDATE reading SET "row" = 6 WHERE arrival = 4', "every id is unique"),
    ("DELETE FROM decision", "every reference leads somewhere"),
    ("DELETE FROM event; INSERT INTO event SELECT * FROM kept", "rows are numbered without a gap"),
    ("UPDATE revision SET at = at - 9000000000 WHERE number = 3", "revisions follow each other in time"),
    ("UPDATE file SET kept = kept + 1 WHERE id = 1", "rows of a file = kept + held + already kept"),
    ("UPDATE series_summary SET readings = 9", "summaries agree with the readings"),
    ("UPDATE content SET packed = x'00' WHERE file_id = 1", "contents of files are as they came"),
    ("DELETE FROM content WHERE file_id = 2", "contents of files are as they came"),
]


@pytest.mark.parametrize(("damage", "what"), _DAMAGES)
def test_a_check_finds_what_a_stray_program_changed(sqlite_store, damage, what):
    fill(sqlite_store)
    with sqlite3.connect(sqlite_store.place) as stray:
        for (name,) in stray.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            stray.execute(f"DROP TRIGGER {name}")
        stray.execute("CREATE TEMP TABLE kept AS SELECT * FROM event")
        stray.execute("UPDATE kept SET seq = 7")
        stray.executescript(damage)
    stray.close()
    assert what in failed(sqlite_store)


def test_other_content_under_the_same_hash_is_found(sqlite_store):
    fill(sqlite_store)
    with sqlite3.connect(sqlite_store.place) as stray:
        stray.execute("DROP TRIGGER content_no_update")
        stray.execute("UPDATE content SET packed = ? WHERE file_id = 1", [zlib.compress(b"b.csv")])
    stray.close()
    (detail,) = [detail for _, holds, detail in upkeep.check(sqlite_store) if not holds]
    assert detail.startswith("a.csv: ")


def test_a_backup_restores_every_row_in_either_back_end(store, new_place, sqlite_place, tmp_path):
    fill(store)
    backup = tmp_path / "kept.qc"
    upkeep.backup(store, backup)
    assert sorted(p.name for p in tmp_path.glob("kept*")) == ["kept.qc"]
    for place in (new_place(), sqlite_place()):
        upkeep.restore(backup, place)
        with Store.open(place) as restored:
            assert every_row(restored) == every_row(store)
            assert failed(restored) == []
            take(restored, [reading(9, name="c.csv")], "c.csv")
            assert restored.revision() == store.revision() + 1


def test_a_backup_can_be_taken_while_another_writes(store, tmp_path):
    take(store, [reading()])
    with store.write(by="ann", command="shop") as write:
        write.set("zone", "UTC")
        upkeep.backup(store, tmp_path / "kept.qc")
    with Store.open(tmp_path / "kept.qc") as kept:
        assert kept.revision() == 1
        assert failed(kept) == []


def test_nothing_is_overwritten(store, tmp_path, sqlite_place):
    take(store, [reading()])
    backup = tmp_path / "kept.qc"
    upkeep.backup(store, backup)
    before = backup.read_bytes()
    with pytest.raises(StoreError, match="never overwrites"):
        upkeep.backup(store, backup)
    with pytest.raises(StoreError, match="not overwritten"):
        upkeep.restore(backup, store.place if store.database.path else _other(sqlite_place))
    with pytest.raises(StoreError, match="does not exist"):
        upkeep.backup(store, tmp_path / "no" / "kept.qc")
    assert backup.read_bytes() == before
    assert store.revision() == 1


def _other(sqlite_place):
    place = sqlite_place()
    with Store.open(place, create=True) as other:
        take(other, [reading(made_at=NOON)])
    return place


def test_a_store_is_not_copied_onto_itself(sqlite_store):
    with pytest.raises(StoreError, match="that store itself"):
        upkeep.copy(sqlite_store, sqlite_store.place)


def test_what_is_no_sound_backup_is_refused(sqlite_store, tmp_path):
    with pytest.raises(StoreMissing, match="no backup"):
        upkeep.restore(tmp_path / "none.qc", tmp_path / "new.db")
    text = tmp_path / "letter.txt"
    text.write_text("Dear shop, " * 100, encoding="utf-8")
    with pytest.raises(StoreError, match="not a store"):
        upkeep.restore(text, tmp_path / "new.db")
    take(sqlite_store, [reading(n) for n in range(2, 300)])
    upkeep.backup(sqlite_store, tmp_path / "kept.qc")
    with sqlite3.connect(tmp_path / "kept.qc") as stray:
        stray.execute("UPDATE series_summary SET readings = 1")
    stray.close()
    with pytest.raises(StoreDamaged, match="older backup"):
        upkeep.restore(tmp_path / "kept.qc", tmp_path / "new.db")
    assert not (tmp_path / "new.db").exists()


def test_half_a_backup_is_never_left_behind(sqlite_store, tmp_path, monkeypatch):
    take(sqlite_store, [reading()])

    def full(*_):
        raise OSError(28, os.strerror(28))

    monkeypatch.setattr(os, "replace", full)
    with pytest.raises(StoreError, match="No space left"):
        upkeep.backup(sqlite_store, tmp_path / "kept.qc")
    assert list(tmp_path.glob("kept*")) == []


def test_a_restored_file_is_the_one_that_was_taken_in(store, tmp_path):
    fill(store)
    upkeep.backup(store, tmp_path / "kept.qc")
    with Store.open(tmp_path / "kept.qc") as kept:
        assert kept.file_content(sha("a.csv")) == b"a.csv"


def test_a_copy_that_came_out_otherwise_is_told(sqlite_store, sqlite_place, monkeypatch):
    fill(sqlite_store)
    target = sqlite_place()
    whole = pages.add_many

    def lossy(connection, table, names, rows):
        whole(connection, table, names, rows[:-1] if table.name == "event" else rows)

    monkeypatch.setattr(pages, "add_many", lossy)
    with pytest.raises(StoreDamaged, match="not equal to the store"):
        upkeep.copy(sqlite_store, target)


def test_a_copy_tells_how_many_rows_are_equal(store, new_place):
    fill(store)
    rows = sum(len(found) for name, found in every_row(store).items() if name != "meta")
    assert upkeep.copy(store, new_place()) >= rows
