"""The store's schema, one for both back ends.

Tables of record only ever grow: a trigger refuses every change and deletion. What is not of record (`meta`,
`series_summary`, `kept`) can be worked out from them again.

A reading is one narrow row. What it shares with its neighbours in the file stands once in `context` (file,
sheet, column, build, gauge, ... and the revision), its place on the part once in `position`, its series once
in `series`.
"""

from collections.abc import Iterable
from dataclasses import fields
from types import NoneType
from typing import Any, Final, get_args

from sqlalchemy import (
    REAL,
    BigInteger,
    Column,
    Connection,
    Double,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
)

from qc.records import Build, Event, Gauge, Machine, PlanRow, Spec

SCHEMA: Final = 3

Whole: Final = BigInteger().with_variant(Integer(), "sqlite")
Real: Final[Any] = Double().with_variant(REAL(), "sqlite")

metadata: Final = MetaData()


def _key(name: str, *, of: str | None = None) -> Column:
    foreign = [] if of is None else [ForeignKey(of)]
    return Column(name, Whole, *foreign, primary_key=True, autoincrement=False)


def _whole(*names: str, null: bool = False) -> list[Column]:
    return [Column(name, Whole, nullable=null) for name in names]


def _text(*names: str, null: bool = True) -> list[Column]:
    return [Column(name, Text, nullable=null) for name in names]


def _bytes(name: str, *, null: bool = False) -> Column:
    return Column(name, LargeBinary, nullable=null)


def _of(name: str, key: str, *, null: bool = False) -> Column:
    return Column(name, Whole, ForeignKey(key), nullable=null)


def _revision() -> Column:
    return _of("revision", "revision.number")


meta: Final = Table("meta", metadata, Column("name", Text, primary_key=True), *_text("value"))

revision: Final = Table(
    "revision", metadata, _key("number"), *_whole("at"), *_text("by", "command", null=False), *_text("reason")
)

file: Final = Table(
    "file",
    metadata,
    _key("id"),
    Column("sha256", Text, nullable=False, unique=True),
    *_text("name", "status", null=False),
    *_text("kind"),
    *_whole("rows", "kept", "held", "already_kept"),
    _revision(),
)

# packed: zlib; apart from `file`, so that listing files does not read it
content: Final = Table(
    "content", metadata, _key("file_id", of="file.id"), *_whole("size"), _bytes("packed"), _revision()
)

SERIES: Final = ("machine", "operation", "characteristic", "method", "state")
series: Final = Table(
    "series", metadata, _key("id"), *_text(*SERIES, null=False), _revision(), UniqueConstraint(*SERIES)
)

series_summary: Final = Table(
    "series_summary",
    metadata,
    _key("series_id", of="series.id"),
    *_whole("readings", "last_arrival", "last_revision"),
    *_whole("first_at", "last_at", null=True),
)

position: Final = Table(
    "position",
    metadata,
    _key("id"),
    *_text("feature", null=False),
    *_whole("station", "clock", null=True),
    _revision(),
    Index("position_feature", "feature"),
)

CONTEXT_TEXT: Final = (
    "build", "engine", "serial", "unit", "gauge", "operator", "sized_with", "master", "torque", "material",
    "note",
)  # fmt: skip
context: Final = Table(
    "context",
    metadata,
    _key("id"),
    _of("file_id", "file.id"),
    *_text("sheet"),
    *_text("column", null=False),
    *_text(*CONTEXT_TEXT),
    *_whole("relative", "made_is_date"),
    Column("part_c", Real),
    Column("gauge_c", Real),
    _revision(),
    Index("context_file", "file_id"),
    Index("context_build", "build"),
    Index("context_gauge", "gauge"),
    Index("context_revision", "revision"),
)

reading: Final = Table(
    "reading",
    metadata,
    _key("series_id", of="series.id"),
    _key("arrival"),
    _of("context_id", "context.id"),
    _of("position_id", "position.id"),
    *_whole("row", "correction", "version", "trial"),
    *_whole("pass", "order", null=True),
    *_whole("value"),
    *_whole("target", "lower", "upper", null=True),
    *_whole("measured_at", "made_at"),
    _bytes("place"),
    *_text("text", null=False),
    # a place within its series: random keys stay near each other however large the store is
    UniqueConstraint("series_id", "place", "version", name="reading_place"),
    Index("reading_row", "context_id", "row"),
    sqlite_with_rowid=False,
)

void: Final = Table(
    "void",
    metadata,
    _key("series_id"),
    _key("arrival"),
    *_text("reason", null=False),
    *_text("replaced_by"),
    _revision(),
    ForeignKeyConstraint(["series_id", "arrival"], ["reading.series_id", "reading.arrival"]),
)

finding: Final = Table(
    "finding",
    metadata,
    _key("id"),
    _of("file_id", "file.id", null=True),
    *_text("severity", "code", "cells", null=False),
    *_whole("count"),
    *_text("saw", "doubt", "proposal", "effect"),
    _revision(),
    Index("finding_file", "file_id"),
)

