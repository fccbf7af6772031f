import csv
import io
import json

import pytest


def document(done):
    return json.loads(done.stdout)


def test_a_file_is_taken_in_with_its_mistyped_cell_held(qc, files, tmp_path):
    done = qc("ingest", files, "--json", store=tmp_path / "new.db")
    assert done.exit_code == 1
    told = document(done)
    assert (told["answer"], told["version"]) == ("ingest", 1)
    by_name = {one["file"]: one for one in told["files"]}
    mine = by_name["readings.csv"]
    assert (mine["status"], mine["rows"], mine["kept"], mine["held"]) == ("part_held", 160, 159, 1)
    assert [f["severity"] for f in mine["findings"] if f["severity"] == "stop"] == ["stop"]
    assert by_name["specs.csv"]["kind"] == "specifications"


def test_a_file_taken_in_twice_changes_nothing(qc, files, shop):
    before = document(qc("series", "--json", store=shop))
    done = qc("ingest", files / "specs.csv", "--json", store=shop)
    assert done.exit_code == 0
    assert document(done)["files"][0]["status"] == "already_kept"
    after = document(qc("series", "--json", store=shop))
    assert after["series"] == before["series"]


def test_a_watched_folder_is_taken_in_when_a_file_has_come_to_rest(qc, tmp_path, monkeypatch, readings_csv):
    folder = tmp_path / "sheets"
    folder.mkdir()
    text = readings_csv(builds=2, mistyped=False)
    looks = []

    def look(_):
        looks.append(1)
        if len(looks) == 1:  # half of a file: still being written
            (folder / "late.csv").write_text(text[: len(text) // 2], encoding="utf-8")
        elif len(looks) == 2:
            (folder / "late.csv").write_text(text, encoding="utf-8")
        elif len(looks) == 6:
            raise KeyboardInterrupt

    monkeypatch.setattr("qc.cli.watching.time.sleep", look)
    done = qc("ingest", "--watch", folder, store=tmp_path / "watched.db")
    assert done.exit_code == 130
    assert done.stdout.count("late.csv: kept, readings, 32 kept") == 1
    assert done.stderr.rstrip().endswith("stopped")


def test_what_waits_is_listed_shown_and_decided(qc, shop, readings_csv):
    listed = qc("held", "--json", store=shop)
    assert listed.exit_code == 1
    stops = [one for one in document(listed)["findings"] if one["severity"] == "stop"]
    assert [one["file"] for one in stops] == ["readings.csv"]
    number = stops[0]["id"]
    shown = qc("held", "show", number, store=shop)
    assert shown.exit_code == 1
    assert stops[0]["proposal"] in shown.stdout
    before = document(qc("series", "--json", "--characteristic", "bore_diameter", store=shop))["series"][0]
    assert before["left_out"]["held"] == 1
    cell = next(c for c in stops[0]["cells"] if c["column"] == "value")
    meant = readings_csv(mistyped=False).splitlines()[cell["row"] - 1].split(",")[10]
    done = qc("held", "correct", number, "--reason", "a digit too many", "--by", "Jo", store=shop)
    assert done.exit_code == 0, done.output
    after = document(qc("series", "--json", "--characteristic", "bore_diameter", store=shop))["series"][0]
    assert after["left_out"]["held"] == 0
    assert after["readings"] == 160
    corrected = [
        r for r in document(qc("readings", "--json", store=shop))["readings"] if r["id"].endswith("/2")
    ]
    assert [r["value_um"] for r in corrected] == [pytest.approx(float(meant) * 1000)]


def test_an_unknown_doubt_is_refused(qc, shop):
    for words in (["show", "999"], ["accept", "999", "--reason", "x"]):
        done = qc("held", *words, store=shop)
        assert done.exit_code == 2, words
        assert "999" in done.stderr


def test_readings_are_csv_with_the_columns_of_the_contract(qc, shop):
    done = qc("readings", store=shop)
    assert done.exit_code == 0
    rows = list(csv.reader(io.StringIO(done.stdout_bytes.decode("utf-8"), newline="")))
    assert rows[0] == [
        "id",
        "build",
        "engine",
        "serial",
        "machine",
        "operation",
        "characteristic",
        "method",
        "state",
        "feature",
        "station_mm",
        "clock_deg",
        "trial",
        "pass",
        "value_um",
        "value",
        "deviation_um",
        "target_um",
        "measured_at",
        "made_at",
        "gauge",
        "file",
        "row",
        "column",
        "text",
        "value_20_um",
    ]
    assert len(rows) == 160
    first = dict(zip(rows[0], rows[1], strict=True))
    assert float(first["value_um"]) == pytest.approx(float(first["text"]) * 1000, abs=1e-9)
    assert float(first["deviation_um"]) == pytest.approx(
        float(first["value_um"]) - float(first["target_um"]), abs=1e-6
    )
    assert first["measured_at"] == "2026-03-03T09:01:00Z"


def test_readings_with_all_tell_what_is_held(qc, shop):
    rows = document(qc("readings", "--all", "--json", store=shop))["readings"]
    assert len(rows) == 160
    assert [r["status"] for r in rows].count("held") == 1


def test_readings_go_to_a_file_too(qc, shop, tmp_path):
    done = qc("readings", "--out", "r.csv", store=shop)
    assert done.exit_code == 0
    assert (tmp_path / "r.csv").read_bytes() == qc("readings", store=shop).stdout_bytes
    refused = qc("readings", "--out", "r.pdf", store=shop)
    assert (refused.exit_code, "PDF" in refused.stderr) == (2, True)


def test_an_empty_file_of_each_kind_is_taken_in_once_filled(qc, tmp_path):
    done = qc("template", "readings", "empty.xlsx")
    assert done.exit_code == 0
    assert (tmp_path / "empty.xlsx").exists()
    refused = qc("template", "recipes", "empty.xlsx")
    assert refused.exit_code == 2
    assert "readings" in refused.stderr
