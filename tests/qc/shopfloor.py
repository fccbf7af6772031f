"""A small shop for tests: rows written to files and taken in as everybody takes them in."""

import csv
import io
from collections.abc import Mapping, Sequence
from itertools import count
from pathlib import Path

from qc.history import History, history
from qc.ingest.run import FileResult, ingest
from qc.records import Asked
from qc.store import Store

Rows = Sequence[Mapping[str, object]]


def text(rows: Rows) -> str:
    """A comma-separated file of rows; what a row lacks is blank."""
    columns = list(dict.fromkeys(name for row in rows for name in row))
    out = io.StringIO()
    writer = csv.DictWriter(out, columns, restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


def reading(build: str | None = "B1", feature: str = "cyl-1", value: object = 0, **more: object) -> dict:
    """One bore size of hone-1, off a target of 96 mm in um, unless said otherwise."""
    return {
        "build": build or "", "engine": "v8", "machine": "hone-1", "operation": "plateau_hone",
        "characteristic": "bore_diameter", "feature": feature, "state": "plate_on", "reading": "deviation",
        "value": value, "unit": "um", "target": "96", "measured_at": "2026-05-04T08:00", "gauge": "bg-1",
    } | more  # fmt: skip


def block(build: str, at: str, values: Sequence[object], **more: object) -> list[dict]:
    """Bores of one block, cyl-1 on, one reading each, in the order they were made."""
    return [
        reading(build, f"cyl-{i + 1}", v, measured_at=at, order=i + 1, **more) for i, v in enumerate(values)
    ]


def ra(build: str, at: str, values: Sequence[object], **more: object) -> list[dict]:
    """Ra of the bores of one block."""
    told = {"characteristic": "ra", "reading": "", "target": "", "gauge": "rt-1"} | more
    return block(build, at, values, **told)


def window(lower: object, upper: object, **more: object) -> dict:
    """Limits of bore sizes as distances from each build's own target [um]."""
    return {
        "characteristic": "bore_diameter", "reading": "deviation", "lower": lower, "upper": upper,
        "unit": "um", "source": "book",
    } | more  # fmt: skip


def event(kind: str, at: str, machine: str = "hone-1", **more: object) -> dict:
    return {"machine": machine, "at": at, "event": kind} | more


class Shop:
    """A store with files taken into it; every row is kept unless the test says how many wait."""

    def __init__(self, store: Store, folder: Path) -> None:
        self.store, self.folder, self._numbers = store, folder, count(1)
        with store.write(by="test", command="set up") as write:
            write.set("zone", "UTC")

    def take(self, rows: Rows | str, name: str | None = None, *, held: int = 0) -> FileResult:
        """Take one file in."""
        place = self.folder / (name or f"file-{next(self._numbers)}.csv")
        place.write_text(rows if isinstance(rows, str) else text(rows), encoding="utf-8")
        result = ingest(self.store, [place], by="test").files[0]
        assert result.held == held, result.findings
        return result

    def history(self, *, with_excluded: bool = False, **asked: object) -> History:
        """Everything, or what the filters let through."""
        return history(self.store, Asked(**asked), with_excluded=with_excluded)

    def exclude(self, reason: str = "test", **scope: object) -> None:
        """Keep readings out of the answers."""
        with self.store.write(by="test", command="exclude", reason=reason) as write:
            write.exclude(scope, reason)
