"""A shop's store and files to take in, made by rows of texts."""

import shutil
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import pytest

from qc.ingest.run import FileResult, ingest
from qc.store import Store

REQUIRED = ("build", "machine", "operation", "characteristic", "feature", "value", "unit", "measured_at")
BORE = {
    "build": "B-104", "machine": "hone-1", "operation": "finish_bore", "characteristic": "bore_diameter",
    "feature": "cyl-1", "value": "96.012", "unit": "mm", "measured_at": "2026-04-03T08:15",
}  # fmt: skip


def _table(rows: Sequence[dict[str, str]], separator: str) -> str:
    columns = list(dict.fromkeys(c for row in rows for c in row))

    def quoted(text: str) -> str:
        special = any(mark in text for mark in (separator, '"', "\n"))
        return '"' + text.replace('"', '""') + '"' if special else text

    lines = [columns] + [[row.get(c, "") for c in columns] for row in rows]
    return "".join(separator.join(map(quoted, line)) + "\n" for line in lines)


@pytest.fixture
def bore() -> Callable[..., dict[str, str]]:
    """A row of a readings file; what is named differs from a plain bore reading."""
    return lambda **other: BORE | other


@pytest.fixture
def bores(bore) -> Callable[..., list[dict[str, str]]]:
    """Rows for n bores, one reading each, at 96.010 mm and a little more."""
    return lambda n=8, **other: [
        bore(feature=f"cyl-{i + 1}", value=f"96.{10 + i:03d}", order=str(i + 1), **other) for i in range(n)
    ]


@pytest.fixture(scope="session")
def table() -> Callable[..., str]:
    """Text of a delimited file from rows."""
    return lambda rows, separator=",": _table(rows, separator)


@pytest.fixture(scope="session")
def empty_store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An empty store whose zone is set: copied for each test, as making one takes most of a test's time."""
    place = tmp_path_factory.mktemp("store") / "empty.db"
    with Store.open(place, create=True) as store, store.write(by="test", command="set up") as write:
        write.set("zone", "UTC")
    return place


@pytest.fixture
def shop(tmp_path: Path, empty_store: Path) -> Iterator[Store]:
    with Store.open(shutil.copy(empty_store, tmp_path / "shop.db")) as store:
        yield store


@pytest.fixture
def file(tmp_path: Path) -> Callable[..., Path]:
    """A file from rows, text or bytes."""

    def made(content: Sequence[dict[str, str]] | str | bytes, name: str = "bores.csv") -> Path:
        place = tmp_path / "in" / name
        place.parent.mkdir(parents=True, exist_ok=True)
        if not isinstance(content, str | bytes):
            content = _table(content, ",")
        place.write_bytes(content.encode("utf-8") if isinstance(content, str) else content)
        return place

    return made


@pytest.fixture
def taken(shop: Store, file: Callable[..., Path]) -> Callable[..., FileResult]:
    """The result of one file taken in; its counts always add up."""

    def took(content, name: str = "bores.csv") -> FileResult:
        result = ingest(shop, [file(content, name)], by="test").files[0]
        assert result.rows == result.kept + result.held + result.already_kept
        return result

    return took


@pytest.fixture
def codes() -> Callable[..., list[tuple[str, str]]]:
    """Severity and code of each finding, notes left out."""
    return lambda result: [(f["severity"], f["code"]) for f in result.findings if f["severity"] != "note"]
