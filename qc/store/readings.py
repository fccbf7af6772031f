"""The frame of readings: few narrow columns from the database, everything shared put beside them here."""

from collections.abc import Iterable, Mapping, Sequence
from itertools import count
from typing import Any, Final, Literal

import numpy as np
import pandas as pd
from sqlalchemy import ColumnElement, Connection, Select, Table, and_, func, literal, select

from qc.records import Asked
from qc.store import tables
from qc.store.exclusions import excluded
from qc.store.frames import MISSING, blank_where_missing, column

_CHUNK: Final = 500  # rows at a time: the tuples stay in the processor's cache
_NUMBERS: Final = (
    "series_id", "arrival", "context_id", "position_id", "row", "correction", "version", "trial", "pass",
    "order", "value", "target", "lower", "upper", "measured_at", "made_at",
)  # fmt: skip
_MAY_BE_BLANK: Final = ("pass", "order", "target", "lower", "upper")

COLUMNS: Final[dict[str, str]] = {
    "id": "str", "series_id": "int64", "arrival": "int64", "file_id": "int64", "file": "str", "sha256": "str",
    "sheet": "str", "row": "int64", "column": "str", "text": "str", "build": "str", "engine": "str",
    "serial": "str", "machine": "str", "operation": "str", "characteristic": "str", "method": "str",
    "state": "str", "feature": "str", "station": "Int64", "clock": "Int64", "trial": "int64",
    "pass": "Int64", "order": "Int64", "value": "int64", "unit": "str", "relative": "bool",
    "target": "Int64", "lower": "Int64", "upper": "Int64", "measured_at": "int64", "made_at": "int64",
    "made_is_date": "bool", "gauge": "str", "operator": "str", "sized_with": "str", "master": "str",
    "torque": "str", "material": "str", "part_c": "float64", "gauge_c": "float64", "note": "str",
    "revision": "int64", "voided_in": "Int64", "excluded": "bool", "version": "int64",
}  # fmt: skip


def readings(connection: Connection, asked: Asked, status: Literal["counts", "all"]) -> pd.DataFrame:
    """Readings that the question asks for; see `Store.readings`."""
    numbers, texts = _fetched(connection, _statement(asked))
    voided = _voided(connection, numbers, asked.as_of)
    if status == "counts":
        kept = voided == MISSING
        if not kept.all():
            numbers = {name: values[kept] for name, values in numbers.items()}
            texts = [text for text, keep in zip(texts, kept.tolist(), strict=True) if keep]
            voided = voided[kept]
    shown = _frame(connection, numbers, texts, voided)
    shown["excluded"] = excluded(connection, shown, asked.as_of)
    return shown[list(COLUMNS)]


def _statement(asked: Asked) -> Select:
    r = tables.reading.c
    told: list[Any] = [
        func.coalesce(r[name], literal(MISSING, tables.Whole)) if name in _MAY_BE_BLANK else r[name]
        for name in _NUMBERS
    ]
    return select(*told, r.text).where(and_(True, *_conditions(asked))).order_by(r.series_id, r.arrival)


def _conditions(asked: Asked) -> Iterable[ColumnElement[bool]]:
    r = tables.reading.c
    yield from _among(asked, tables.SERIES, tables.series, r.series_id)
    yield from _among(asked, ("feature",), tables.position, r.position_id)
    early = [] if asked.as_of is None else [tables.context.c.revision <= asked.as_of]
    yield from _among(asked, ("build", "engine", "gauge"), tables.context, r.context_id, early)
    if asked.since is not None:
        yield r.made_at >= asked.since
    if asked.until is not None:
        yield r.made_at <= asked.until


def _among(
    asked: Asked, names: Sequence[str], table: Table, key: Any, also: Sequence[ColumnElement[bool]] = ()
) -> Iterable[ColumnElement[bool]]:
    filters = [table.c[name].in_(getattr(asked, name)) for name in names if getattr(asked, name)]
    if filters or also:
        yield key.in_(select(table.c.id).where(and_(*filters, *also)))


def _fetched(connection: Connection, statement: Select) -> tuple[dict[str, np.ndarray], list[str]]:
    """Whole numbers by column and the texts, in the order of the statement."""
    cursor: Any = connection.execute(statement).cursor
    parts = [np.empty((0, len(_NUMBERS)), dtype=np.int64)]
    texts: list[str] = []
    while rows := cursor.fetchmany(_CHUNK):
        parts.append(np.array([row[:-1] for row in rows], dtype=np.int64))
        texts.extend([row[-1] for row in rows])
    cursor.close()
    whole = np.concatenate(parts)
    return {name: whole[:, i].copy() for i, name in enumerate(_NUMBERS)}, texts


