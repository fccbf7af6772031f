"""A pack's texture figures are computed anew from the traces and layouts in it."""

import random

import pytest

from qc.export import archive, lookup_traces, pack, packed, verify
from qc.ingest.run import ingest
from qc.records import Asked
from qc.store import Store
from tests.generate import traces as made


@pytest.fixture(scope="module")
def entries(tmp_path_factory):
    """A pack of one trace, and what the verifier says of it."""
    folder = tmp_path_factory.mktemp("traces")
    (one,) = made.files(folder / "in", 5, ("sdf_int16",))
    with Store.open(folder / "shop.db", create=True) as store:
        with store.write(by="test", command="set up") as write:
            write.set("zone", "UTC")
        layouts = [folder / "in" / one["layout"]]
        done = ingest(store, [folder / "in" / one["file"]], by="test", layouts=layouts)
        assert done.files[0].kept == 8
        pack.write_to(store, Asked(), folder / "a.zip")
    document = verify.answer(folder / "a.zip")
    assert [c for c in document["checks"] if not c["agrees"]] == []
    whats = {c["what"]: c["found"] for c in document["checks"]}
    assert whats["figures computed anew from this trace"] == 8
    return archive.read(folder / "a.zip")


@pytest.fixture
def rows(entries):
    return packed.table(entries, "readings_as_stored.csv")


def trace_of(entries):
    return next(d for n, d in entries.items() if n.endswith(".sdf"))


def wrong(entries, data, rows, corrected=0):
    return [c[0] for c in lookup_traces.checks(entries, "t.sdf", data, rows, corrected) if not c[4]]


def test_readings_of_a_trace_are_known_by_their_column(rows):
    assert lookup_traces.of_trace(rows)
    assert not lookup_traces.of_trace([{**rows[0], "column": "value"}])
    assert not lookup_traces.of_trace([])


def test_a_figure_that_was_changed_disagrees(entries, rows):
    changed = [{**r, "text": f"{float(r['text']) + 0.001:.5f}"} if r["column"] == "rk" else r for r in rows]
    said = wrong(entries, trace_of(entries), changed)
    assert len(said) == 2
    assert said[0].endswith(":1:rk")


def test_another_trace_in_its_place_disagrees(entries, rows):
    draw = random.Random(99)
    other = made.sdf([made.heights(made.curve(draw), 9600, draw)], 5)
    assert len(wrong(entries, other, rows)) == 9


def test_a_pack_without_the_layout_cannot_be_computed_again(entries, rows):
    bare = {n: d for n, d in entries.items() if not n.endswith(".toml")}
    assert wrong(bare, trace_of(entries), rows) == ["its figures can be computed again"]


def test_readings_that_a_person_corrected_are_only_counted(entries):
    found = list(lookup_traces.checks(entries, "t.sdf", trace_of(entries), [], 3))
    assert found == [("readings a person corrected", "t.sdf", 3, 3, True)]
