"""An audit pack read as a store: the reports answer from it as they answer from the shop's own."""

import csv
import io
import json
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Final, Literal

from qc.errors import FileError, QuestionError
from qc.export import records
from qc.export.csv import lines
from qc.export.table import unguarded
from qc.records import Asked, Build, Event, Gauge, Machine, PlanRow, Spec

if TYPE_CHECKING:
    import pandas as pd

HELD: Final[Mapping[str, str]] = {
    "id": "int64", "finding_id": "int64", "file": "str", "sha256": "str", "sheet": "str", "row": "int64",
    "machine": "str", "operation": "str", "characteristic": "str", "method": "str", "state": "str",
    "build": "str", "readings": "int64", "fields": "object", "would_be": "str", "revision": "int64",
}  # fmt: skip
REVISIONS: Final[Mapping[str, str]] = {
    "number": "int64", "at": "int64", "by": "str", "command": "str", "reason": "str",
}  # fmt: skip
_WRITTEN: Final[Mapping[str, str]] = {"seq": "int64", "revision": "int64", "by": "str", "at_written": "int64"}
SET_LIMITS: Final[Mapping[str, str]] = {
    "machine": "str", "operation": "str", "characteristic": "str", "method": "str", "state": "str",
    "center": "float64", "lower": "float64", "upper": "float64", "reason": "str", **_WRITTEN,
}  # fmt: skip
EXCLUSIONS: Final[Mapping[str, str]] = {"scope": "object", "reason": "str", **_WRITTEN}
CHOICES: Final[Mapping[str, str]] = {
    "machine": "str", "operation": "str", "characteristic": "str", "method": "str", "state": "str",
    "name": "str", "value": "str", "reason": "str", **_WRITTEN,
}  # fmt: skip
MATTERS: Final[Mapping[str, str]] = {
    "matter": "str", "act": "str", "at": "Int64", "initials": "str", "said": "str", "told": "str", **_WRITTEN,
}  # fmt: skip
REACTIONS: Final[Mapping[str, str]] = {
    "characteristic": "str", "machine": "str", "operation": "str", "does": "str", "tells": "str",
    "remeasures": "str", **_WRITTEN,
}  # fmt: skip
Kind = Literal["set_limit", "exclusion", "choice", "matter", "reaction"]
FRAMES: Final[Mapping[Kind, tuple[str, Mapping[str, str]]]] = {
    "set_limit": ("set_limits", SET_LIMITS),
    "exclusion": ("exclusions", EXCLUSIONS),
    "choice": ("choices", CHOICES),
    "matter": ("matters", MATTERS),
    "reaction": ("reactions", REACTIONS),
}

_LATER: Final = ("choice", "matter", "reaction")


def frame_csv(frame: "pd.DataFrame", names: Mapping[str, str]) -> str:
    """CSV of some columns of a store's frame, from which `PackedStore` has the frame again."""
    rows = []
    for row in frame.to_dict("records"):
        cells = [_python(row.get(name)) for name in names]
        rows.append([
            json.dumps(cell, ensure_ascii=False, default=list) if names[name] == "object" else cell
            for name, cell in zip(names, cells, strict=True)
        ])  # fmt: skip
    return lines(list(names), rows, exact=True)


def held_csv(held: "pd.DataFrame") -> str:
    """CSV of the rows that wait for a person."""
    from qc.store.nouns import packed

    would_be = [None if record is None else packed(record) for record in held["reading"]]
    return frame_csv(held.assign(would_be=would_be), HELD)


def stored_csv(readings: "pd.DataFrame") -> str:
    """CSV of readings exactly as the store keeps them.

    Lengths in whole 1e-5 um (angles, percent, minutes in 1e-5 of theirs), times in microseconds since 1970.
    """
    blank = readings.isna().to_numpy()
    cells = readings.astype(object).to_numpy()
    cells[blank] = None
    return lines(list(readings.columns), ([_python(v) for v in row] for row in cells), exact=True)


def _python(value: Any) -> Any:
    """A cell as Python's own type, None for every kind of missing."""
    if isinstance(value, dict | list | tuple):
        return value
    if value is None or value != value or type(value).__name__ == "NAType":
        return None
    return value.item() if hasattr(value, "item") else value


