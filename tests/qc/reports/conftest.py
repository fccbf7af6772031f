"""Shops that several tests of a file ask, filled once."""

from collections.abc import Callable, Iterator
from contextlib import ExitStack

import pytest

from qc.store import Store
from tests.qc.shopfloor import Rows, Shop


@pytest.fixture(scope="module")
def shop_of(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Callable[..., Shop]]:
    """Makes a shop from the rows of its files, one argument a file."""
    with ExitStack() as open_stores:

        def made(*files: Rows) -> Shop:
            folder = tmp_path_factory.mktemp("shop")
            store = open_stores.enter_context(Store.open(folder / "shop.db", create=True))
            shop = Shop(store, folder)
            for rows in files:
                shop.take(rows)
            return shop

        yield made
