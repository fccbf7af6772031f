"""The same files give the same store: taken twice, in either back end, and in any order."""

import itertools
import random
from pathlib import Path

import pandas as pd
import pytest

from qc.ingest.run import ingest
from qc.records import Asked
from qc.reports import capability, chart
from qc.store import Store
from tests.generate import files, sheets

NAMES = (
    "tidy 00", "tidy 04", "tidy 13", "tidy 15", "tidy 23", "lines 2", "book 1", "book 3", "log 0", "log 3",
    "line 0", "line 4", "line 6", "limits 1", "sheet 03", "sheet 10", "sheet 15", "sheet 17",
)  # fmt: skip
# columns that tell how the store came by a row, and not what it says
_WAY = ["arrival", "file_id", "series_id", "revision", "measured_at"]


@pytest.fixture(scope="module")
def corpus(tmp_path_factory) -> tuple[list[Path], list[Path]]:
    """A file of every kind, and the layouts of those that need one."""
    folder = tmp_path_factory.mktemp("corpus")
    told = [(m.name, m.content, m.layout) for m in files.files(77)]
    told += [(c.name, c.content, c.layout) for c in sheets.cases(500)]
    places, layouts = [], []
    for name, content, layout in told:
        if not name.startswith(NAMES):
            continue
        (folder / name).write_bytes(content)
        places.append(folder / name)
        if layout:
            (folder / f"{name}.toml").write_text(layout, encoding="utf-8")
            layouts.append(folder / f"{name}.toml")
    assert len(places) == len(NAMES)
    return places, layouts


def ready(place: str) -> Store:
    """An empty store whose zone is set."""
    store = Store.open(place, create=True)
    with store.write(by="test", command="set up") as write:
        write.set("zone", "UTC")
    return store


def content(store: Store) -> dict[str, pd.DataFrame]:
    """All that a store says of files, readings, specifications and what waits."""
    held = store.held()
    held = held.assign(fields=[str(sorted(f.items())) for f in held["fields"]])
    findings = store.findings()
    findings = findings.assign(cells=[str(list(c)) for c in findings["cells"]])
    return {
        "readings": store.readings(Asked(), status="all"),
        "specs": store.records("spec").drop(columns="at_written"),
        "held": held.drop(columns="reading"), "findings": findings.drop(columns=["decided", "at"]),
        "files": store.files().drop(columns="at"),
    }  # fmt: skip


def said(store: Store) -> dict[str, list[tuple[object, ...]]]:
    """The same whatever the order: which cells are kept with what, which wait, and why."""
    told = content(store)
    readings = told["readings"].drop(columns=_WAY).astype(str)
    # what is noted about a name, or asked about a figure, looks at what came before
    stops = told["findings"][told["findings"]["severity"] == "stop"]
    held = told["held"][["file", "sheet", "row", "fields"]].astype(str)
    return {
        "readings": sorted(map(tuple, readings.to_numpy())), "held": sorted(map(tuple, held.to_numpy())),
        "findings": sorted(map(tuple, stops[["file", "code", "count"]].astype(str).to_numpy())),
    }  # fmt: skip


def figures(store: Store) -> list[object]:
    """Figures of every series: capability and the blocks of the charts."""
    rows = []
    for row in capability.answer(store, Asked())["series"]:
        rows.append((row["id"], row["window"], row["mean"], row["spread_all"], row["pp"], row["ppk"]))
    for row in chart.answer(store, Asked())["series"]:
        blocks = sorted((b["build"], b["mean"], b["spread"], b["n"]) for b in row["blocks"])
        rows.append((row["id"], row["center"], blocks))
    return sorted(rows, key=str)


def test_any_file_taken_twice_leaves_the_store_as_it_was(store, corpus):
    places, layouts = corpus
    with store.write(by="test", command="set up") as write:
        write.set("zone", "UTC")
    first = ingest(store, places, by="test", layouts=layouts).files
    assert sum(one.kept for one in first) > 300
    assert sum(one.held for one in first) > 20
    before, revision = content(store), store.revision()
    again = ingest(store, places, by="test", layouts=layouts).files
    assert {one.status for one in again} <= {"already_kept", "held"}
    assert sum(one.kept for one in again) == 0
    after = content(store)
    assert store.revision() == revision
    for name, frame in before.items():
        pd.testing.assert_frame_equal(frame, after[name])


def test_a_file_with_the_same_rows_under_another_content_adds_nothing(sqlite_store, corpus, tmp_path):
    places, _ = corpus
    with sqlite_store.write(by="test", command="set up") as write:
        write.set("zone", "UTC")
    for place in places:
        if place.suffix != ".csv" or not place.name.startswith("tidy"):
            continue
        first = ingest(sqlite_store, [place], by="test").files[0]
        other = tmp_path / place.name
        # a blank line more at the end, in the encoding of the file
        data = place.read_bytes()
        other.write_bytes(data + data[-2:] if data[-1] == 0 or data[-2] == 0 else data + b"\n")
        again = ingest(sqlite_store, [other], by="test").files[0]
        assert again.sha256 != first.sha256
        assert (again.kept, again.held, again.already_kept) == (0, 0, first.rows), place.name


@pytest.mark.postgresql
def test_both_back_ends_hold_the_same_to_the_last_digit(sqlite_place, postgresql_place, corpus):
    places, layouts = corpus
    told = []
    for place in (sqlite_place(), postgresql_place()):
        with ready(place) as store:
            results = ingest(store, places, by="test", layouts=layouts).files
            told.append((content(store), figures(store), [r.document() for r in results]))
    (one, figures_1, results_1), (two, figures_2, results_2) = told
    for name, frame in one.items():
        pd.testing.assert_frame_equal(frame, two[name], obj=name)
    assert figures_1 == figures_2
    assert results_1 == results_2


def test_files_that_share_no_place_give_the_same_in_any_order(sqlite_place, corpus):
    places, layouts = corpus
    # limits come first in every order: readings are judged by what is in force
    limits = [p for p in places if p.name.startswith("limits")]
    others = [p for p in places if p not in limits]
    orders = [others, others[::-1], random.Random(5).sample(others, len(others))]
    told = []
    for order in orders:
        with ready(sqlite_place()) as store:
            for place in [*limits, *order]:
                ingest(store, [place], by="test", layouts=layouts)
            told.append((said(store), figures(store)))
    for (one, figures_1), (two, figures_2) in itertools.pairwise(told):
        for name, rows in one.items():
            assert rows == two[name], name
        assert figures_1 == figures_2
