import csv
import io
import json
import statistics

import pytest

from qc.errors import FileError
from qc.export import archive, pack, verify
from qc.records import Asked


def rows(entries, name):
    return list(csv.DictReader(io.StringIO(entries[name].decode("utf-8"), newline="")))


def wrong(document):
    return [one for one in document["checks"] if not one["agrees"]]


def test_a_pack_holds_what_an_auditor_asks_for(packed):
    entries = archive.read(packed)
    assert {
        "README.txt", "manifest.json", "readings.csv", "bores.csv", "specifications.csv", "gauges.csv",
        "events.csv",
        "exclusions.csv", "voids.csv", "revisions.csv", "answers/capability.json", "answers/capability.csv",
        "answers/drift.json", "answers/clearance.json", "answers/chart.json", "answers/month-2026-04.json",
    } <= set(entries)  # fmt: skip
    manifest = json.loads(entries["manifest.json"])
    assert {one["name"] for one in manifest["files"]} == set(entries) - {"manifest.json"}
    assert all(one["sha256"] == archive.sha256(entries[one["name"]]) for one in manifest["files"])
    sources = [name for name in entries if name.startswith("files/")]
    assert len(sources) == 3
    assert any(name.endswith("-readings_of_May.csv") for name in sources)


def test_a_pack_of_one_revision_is_the_same_to_the_byte(shop, packed, tmp_path):
    pack.write_to(shop, Asked(), tmp_path / "audit.zip")
    assert (tmp_path / "audit.zip").read_bytes() == packed.read_bytes()


def test_the_readme_recipe_gives_the_printed_index(packed):
    # the steps of README.txt by the standard library alone
    entries = archive.read(packed)
    answer = json.loads(entries["answers/capability.json"])
    row = next(
        r for r in answer["series"] if r["id"] == "hone-1/plateau_hone/bore_diameter/two_point/plate_on"
    )
    mine = [
        float(b["value"]) for b in rows(entries, "bores.csv")
        if b["series"] == row["id"] and b["pass"] == "1" and b["complete"] == "true"
    ]  # fmt: skip
    assert row["bores"] == len(mine)
    mean, s = statistics.fmean(mine), statistics.stdev(mine)
    assert row["mean"] == pytest.approx(mean, rel=1e-9)
    assert row["spread_all"] == pytest.approx(s, rel=1e-9)
    assert row["pp"] == pytest.approx(16 / (6 * s), rel=1e-9)
    assert row["ppk"] == pytest.approx(min(8 - mean, mean + 8) / (3 * s), rel=1e-9)


def test_no_text_of_a_pack_is_a_formula(packed):
    entries = archive.read(packed)
    assert rows(entries, "events.csv")[0]["note"] == "'=1+2"


def test_a_whole_pack_agrees_with_itself(packed):
    document = verify.answer(packed)
    assert wrong(document) == []
    assert document["agree"] is True
    whats = " ".join(one["what"] for one in document["checks"])
    for part in (
        "SHA-256",
        "every figure recomputed",
        "texts of readings",
        "by plain arithmetic",
        "mean of their",
    ):
        assert part in whats


def test_a_pack_of_a_part_agrees_too(shop, tmp_path):
    place = tmp_path / "part.zip"
    pack.write_to(shop, Asked(machine=("hone-2",), text={"machine": ["hone-2"]}), place)
    document = verify.answer(place)
    assert wrong(document) == []
    answer = json.loads(archive.read(place)["answers/capability.json"])
    assert {r["machine"] for r in answer["series"]} == {"hone-2"}


def test_a_pack_of_another_version_may_say_the_same_figures_in_other_words(change):
    def other(data):
        answer = json.loads(data)
        for row in answer["series"]:
            row["sentence"] = "said otherwise"
        return json.dumps(answer).encode()

    change("answers/drift.json", other)
    packed = change(
        "manifest.json", lambda data: data.replace(b'"version": "', b'"version": "9'), relist=False
    )
    document = verify.answer(packed)
    # only the table, which repeats the words of the document beside it, is not told otherwise
    assert {one["file"] for one in wrong(document)} == {"answers/drift.csv"}
    assert "was made by version" in document["cautions"][0]


