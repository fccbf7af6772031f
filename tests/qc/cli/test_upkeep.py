import json
import sqlite3


def test_a_whole_store_agrees_with_itself(qc, shop):
    done = qc("store", "check", "--json", store=shop)
    assert done.exit_code == 0, done.output
    told = json.loads(done.stdout)
    assert told["agree"] is True
    assert len(told["checks"]) > 1


def test_a_store_changed_behind_its_back_does_not(qc, shop):
    with sqlite3.connect(shop) as behind:
        behind.execute("DROP TRIGGER reading_no_update")
        behind.execute("UPDATE reading SET trial = trial + 1 WHERE arrival = 3")
        behind.execute("DROP TRIGGER content_no_update")
        behind.execute("UPDATE content SET packed = x'00'")
    behind.close()
    done = qc("store", "check", store=shop)
    assert done.exit_code == 1
    assert "disagree" in done.stdout


def test_a_backup_is_put_back_where_no_store_is(qc, shop, tmp_path):
    assert qc("store", "backup", "kept.db", store=shop).exit_code == 0
    again = qc("store", "backup", "kept.db", store=shop)
    assert (again.exit_code, "never overwrites" in again.stderr) == (2, True)
    assert qc("store", "restore", "kept.db", store=tmp_path / "back.db").exit_code == 0
    before = json.loads(qc("series", "--json", store=shop).stdout)
    after = json.loads(qc("series", "--json", store=tmp_path / "back.db").stdout)
    assert after["series"] == before["series"]
    onto = qc("store", "restore", "kept.db", store=shop)
    assert onto.exit_code == 2
    assert "revisions" in onto.stderr


def test_a_store_is_copied_to_another_place(qc, shop, tmp_path):
    assert qc("store", "copy", "other.db", store=shop).exit_code == 0
    assert qc("store", "check", store=tmp_path / "other.db").exit_code == 0
