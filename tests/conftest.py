"""Fixtures that more than one part of the suite needs: stores of both kinds."""

import os
from collections.abc import Callable, Iterator
from itertools import count
from pathlib import Path

import pytest

from qc.store import Store
from tests.cluster import NoServer, cluster


@pytest.fixture(scope="session", autouse=True)
def _data_of_the_user(tmp_path_factory: pytest.TempPathFactory) -> None:
    """Dated backups of servers' stores go to a user's data folder: not to that of whoever runs the tests."""
    os.environ["XDG_DATA_HOME"] = str(tmp_path_factory.mktemp("data"))


@pytest.fixture(scope="session")
def postgresql_server() -> Iterator[str]:
    """URL of the one database of a server of our own."""
    try:
        with cluster() as url:
            yield url
    except NoServer as absent:
        if os.environ.get("CI"):
            pytest.fail(str(absent))
        pytest.skip(str(absent))


@pytest.fixture
def postgresql_place(postgresql_server: str) -> Callable[[], str]:
    """Makes an empty schema and gives the URL that leads to it, each time another: cheaper than a
    database."""
    import psycopg

    def place() -> str:
        name = f"shop_{next(_SCHEMAS)}"
        with psycopg.connect(postgresql_server, autocommit=True, options="-c lock_timeout=10000") as server:
            server.execute(f"CREATE SCHEMA {name}")
        return f"{postgresql_server}&options=-csearch_path%3D{name}"

    return place


_SCHEMAS = count(1)


@pytest.fixture
def sqlite_place(tmp_path: Path) -> Callable[[], str]:
    """Gives the path of a store that is not there yet, each time another."""
    numbers = count(1)
    return lambda: str(tmp_path / f"shop-{next(numbers)}.db")


@pytest.fixture(
    params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgresql)],
)
def new_place(request: pytest.FixtureRequest) -> Callable[[], str]:
    """Gives places for stores: each test that uses it runs over both back ends."""
    return request.getfixturevalue(f"{request.param}_place")


@pytest.fixture
def store(new_place: Callable[[], str]) -> Iterator[Store]:
    """An empty store, in both back ends."""
    with Store.open(new_place(), create=True) as opened:
        yield opened


@pytest.fixture
def sqlite_store(sqlite_place: Callable[[], str]) -> Iterator[Store]:
    """An empty store in a file, for tests that are not about storing."""
    with Store.open(sqlite_place(), create=True) as opened:
        yield opened
