import io
import sys
from datetime import UTC, datetime
from decimal import Decimal

import pytest

from qc.errors import FileError
from qc.ingest import parquet, sources

pa = pytest.importorskip("pyarrow")
pq = pytest.importorskip("pyarrow.parquet")


@pytest.fixture
def saved():
    def made(columns) -> bytes:
        out = io.BytesIO()
        pq.write_table(pa.table(columns), out)
        return out.getvalue()

    return made


def test_cells_are_the_texts_of_what_is_stored(saved):
    at = datetime(2026, 4, 3, 8, 15, tzinfo=UTC)
    data = saved({
        "text": pa.array(["cyl-1", None]), "double": pa.array([96.012, 0.1 + 0.2]),
        "float": pa.array([96.012, None], pa.float32()), "whole": pa.array([7, None]),
        "exact": pa.array([Decimal("96.0120"), None]), "at": pa.array([at, None], pa.timestamp("ns",
        tz="UTC")),
        "day": pa.array([at.date(), None]), "group": pa.array(["a", "b"]).dictionary_encode(),
    })  # fmt: skip
    (grid,) = sources.grids(data, "any.name")
    assert grid.rows[0] == (0, ("text", "double", "float", "whole", "exact", "at", "day", "group"))
    assert grid.rows[1] == (
        1, ("cyl-1", "96.012", "96.012", "7", "96.0120", "2026-04-03T08:15:00.000000+00:00", "2026-04-03",
        "a"),
    )  # fmt: skip
    assert grid.rows[2][1] == ("", "0.3", "", "", "", "", "", "b")


def test_a_readings_file_comes_in(shop, file, bores, saved):
    from qc.ingest.run import ingest

    rows = bores(4)
    data = saved({c: [r[c] for r in rows] for c in rows[0]})
    (result,) = ingest(shop, [file(data, "bores.parquet")], by="ann").files
    assert (result.status, result.kept) == ("kept", 4)
    assert shop.readings()["row"].tolist() == [1, 2, 3, 4]


def test_lists_too_many_columns_and_damage_are_refused(saved):
    with pytest.raises(FileError, match="lists or bytes"):
        parquet.cells(saved({"a": [[1, 2]]}))
    with pytest.raises(FileError, match="600 columns"):
        parquet.cells(saved({f"c{i}": [1] for i in range(600)}))
    with pytest.raises(FileError, match="damaged"):
        parquet.cells(saved({"a": [1]})[:-20])


def test_a_machine_without_the_library_says_what_to_install(monkeypatch):
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    with pytest.raises(FileError, match="pyarrow"):
        parquet.cells(b"PAR1")
