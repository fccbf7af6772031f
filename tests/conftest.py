"""Fixtures that more than one part of the suite needs: stores of both kinds."""

import os
from collections.abc import Callable, Iterator
from itertools import count
from pathlib import Path

import pytest
from tests.cluster import NoServer, cluster

from qc.store import Store


@pytest.fixture(scope="session")
def postgresql_server() -> Iterator[str]:
    """URL of a server of our own, with `{}` for the database's name."""
    try:
        with cluster() as url:
            yield url
    except NoServer as absent:
        if os.environ.get("CI"):
            pytest.fail(str(absent))
        pytest.skip(str(absent))


@pytest.fixture
def postgresql_place(postgresql_server: str) -> Callable[[], str]:
    """Makes an empty database and gives its URL, each time another."""
    import psycopg

    numbers = count(1)

    def place() -> str:
        name = f"shop_{os.getpid()}_{next(_DATABASES)}_{next(numbers)}"
        with psycopg.connect(
            postgresql_server.format("postgres"), autocommit=True, options="-c lock_timeout=10000"
        ) as server:
            server.execute(f"CREATE DATABASE {name}")
        return postgresql_server.format(name)

    return place


_DATABASES = count(1)


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
