"""Cells that count, marked: put under another name, or voided, when a person says so."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any, Final

from qc.errors import QuestionError
from qc.ingest import counted, sorting
from qc.ingest.desk import REGISTERS, Desk
from qc.ingest.kinds import canonical
from qc.ingest.parsed import parsed
from qc.ingest.rows import Row
from qc.ingest.sorting import Sorted
from qc.records import Reading
from qc.store import Store, Write

_MARKS: Final = (",", ".")


def changed(
    store: Store, write: Write, finding: Any, decision: str, reason: str, correction: Any, by: str
) -> tuple[int, int]:
    """Rename or void what an `ask` is about; rows that count under the new name, rows held instead.

    Raises
    ------
    QuestionError
        When there is nothing to correct.
    """
    if finding.code not in ("new_name", "decimal_marks"):
        return counted.changed(store, write, finding, decision, reason, correction, by), 0
    column = canonical(finding.cells[0].column) or ""
    to = _to(finding, correction, column) if decision == "correct" else None
    rows = _rows(store, finding, column, by)
    done = Sorted()
    file_id = int(finding.file_id)
    for row in rows:
        new = replace(row.record, **{column: to}) if to is not None else None  # type: ignore[type-var]
        if isinstance(row.record, Reading):
            _reading(write, file_id, replace(row, record=new), row.record, reason, done)
        else:
            _record(store, write, finding, row, new, reason)
            done.kept.append(row)
    findings, held = done.findings()
    write.add_findings(file_id, findings, held)
    return (len(done.kept) if to is not None else 0), len(done.holding)


def _to(finding: Any, correction: Any, column: str) -> str:
    if finding.code != "new_name":
        raise QuestionError(f"finding {finding.id} is about figures that are read: accept or discard it")
    if isinstance(correction, Mapping):
        correction = next((t for c, t in correction.items() if canonical(c) == column), None)
    to = (correction or _proposed(finding)).strip()
    if not to:
        raise QuestionError(f"say which {column} it is")
    return to


def _proposed(finding: Any) -> str:
    # the sentence is ours: "Is it hone-2? Correct takes hone-2; accept keeps ..."
    return str(finding.proposal).partition("Correct takes ")[2].partition("; accept")[0]


def _rows(store: Store, finding: Any, column: str, by: str) -> list[Row]:
    """The rows of the file that a finding is about: it lists at most 200 of their cells."""
    shop = Desk(store, by=by, command="held").shop
    read = parsed(finding.file, store.file_content(finding.sha256), shop, finding.sha256)
    text = finding.cells[0].text
    about: Callable[[Row], bool]
    if finding.code == "decimal_marks":
        mark = next(m for m in _MARKS if m in text)

        def about(row: Row) -> bool:
            return isinstance(row.record, Reading) and mark in row.record.source.text
    else:

        def about(row: Row) -> bool:
            return bool(getattr(row.record, column, None) == text)

    return [row for row in read.rows if row.record is not None and about(row)]


def _reading(write: Write, file_id: int, row: Row, old: Reading, reason: str, done: Sorted) -> None:
    counting = [k.reading_id for k in write.known([old])[0] if k.status == "counts" and k.reading_id]
    mine = [i for i in counting if i.startswith(old.source.place)]
    if not mine:
        return  # held, or voided since: not what counts under that name
    if row.record is None:
        write.void(mine[-1], reason)
        return
    assert isinstance(row.record, Reading)
    left = sorting.already_known([row], write.known([row.record]), done)
    new = sorting.doubt_identity(left, [], done, frozenset({"perhaps_again"}))
    if not new:
        write.void(mine[-1], reason)
        return
    write.add_readings(file_id, [row.record], replaces={0: mine[-1]}, suffix=2)
    done.kept.append(row)


def _record(store: Store, write: Write, finding: Any, row: Row, new: Any, reason: str) -> None:
    register, method = REGISTERS[row.kind]
    there = store.records(register)  # type: ignore[arg-type]
    mine = there[(there["sha256"] == finding.sha256) & (there["row"] == row.number)]
    for seq in mine["seq"]:
        write.withdraw(register, int(seq), reason)
    if new is not None and len(mine):
        getattr(write, method)(int(finding.file_id), [new])
