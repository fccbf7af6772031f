"""What is to be done when a characteristic leaves: the shop's own words, kept with who said so."""

from collections.abc import Sequence
from typing import Any

from qc.catalogue import said
from qc.errors import QuestionError
from qc.records import Asked
from qc.reports.question import head
from qc.reports.words import plain

PARTS = ("does", "tells", "remeasures")
LONGEST = 500
Row = dict[str, Any]


def one_sentence(text: str | None, what: str) -> str | None:
    """Words in one line, None for none.

    Raises
    ------
    QuestionError
        When they are longer than a sentence is.
    """
    told = " ".join((text or "").split())
    if len(told) > LONGEST:
        raise QuestionError(f"{what} has {len(told)} characters: say it in one sentence, {LONGEST} at most")
    if any(not c.isprintable() for c in told):
        raise QuestionError(f"{what} has signs that cannot be printed: write it in plain words")
    return told or None


def in_force(store: Any, as_of: int | None = None) -> list[Row]:
    """Reactions in force, in order of their characteristic."""
    rows = store.records("reaction", as_of).to_dict("records")
    told = [
        {k: (v if isinstance(v, str) else None) for k, v in row.items()
         if k in ("characteristic", "machine", "operation", *PARTS, "by")}
        for row in rows
    ]  # fmt: skip
    found = [row for row in told if row["does"] is not None]
    return sorted(found, key=lambda r: tuple(r[k] or "" for k in ("characteristic", "machine", "operation")))


def reaction_to(rows: Sequence[Row], key: Sequence[str]) -> Row | None:
    """The reaction of a series: that of its machine and operation before one of all machines."""
    fits = [
        row for row in rows
        if row["characteristic"] == key[2]
        and row["machine"] in (None, key[0]) and row["operation"] in (None, key[1])
    ]  # fmt: skip
    return max(fits, key=lambda r: (r["machine"] is not None, r["operation"] is not None), default=None)


def words(row: Row) -> str:
    """A reaction in one sentence after another."""
    parts = [row["does"]]
    parts += [f"tell {row['tells']}"] if row["tells"] else []
    parts += [f"measure again: {row['remeasures']}"] if row["remeasures"] else []
    return "; ".join(parts)


def about(row: Row) -> str:
    """`bore taper on hone-1, finish bore` of a reaction."""
    where = [w for w in (row["machine"], said(row["operation"]) if row["operation"] else None) if w]
    return said(row["characteristic"]) + (f" on {', '.join(where)}" if where else "")


def answer(store: Any, asked: Asked) -> dict[str, Any]:
    """The reactions in force."""
    rows = in_force(store, asked.as_of)
    out = head("reactions", store.revision(asked.as_of), asked, store.settings(asked.as_of))
    wanted = {"machine": asked.machine, "operation": asked.operation, "characteristic": asked.characteristic}
    rows = [r for r in rows if all(not v or r[k] in (None, *v) for k, v in wanted.items())]
    out["reactions"] = [{**row, "sentence": f"{about(row)}: {words(row)}"} for row in rows]
    out["cautions"] = []
    return plain(out)