held: Final = Table(
    "held",
    metadata,
    _key("id"),
    _of("finding_id", "finding.id"),
    _of("file_id", "file.id", null=True),
    *_text("sheet"),
    *_whole("row", "readings"),
    *_text("fields", null=False),
    *_text("record", *SERIES, "build"),
    _bytes("place", null=True),
    _revision(),
    Index("held_finding", "finding_id"),
    Index("held_place", "place"),
)

decision: Final = Table(
    "decision",
    metadata,
    _key("seq"),
    _of("finding_id", "finding.id"),
    *_text("decision", null=False),
    *_text("reason"),
    _revision(),
    Index("decision_finding", "finding_id"),
)

decided: Final = Table(
    "decided", metadata, _key("held_id", of="held.id"), _of("decision_id", "decision.seq"), _revision()
)

NOUNS: Final[dict[str, type]] = {
    "spec": Spec, "event": Event, "gauge": Gauge, "build": Build, "machine": Machine, "plan": PlanRow,
}  # fmt: skip


def _fields(noun: type) -> Iterable[Column]:
    for item in fields(noun):
        told = set(get_args(item.type)) or {item.type}
        null = NoneType in told
        if item.name != "source":
            yield from (_whole if told & {int, bool} else _text)(item.name, null=null)


def _register(name: str, *columns: Column) -> Table:
    return Table(
        name,
        metadata,
        _key("seq"),
        *columns,
        _of("file_id", "file.id", null=True),
        *_whole("row", null=True),
        *_text("sheet", "column", "text"),
        _revision(),
    )


REGISTERS: Final[dict[str, Table]] = {kind: _register(kind, *_fields(noun)) for kind, noun in NOUNS.items()}
REGISTERS["setting"] = _register("setting", *_text("name", null=False), *_text("value"))
REGISTERS["set_limit"] = _register(
    "set_limit",
    *_text(*SERIES, null=False),
    *(Column(name, Real) for name in ("center", "lower", "upper")),
    *_text("reason"),
)
REGISTERS["exclusion"] = _register("exclusion", *_text("scope", "reason", null=False))
# what a person chose for one series (chart, family, ...), with why; a null value goes back to the usual one
REGISTERS["choice"] = _register("choice", *_text(*SERIES, "name", null=False), *_text("value", "reason"))
# the life of a matter, a row an act: opened, taken up, done, ended, ...; `told` is JSON
REGISTERS["matter"] = _register(
    "matter",
    *_text("matter", "act", null=False),
    *_whole("at", null=True),
    *_text("initials", "said", "told"),
)
# what is to be done when a characteristic leaves; a null `does` takes it back
REGISTERS["reaction"] = _register(
    "reaction",
    *_text("characteristic", null=False),
    *_text("machine", "operation", "does", "tells", "remeasures"),
)
REGISTERS["notice"] = _register("notice", *_text("matter", "kind", "recipient", null=False))
SINCE_3: Final = ("choice", "matter", "reaction", "notice")

withdrawal: Final = Table(
    "withdrawal", metadata, Column("kind", Text, primary_key=True), _key("seq"), *_text("reason"), _revision()
)

# answers kept for speed, one a question and subject; `digest` is of all that went in, a row may go any time
kept: Final = Table(
    "kept", metadata,
    Column("question", Text, primary_key=True), Column("subject", Text, primary_key=True),
    *_text("digest", "value"),
)  # fmt: skip

DERIVED: Final = (meta, series_summary, kept)
OF_RECORD: Final = tuple(t for t in metadata.sorted_tables if t not in DERIVED)
_REFUSAL: Final = "what is recorded is never changed or deleted: add a row that supersedes it"
_REFUSE_CHANGE: Final = (
    "CREATE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS "
    f"$$ BEGIN RAISE EXCEPTION '{_REFUSAL}'; END $$"
)


def create(connection: Connection) -> None:
    """Create all tables and the triggers that refuse change."""
    metadata.create_all(connection)
    if connection.dialect.name != "sqlite":
        connection.exec_driver_sql(_REFUSE_CHANGE)
    guard(connection, [t.name for t in OF_RECORD])


def guard(connection: Connection, names: Iterable[str]) -> None:
    """Make the database refuse changes of these tables of record."""
    refuse = _refuse_sqlite if connection.dialect.name == "sqlite" else _refuse_postgresql
    for statement in refuse(names):
        connection.exec_driver_sql(statement)


def _refuse_sqlite(names: Iterable[str]) -> Iterable[str]:
    for name in names:
        for change in ("UPDATE", "DELETE"):
            yield (
                f"CREATE TRIGGER {name}_no_{change.lower()} BEFORE {change} ON {name} "
                f"BEGIN SELECT RAISE(ABORT, '{_REFUSAL}'); END"
            )


def _refuse_postgresql(names: Iterable[str]) -> Iterable[str]:
    for name in names:
        yield (
            f"CREATE TRIGGER {name}_no_change BEFORE UPDATE OR DELETE OR TRUNCATE ON {name} "
            "FOR EACH STATEMENT EXECUTE FUNCTION refuse_change()"
        )