def test_a_tampered_byte_disagrees(packed):
    data = bytearray(packed.read_bytes())
    data[len(data) // 3] ^= 0x55
    packed.write_bytes(data)
    document = verify.answer(packed)
    assert document["agree"] is False
    assert any(one["found"] == "damaged" or one["what"] == "SHA-256" for one in wrong(document))


def test_a_changed_content_disagrees_by_its_hash(change):
    document = verify.answer(change("README.txt", lambda data: data + b"x", relist=False))
    assert [(one["what"], one["file"]) for one in wrong(document)] == [("SHA-256", "README.txt")]


def test_a_changed_figure_disagrees_even_where_its_hash_was_made_to_fit(change):
    def better(data):
        answer = json.loads(data)
        row = next(r for r in answer["series"] if r["ppk"] is not None)
        row["ppk"] *= 1 + 1e-7
        return json.dumps(answer).encode()

    document = verify.answer(change("answers/capability.json", better))
    whats = [one["what"] for one in wrong(document)]
    assert any("ppk" in what and "recomputed" in what for what in whats)
    assert any("ppk by plain arithmetic" in what for what in whats)


def test_a_changed_reading_disagrees_even_where_its_hash_was_made_to_fit(change):
    def nicer(data):
        lines = data.decode().split("\r\n")
        names = lines[0].split(",")
        cells = lines[1].split(",")
        cells[names.index("value")] = str(int(cells[names.index("value")]) + 100_000)
        lines[1] = ",".join(cells)
        return "\r\n".join(lines).encode()

    document = verify.answer(change("readings_as_stored.csv", nicer))
    files = {one["file"] for one in wrong(document)}
    assert "answers/capability.json" in files
    assert "readings.csv" in files


def test_a_changed_text_is_not_in_its_file(change):
    def retyped(data):
        lines = data.decode().split("\r\n")
        names = lines[0].split(",")
        cells = lines[1].split(",")
        cells[names.index("text")] = "86.1234"
        lines[1] = ",".join(cells)
        return "\r\n".join(lines).encode()

    document = verify.answer(change("readings_as_stored.csv", retyped))
    assert any(
        one["what"].startswith("the text of reading") and one["expected"] == "86.1234"
        for one in wrong(document)
    )


def test_wider_limits_disagree(change):
    document = verify.answer(
        change("specifications.csv", lambda data: data.replace(b",-8,0,8,", b",-9,0,9,"))
    )
    assert any(one["file"] == "answers/capability.json" for one in wrong(document))


def test_a_missing_and_an_unlisted_file_disagree(packed):
    entries = dict(archive.read(packed))
    entries["more.txt"] = b"more"
    del entries["gauges.csv"]
    packed.write_bytes(archive.content(entries))
    document = verify.answer(packed)
    assert {(one["what"], one["file"]) for one in wrong(document)} >= {
        ("is in the pack", "gauges.csv"), ("is listed in the manifest", "more.txt"),
    }  # fmt: skip


@pytest.mark.parametrize(
    ("table", "content"),
    [
        ("readings_as_stored.csv", b'id,"broken\r\n1,2,3'),
        ("readings_as_stored.csv", b"id,value\r\n1,2\r\n"),
        ("bores.csv", b"{}"),
        ("specifications.csv", b"\xff\xfe"),
        ("answers/capability.json", b"{}"),
    ],
)
def test_a_table_that_is_none_any_more_disagrees_and_stops_nothing(change, table, content):
    document = verify.answer(change(table, lambda data: content))
    assert document["agree"] is False
    assert wrong(document)


@pytest.mark.parametrize(
    "manifest", [None, b"[]", b"{}", b"\xff", b'{"files": [{}], "revision": 1, "asked": {}, "zone": "UTC"}']
)
def test_a_zip_without_a_manifest_is_no_pack(packed, manifest):
    entries = dict(archive.read(packed))
    del entries["manifest.json"]
    if manifest is not None:
        entries["manifest.json"] = manifest
    packed.write_bytes(archive.content(entries))
    with pytest.raises(FileError, match="it is no audit pack"):
        verify.answer(packed)


def test_a_pack_has_the_ending_of_a_zip(shop, tmp_path):
    with pytest.raises(FileError, match="name it so"):
        pack.write_to(shop, Asked(), tmp_path / "audit.tar")
