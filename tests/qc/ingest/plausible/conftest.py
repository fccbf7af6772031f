"""A shop grown by clean files, in which only the checks that a module tries are asked."""

import shutil
from pathlib import Path

import pytest

from qc.ingest.plausible import registry
from qc.ingest.run import ingest
from qc.store import Store


@pytest.fixture(scope="session")
def as_file(table):
    """Write rows as a file; its place."""

    def made(place: Path, rows) -> Path:
        place.write_text(table(rows), encoding="utf-8")
        return place

    return made


@pytest.fixture(scope="module")
def grow(request, tmp_path_factory, empty_store, as_file):
    """Take files in, rows by name, asking only a module's own CHECKS; the store's place and the findings."""
    folder = tmp_path_factory.mktemp("grown")

    def taken(files):
        place = Path(shutil.copy(empty_store, folder / "grown.db"))
        paths = [as_file(folder / name, rows) for name, rows in files.items()]
        with Store.open(place) as store:
            results = ingest(store, paths, by="test").files
        return place, [f for r in results for f in r.findings]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(registry, "CHECKS", request.module.CHECKS)
        yield taken
