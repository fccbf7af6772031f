"""Fixtures of the parts that start from a store with files in it."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from qc.store import Store
from tests.qc.shopfloor import Shop


@pytest.fixture
def floor(tmp_path: Path) -> Iterator[Shop]:
    """A shop whose store is empty but for its zone, UTC."""
    with Store.open(tmp_path / "floor.db", create=True) as store:
        yield Shop(store, tmp_path)