def _voided(connection: Connection, numbers: Mapping[str, np.ndarray], as_of: int | None) -> np.ndarray:
    """Revision that voided each reading, MISSING where none did."""
    v = tables.void.c
    statement = select(v.series_id, v.arrival, v.revision)
    if as_of is not None:
        statement = statement.where(v.revision <= as_of)
    rows = np.array([tuple(row) for row in connection.execute(statement)], dtype=np.int64).reshape(-1, 3)
    found = np.full(numbers["arrival"].shape, MISSING)
    if not (len(rows) and len(found)):
        return found
    order = np.lexsort((rows[:, 1], rows[:, 0]))
    voids = pd.MultiIndex.from_arrays([rows[order, 0], rows[order, 1]])
    places = voids.get_indexer(pd.MultiIndex.from_arrays([numbers["series_id"], numbers["arrival"]]))
    return np.where(places >= 0, rows[order, 2][places], MISSING)


def _frame(
    connection: Connection, numbers: Mapping[str, np.ndarray], texts: Sequence[str], voided: np.ndarray
) -> pd.DataFrame:
    series = _Shared(connection, tables.series, numbers["series_id"])
    places = _Shared(connection, tables.position, numbers["position_id"])
    contexts = _Shared(connection, tables.context, numbers["context_id"])
    files = _Shared(connection, tables.file, contexts.whole("file_id"))
    data: dict[str, Any] = {"id": _ids(numbers, contexts, files), "text": column(texts, "str")}
    data["voided_in"] = blank_where_missing(voided)
    for name in _NUMBERS:
        data[name] = blank_where_missing(numbers[name]) if name in _MAY_BE_BLANK else numbers[name]
    data |= {name: series.text(name) for name in tables.SERIES}
    data |= {
        "feature": places.text("feature"),
        "station": places.blank("station"),
        "clock": places.blank("clock"),
    }
    data |= {name: contexts.text(name) for name in (*tables.CONTEXT_TEXT, "sheet", "column")}
    data |= {name: contexts.whole(name).astype(bool) for name in ("relative", "made_is_date")}
    data |= {name: contexts.decimal(name) for name in ("part_c", "gauge_c")}
    data |= {"file_id": contexts.whole("file_id"), "revision": contexts.whole("revision")}
    data |= {
        "file": files.text("name"),
        "sha256": files.text("sha256"),
        "excluded": np.zeros(len(texts), dtype=bool),
    }
    return _sorted(pd.DataFrame({name: data[name] for name in COLUMNS}, copy=False), series)


def _ids(numbers: Mapping[str, np.ndarray], contexts: "_Shared", files: "_Shared") -> Any:
    sheets = ["" if sheet is None else f"{sheet}!" for sheet in contexts.of("sheet")]
    ends = [f":{name}" for name in contexts.of("column")]
    start = files.of("sha256")
    where = contexts.places.tolist()
    ids = [
        f"{start[f][:12]}:{sheets[c]}{row}{ends[c]}"
        for f, c, row in zip(files.places.tolist(), where, numbers["row"].tolist(), strict=True)
    ]
    for i in np.flatnonzero(numbers["correction"]).tolist():
        ids[i] += f"/{numbers['correction'][i]}"
    return column(ids, "str")


def _sorted(shown: pd.DataFrame, series: "_Shared") -> pd.DataFrame:
    names = list(zip(*(series.of(name) for name in tables.SERIES), strict=True))
    ranks = np.empty(len(names), dtype=np.int64)
    for rank, place in enumerate(sorted(range(len(names)), key=names.__getitem__)):
        ranks[place] = rank
    last = shown["order"].to_numpy(dtype=np.int64, na_value=2**63 - 1)
    order = np.lexsort((
        shown["arrival"].to_numpy(), shown["trial"].to_numpy(), last, shown["made_at"].to_numpy(),
        ranks[series.places],
    ))  # fmt: skip
    if (np.diff(order) == 1).all():
        return shown
    return shown.take(order).reset_index(drop=True)


class _Shared:
    """Rows of a table that many readings share, and which of them each reading has."""

    def __init__(self, connection: Connection, table: Table, keys: np.ndarray) -> None:
        found, self.places = np.unique(keys, return_inverse=True)
        rows: list[Any] = []
        for start in count(0, _CHUNK):
            some = found[start : start + _CHUNK].tolist()
            if not some:
                break
            rows.extend(connection.execute(select(table).where(table.c.id.in_(some)).order_by(table.c.id)))
        self._rows = {
            name: list(values)
            for name, values in zip(
                table.c.keys(), zip(*rows, strict=True) if rows else [[]] * len(table.c), strict=True
            )
        }

    def of(self, name: str) -> list[Any]:
        """Values of the shared rows."""
        return self._rows[name]

    def text(self, name: str) -> Any:
        """A column of text."""
        return column(self.of(name), "str").take(self.places)

    def whole(self, name: str) -> np.ndarray:
        """A column of whole numbers."""
        return np.array(self.of(name), dtype=np.int64)[self.places]

    def blank(self, name: str) -> Any:
        """A column of whole numbers that may be blank."""
        return column(self.of(name), "Int64").take(self.places)

    def decimal(self, name: str) -> Any:
        """A column of decimal numbers."""
        return column(self.of(name), "float64").take(self.places)
