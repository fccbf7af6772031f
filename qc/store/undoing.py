"""A decision taken back: what it added is void, what it took away comes back, what it settled waits again.

Nothing is deleted: all of it are new rows of a new revision.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any, Final

from sqlalchemy import ColumnElement, and_, select

from qc.errors import QuestionError, StoreError
from qc.records import Finding, HeldRow, Reading, Source
from qc.store import became, identity, registers, tables
from qc.store.nouns import unpacked, unpacked_cells, unpacked_fields
from qc.store.write import Write

_SHARED: Final = ("build", "engine", "serial", "unit", "gauge", "operator", "sized_with", "master", "torque",
                  "material", "note", "part_c", "gauge_c")  # fmt: skip
_NAMED: Final = ("build", "machine", "spec", "event", "gauge", "plan", "setting")


@dataclass(frozen=True, slots=True)
class Undone:
    """Readings made void, readings that count again, and numbers of the findings that wait again."""

    void: int
    back: int
    findings: tuple[int, ...]


def undo(write: Write, revision: int, reason: str) -> Undone:
    """Take back all that a revision did by a decision.

    Raises
    ------
    QuestionError
        When it was taken back already, or something of it was changed since: that has to be taken back first.
    """
    back = became.taken_back(write.connection)
    became.refuse(revision, back)
    added = _added(write, revision, back)
    gone = [row for row in _readings(write, tables.void.c.revision == revision) if row.added != revision]
    still_open = became.still_open(write.connection, revision, back)
    for row in added:
        write.void(_id(row), f"undone: {reason}")
    _bring_back(write, gone)
    _registers(write, revision, reason, back)
    for number in still_open:  # the rows that wait under it wait under the first one again
        write.decide(number, "discard", f"undone: {reason}")
    return Undone(len(added), len(gone), _reopened(write, revision))


def _readings(write: Write, which: ColumnElement[bool]) -> Sequence[Any]:
    r, c, p, s, v, f = (t.c for t in (tables.reading, tables.context, tables.position, tables.series,
                                      tables.void, tables.file))  # fmt: skip
    own = (r.row, r.correction, r.trial, r["pass"].label("pass_"), r.order, r.value, r.target, r.lower,
           r.upper, r.measured_at, r.made_at, r.text, r.arrival)  # fmt: skip
    shared = (c.file_id, c.sheet, c.column, c.relative, c.made_is_date, *(c[n] for n in _SHARED))
    statement = (
        select(*own, *shared, *(s[n] for n in tables.SERIES), p.feature, p.station, p.clock, f.sha256,
               c.revision.label("added"), v.revision.label("voided"))
        .join_from(tables.reading, tables.context, r.context_id == c.id)
        .join(tables.position, p.id == r.position_id)
        .join(tables.series, s.id == r.series_id)
        .join(tables.file, f.id == c.file_id)
        .outerjoin(tables.void, and_(v.series_id == r.series_id, v.arrival == r.arrival))
        .where(which)
        .order_by(r.series_id, r.arrival)
    )  # fmt: skip
    return write.connection.execute(statement).all()


def counting(
    write: Write, file_id: int, rows: Sequence[tuple[str | None, int]]
) -> list[tuple[str, Source]]:
    """Id and source of each reading of these rows (sheet, row) of a file that counts."""
    c, r, v = tables.context.c, tables.reading.c, tables.void.c
    wanted = set(rows)
    some = and_(c.file_id == file_id, r.row.in_(sorted({row for _, row in rows})), v.revision.is_(None))
    found = _readings(write, some)
    return [
        (_id(one), Source(one.sha256, one.row, one.column, one.text, one.sheet))
        for one in found
        if (one.sheet, one.row) in wanted
    ]


def _added(write: Write, revision: int, back: Mapping[int, int]) -> list[Any]:
    """Readings that the revision added, as they count by now."""
    found, left = [], list(_readings(write, tables.context.c.revision == revision))
    while left:
        row = left.pop()
        if row.voided is None:
            found.append(row)
        elif row.voided != row.added:
            since = became.since(row.voided, back)
            came_back = _readings(write, tables.context.c.revision == since)
            left += [one for one in came_back if _cell(one) == _cell(row)]
    return found


def _cell(row: Any) -> tuple[object, ...]:
    series = tuple(getattr(row, name) for name in tables.SERIES)
    return (row.sha256, row.sheet, row.row, row.column, *series, row.value)


def _id(row: Any) -> str:
    return identity.told(row.sha256, row.sheet, row.row, row.column, row.correction)


def _bring_back(write: Write, rows: Sequence[Any]) -> None:
    by_file: dict[int, list[Reading]] = defaultdict(list)
    for row in rows:
        by_file[row.file_id].append(_reading(row))
    for file_id, some in by_file.items():
        try:
            write.add_readings(file_id, some)
        except StoreError as taken:
            raise QuestionError(
                "another reading counts by now where one would come back: void that one first, then undo"
            ) from taken


def _reading(row: Any) -> Reading:
    told = {item.name: getattr(row, item.name) for item in fields(Reading) if item.name != "source"}
    told["relative"], told["made_is_date"] = bool(row.relative), bool(row.made_is_date)
    return Reading(**told, source=Source(row.sha256, row.row, row.column, row.text, row.sheet))


def _registers(write: Write, revision: int, reason: str, back: Mapping[int, int]) -> None:
    for kind in _NAMED:
        names = [c.name for c in tables.REGISTERS[kind].columns if c.name not in ("seq", "revision")]
        every = registers.rows(write.connection, kind, None, all_rows=True)
        left = [row for row in every if row["revision"] == revision]
        while left:
            row = left.pop()
            if row["withdrawn_in"] is None:
                write.withdraw(kind, int(row["seq"]), reason)
            elif row["withdrawn_in"] != row["revision"]:
                since = became.since(row["withdrawn_in"], back)
                left += [r for r in every if r["revision"] == since and all(r[n] == row[n] for n in names)]
        gone = [row for row in every if row["withdrawn_in"] == revision and row["revision"] != revision]
        write.put_back(kind, [{n: row[n] for n in names} for row in gone])


def _reopened(write: Write, revision: int) -> tuple[int, ...]:
    """Numbers of copies of the findings that the revision decided about, holding the rows it settled."""
    d, f, h, s = (t.c for t in (tables.decision, tables.finding, tables.held, tables.decided))
    decided = list(write.connection.scalars(select(d.finding_id).where(d.revision == revision).distinct()))
    numbers = []
    for number in sorted(decided):
        found = write.connection.execute(select(tables.finding).where(f.id == number)).one()
        rows = write.connection.execute(
            select(tables.held)
            .join_from(tables.held, tables.decided, s.held_id == h.id)
            .where(h.finding_id == number, s.revision == revision)
            .order_by(h.id)
        ).all()
        held = [
            HeldRow(r.row, r.sheet, 0, tuple(unpacked_fields(r.fields).items()),
                    None if r.record is None else unpacked(r.record))
            for r in rows
        ]  # fmt: skip
        copy = Finding(
            found.severity, found.code, tuple(unpacked_cells(found.cells)), found.saw, found.doubt,
            found.proposal, found.effect, found._mapping["count"],
        )  # fmt: skip
        numbers += write.add_findings(found.file_id, [copy], held)
    return tuple(numbers)
