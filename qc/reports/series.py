"""The series in the store: what each is, how much of it counts, and its condition."""

from typing import Any

from qc.history import history
from qc.records import Asked
from qc.reports.conditions import conditions
from qc.reports.heads import Heads
from qc.reports.question import head
from qc.reports.words import plural, series_name


def answer(store: Any, asked: Asked) -> dict[str, Any]:
    """Heads of the series the question is about."""
    found = history(store, asked)
    heads = Heads(found, conditions(store, asked.as_of))
    rows = []
    for key in heads.series_keys():
        row = heads.head(key)
        row["sentence"] = f"{series_name(row)}: {row['condition']}, {plural(row['blocks'], 'block')}."
        rows.append(row)
    return {**head("series", found.revision, asked, found.settings), "series": rows}
