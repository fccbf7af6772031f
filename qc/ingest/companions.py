"""Findings about rows that wait under another finding: a row with two faults is held once, by the first."""

from collections.abc import Iterable
from typing import Any

import pandas as pd

from qc.store import Store, Write

Place = tuple[str | None, int]


def _waiting(store: Store, file_id: int) -> dict[int, tuple[int, Place]]:
    """Finding and place of each row of a file that waits, by its number."""
    held = store.held()
    mine = held[held["file_id"] == file_id]
    return {
        int(h.id): (int(h.finding_id), (None if pd.isna(h.sheet) else h.sheet, int(h.row)))
        for h in mine.itertuples()
    }


def _places(finding: Any) -> set[Place]:
    return {(c.sheet, c.row) for c in finding.cells}


def holding(store: Store, finding: Any) -> list[int]:
    """Numbers of the findings under which the rows of this one wait."""
    places = _places(finding)
    waiting = _waiting(store, int(finding.file_id)).values()
    return sorted({number for number, place in waiting if place in places})


def close(
    store: Store, write: Write, file_id: int, settled: Iterable[int], decision: str, reason: str
) -> None:
    """Decide about findings whose rows have all been decided about under others.

    Parameters
    ----------
    file_id : int
    settled : iterable of int
        Numbers of the held rows that this write decides about; the store does not show it yet.
    """
    gone = set(settled)
    left = {place for number, (_, place) in _waiting(store, file_id).items() if number not in gone}
    findings = store.findings()
    bare = findings[
        (findings["file_id"] == file_id) & (findings["severity"] == "stop") & (findings["held"] == 0)
    ]
    for finding in bare.itertuples():
        if finding.cells and not _places(finding) & left:
            write.decide(int(finding.id), decision, reason)  # type: ignore[arg-type]
