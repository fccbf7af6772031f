"""What a person chose travels in the audit pack, and the verifier recomputes with it."""

import csv
import io
import json
import shutil
from pathlib import Path

import pytest

from qc.export import archive, pack, verify
from qc.records import Asked
from qc.reports import choosing
from qc.store import Store


@pytest.fixture
def chosen(shop, tmp_path):
    """A pack of a shop that reads its Ra as normal, charts it as a running average, and wants 1.67."""
    place, there = tmp_path / "copy.db", Path(shop.place)
    for file in there.parent.glob(f"{there.name}*"):  # with what SQLite has not yet put into the main file
        shutil.copy(file, tmp_path / file.name.replace(there.name, place.name))
    with Store.open(place) as store:
        key = next(
            tuple(r[n] for n in ("machine", "operation", "characteristic", "method", "state"))
            for r in store.series().to_dict("records")
            if r["characteristic"] == "ra"
        )
        for name, value in (("family", "normal"), ("chart", "ewma"), ("wanted", "1.67")):
            choosing.note(store, key, name, value, reason="=the drawing", by="ann", command="test")
        pack.write_to(store, Asked(), tmp_path / "audit.zip")
    return tmp_path / "audit.zip", "/".join(key)


def told(place, answer, series):
    document = json.loads(archive.read(place)[f"answers/{answer}.json"])
    return next(r for r in document["series"] if r["id"] == series)


def test_choices_are_in_the_pack_and_its_answers_rest_on_them(chosen):
    place, series = chosen
    rows = list(csv.DictReader(io.StringIO(archive.read(place)["choices.csv"].decode("utf-8"))))
    assert [(r["name"], r["value"], r["by"]) for r in rows] == [
        ("family", "normal", "ann"), ("chart", "ewma", "ann"), ("wanted", "1.67", "ann"),
    ]  # fmt: skip
    row = told(place, "capability", series)
    assert (row["family"]["name"], row["family"]["usual"]["name"]) == ("normal", "lognormal")
    assert row["to_prove"]["wanted"] == 1.67
    assert told(place, "chart", series)["kind"] == "ewma"


def test_the_verifier_recomputes_with_the_choices(chosen):
    found = verify.answer(chosen[0])
    assert [one for one in found["checks"] if not one["agrees"]] == []
    assert found["agree"]


def test_a_choice_taken_out_of_the_pack_disagrees_by_the_figures_too(chosen, tmp_path):
    entries = dict(archive.read(chosen[0]))
    head = json.loads(entries["answers/capability.json"])
    lines = entries["choices.csv"].decode("utf-8").splitlines(keepends=True)
    entries["choices.csv"] = "".join(line for line in lines if "family" not in line).encode("utf-8")
    entries["manifest.json"] = pack.manifest({n: d for n, d in entries.items() if n != "manifest.json"}, head)
    (tmp_path / "changed.zip").write_bytes(archive.content(entries))
    found = verify.answer(tmp_path / "changed.zip")
    wrong = [one for one in found["checks"] if not one["agrees"]]
    assert any("ppk" in one["what"] for one in wrong)


def test_a_pack_made_before_anybody_could_choose_is_still_read(chosen):
    from qc.export.packed import PackedStore

    entries = {n: d for n, d in archive.read(chosen[0]).items() if n != "choices.csv"}
    assert len(PackedStore(entries, "digest", 1).records("choice")) == 0