class PackedStore:
    """What the reports ask of a store, from the tables of a pack.

    Parameters
    ----------
    entries : mapping
        Contents of the pack by name, None for a damaged one.
    digest : str
        Of the whole pack: what is remembered of one pack is never used for another.

    Raises
    ------
    FileError
        At once or when asked, where a table is missing or is none.
    """

    def __init__(self, entries: Mapping[str, bytes | None], digest: str, revision: int) -> None:
        self.place = f"pack:{digest}"
        self._entries = entries
        self._revision = revision

    def revision(self, as_of: str | int | None = None) -> int:
        """The one revision a pack knows."""
        if as_of not in (None, "", self._revision, str(self._revision)):
            raise QuestionError(f"the pack is of revision {self._revision} and knows no other")
        return self._revision

    def readings(
        self, asked: Asked | None = None, *, status: Literal["counts", "all"] = "counts"
    ) -> "pd.DataFrame":
        """Readings as `qc.store.Store.readings` gives them; filters are left to the reports."""
        from qc.store.readings import COLUMNS

        frame = _frame(self._entries, "readings_as_stored.csv", COLUMNS)
        return frame if status == "all" else frame[frame["voided_in"].isna()].reset_index(drop=True)

    def held(self, *, open_only: bool = True, as_of: int | None = None) -> "pd.DataFrame":
        """Rows that wait for a person: what they say, and what they would be."""
        from qc.store.frames import column
        from qc.store.nouns import unpacked

        frame = _frame(self._entries, "held.csv", HELD)
        would_be = [unpacked(text) if isinstance(text, str) else None for text in frame["would_be"]]
        return frame.assign(reading=column(would_be, "object"))

    def specs(self, as_of: int | None = None) -> list[Spec]:
        """Specifications in force."""
        return self._records("specifications", Spec)

    def events(self, as_of: int | None = None) -> list[Event]:
        """Events."""
        return self._records("events", Event)

    def gauges(self, as_of: int | None = None) -> list[Gauge]:
        """Gauges."""
        return self._records("gauges", Gauge)

    def plan(self, as_of: int | None = None) -> list[PlanRow]:
        """Measuring plan."""
        return self._records("plan", PlanRow)

    def builds(self, as_of: int | None = None) -> dict[str, Build]:
        """Builds by name."""
        return {one.build: one for one in self._records("builds", Build)}

    def machines(self, as_of: int | None = None) -> dict[str, Machine]:
        """Machines by name."""
        return {one.machine: one for one in self._records("machines", Machine)}

    def settings(self, as_of: int | None = None) -> dict[str, str]:
        """The shop's settings."""
        return {row["name"]: row["value"] for row in table(self._entries, "settings.csv")}

    def recalled(self, question: str, digests: Mapping[str, str]) -> dict[str, str]:
        """Nothing is kept in a pack: it is recomputed."""
        return {}

    def keep(self, question: str, digests: Mapping[str, str], values: Mapping[str, str]) -> bool:
        """A pack is never written to."""
        return False

    def revisions(self) -> "pd.DataFrame":
        """Every write up to the pack's revision."""
        return _frame(self._entries, "revisions.csv", REVISIONS)

    def records(self, kind: Kind, as_of: int | None = None) -> "pd.DataFrame":
        """Limits that a person set, exclusions, choices, matters and reactions, as the store's frames."""
        if kind not in FRAMES:
            raise QuestionError(f"a pack keeps {kind} in no frame")
        name, kinds = FRAMES[kind]
        if kind in _LATER and f"{name}.csv" not in self._entries:
            # a pack made before anybody could choose or take up; one that lost them fails by its manifest
            return _frame({f"{name}.csv": lines(list(kinds), []).encode("utf-8")}, f"{name}.csv", kinds)
        return _frame(self._entries, f"{name}.csv", kinds)

    def _records(self, name: str, noun: type) -> list[Any]:
        return [records.read(noun, row) for row in table(self._entries, f"{name}.csv")]


def table(entries: Mapping[str, bytes | None], name: str) -> list[dict[str, str]]:
    """Rows of a CSV of a pack, every cell as text.

    Raises
    ------
    FileError
        When it is not there or is no table.
    """
    data = entries.get(name)
    if data is None:
        raise FileError(f"the pack has no whole {name}: ask for the pack again")
    try:
        rows = list(csv.reader(io.StringIO(data.decode("utf-8"), newline=""), strict=True))
    except (UnicodeDecodeError, csv.Error) as error:
        raise FileError(f"{name} in the pack is no table: ask for the pack again") from error
    if not rows or any(len(row) != len(rows[0]) for row in rows):
        raise FileError(f"{name} in the pack has rows of unlike length: ask for the pack again")
    return [dict(zip(rows[0], map(unguarded, row), strict=True)) for row in rows[1:]]


def document(entries: Mapping[str, bytes | None], name: str) -> dict[str, Any]:
    """An answer of a pack.

    Raises
    ------
    FileError
        When it is not there or is none.
    """
    data = entries.get(name)
    try:
        told = None if data is None else json.loads(data.decode("utf-8"))
    except ValueError as error:
        raise FileError(f"{name} in the pack is no JSON: ask for the pack again") from error
    if not isinstance(told, dict):
        raise FileError(f"the pack has no whole {name}: ask for the pack again")
    return told


def _frame(entries: Mapping[str, bytes | None], name: str, kinds: Mapping[str, str]) -> "pd.DataFrame":
    import pandas as pd

    from qc.store.frames import column

    rows = table(entries, name)
    try:
        cells = {key: [_cell(row[key], kind) for row in rows] for key, kind in kinds.items()}
        return pd.DataFrame({key: column(cells[key], kind) for key, kind in kinds.items()})
    except (KeyError, ValueError, TypeError, OverflowError) as error:
        raise FileError(f"{name} in the pack has not the columns it should have: ask for it again") from error


def _cell(text: str, kind: str) -> Any:
    if kind == "object":
        return json.loads(text or "null")
    if text == "":
        return None
    if kind in ("int64", "Int64"):
        return int(text)
    if kind == "bool":
        return {"true": True, "false": False}[text]
    return float(text) if kind == "float64" else text
