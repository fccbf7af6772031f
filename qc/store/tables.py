"""The store's schema, one for both back ends.

Tables of record only ever grow: a trigger refuses every change and deletion. What is not of record (`meta`,
`series_summary`) can be worked out from them again.

A reading is one narrow row. What it shares with its neighbours in the file stands once in `context` (file, sheet,
column, build, gauge, ... and the revision), its place on the part once in `position`, its series once in `series`.
"""

from collections.abc import Iterable
from dataclasses import fields
from types import NoneType
from typing import Final, get_args

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

SCHEMA: Final = 1

Whole: Final = BigInteger().with_variant(Integer(), "sqlite")
Real: Final = Double().with_variant(REAL(), "sqlite")

metadata: Final = MetaData()


def _key(name: str) -> Column:
    return Column(name, Whole, primary_key=True, autoincrement=False)


def _whole(name: str, *, null: bool = False) -> Column:
    return Column(name, Whole, nullable=null)


def _text(name: str, *, null: bool = True) -> Column:
    return Column(name, Text, nullable=null)


def _of(table: str, name: str | None = None, *, null: bool = False) -> Column:
    key = {"revision": "number", "decision": "seq"}.get(table, "id")
    return Column(name or f"{table}_id", Whole, ForeignKey(f"{table}.{key}"), nullable=null)


def _revision() -> Column:
    return _of("revision", "revision")


meta: Final = Table("meta", metadata, Column("name", Text, primary_key=True), _text("value"))

revision: Final = Table(
    "revision", metadata, _key("number"), _whole("at"), _text("by", null=False), _text("command", null=False),
    _text("reason"),
)  # fmt: skip

file: Final = Table(
    "file", metadata, _key("id"), Column("sha256", Text, nullable=False, unique=True), _text("name", null=False),
    _text("kind"), _text("status", null=False), _whole("rows"), _whole("kept"), _whole("held"),
    _whole("already_kept"), _revision(),
)  # fmt: skip

# packed: zlib; apart from `file`, so that listing files does not read them
content: Final = Table(
    "content", metadata, Column("file_id", Whole, ForeignKey("file.id"), primary_key=True, autoincrement=False),
    _whole("size"), Column("packed", LargeBinary, nullable=False), _revision(),
)  # fmt: skip

SERIES: Final = ("machine", "operation", "characteristic", "method", "state")
series: Final = Table(
    "series",
    metadata,
    _key("id"),
    *(_text(n, null=False) for n in SERIES),
    _revision(),
    UniqueConstraint(*SERIES),
)

series_summary: Final = Table(
    "series_summary", metadata,
    Column("series_id", Whole, ForeignKey("series.id"), primary_key=True, autoincrement=False),
    _whole("readings"), _whole("first_at", null=True), _whole("last_at", null=True), _whole("last_revision"),
)  # fmt: skip

position: Final = Table(
    "position", metadata, _key("id"), _text("feature", null=False), _whole("station", null=True),
    _whole("clock", null=True), _revision(), Index("position_feature", "feature"),
)  # fmt: skip

CONTEXT_TEXT: Final = (
    "build", "engine", "serial", "unit", "gauge", "operator", "sized_with", "master", "torque", "material", "note",
)  # fmt: skip
context: Final = Table(
    "context", metadata, _key("id"), _of("file"), _text("sheet"), _text("column", null=False),
    *(_text(n) for n in CONTEXT_TEXT), _whole("relative"), _whole("made_is_date"),
    Column("part_c", Real), Column("gauge_c", Real), _revision(),
    Index("context_file", "file_id"), Index("context_build", "build"), Index("context_gauge", "gauge"),
    Index("context_revision", "revision"),
)  # fmt: skip

# place within its series: random keys stay near each other however large the store is
reading: Final = Table(
    "reading", metadata, Column("series_id", Whole, ForeignKey("series.id"), primary_key=True, autoincrement=False),
    _key("arrival"), _of("context"), _of("position"), _whole("row"), _whole("correction"), _whole("version"),
    _whole("trial"), _whole("pass", null=True), _whole("order", null=True), _whole("value"),
    _whole("target", null=True), _whole("lower", null=True), _whole("upper", null=True), _whole("measured_at"),
    _whole("made_at"), Column("place", LargeBinary, nullable=False), _text("text", null=False),
    UniqueConstraint("series_id", "place", "version", name="reading_place"), Index("reading_row", "context_id", "row"),
    sqlite_with_rowid=False,
)  # fmt: skip

void: Final = Table(
    "void", metadata, _key("series_id"), _key("arrival"), _text("reason", null=False), _text("replaced_by"),
    _revision(), ForeignKeyConstraint(["series_id", "arrival"], ["reading.series_id", "reading.arrival"]),
)  # fmt: skip

finding: Final = Table(
    "finding", metadata, _key("id"), _of("file", null=True), _text("severity", null=False), _text("code", null=False),
    _whole("count"), _text("cells", null=False), _text("saw"), _text("doubt"), _text("proposal"), _text("effect"),
    _revision(), Index("finding_file", "file_id"),
)  # fmt: skip

held: Final = Table(
    "held", metadata, _key("id"), _of("finding"), _of("file", null=True), _text("sheet"), _whole("row"),
    _text("fields", null=False), _text("record"), Column("place", LargeBinary), _whole("readings"),
    *(_text(n) for n in (*SERIES, "build")), _revision(),
    Index("held_finding", "finding_id"), Index("held_place", "place"),
)  # fmt: skip

decision: Final = Table(
    "decision", metadata, _key("seq"), _of("finding"), _text("decision", null=False), _text("reason"), _revision(),
    Index("decision_finding", "finding_id"),
)  # fmt: skip

decided: Final = Table(
    "decided", metadata, Column("held_id", Whole, ForeignKey("held.id"), primary_key=True, autoincrement=False),
    _of("decision"), _revision(),
)  # fmt: skip

NOUNS: Final[dict[str, type]] = {
    "spec": Spec, "event": Event, "gauge": Gauge, "build": Build, "machine": Machine, "plan": PlanRow,
}  # fmt: skip


def _fields(noun: type) -> Iterable[Column]:
    for item in fields(noun):
        if item.name == "source":
            continue
        told = set(get_args(item.type)) or {item.type}
        null = NoneType in told
        yield _whole(item.name, null=null) if told & {int, bool} else _text(item.name, null=null)


def _register(name: str, *columns: Column) -> Table:
    return Table(
        name, metadata, _key("seq"), *columns, _of("file", null=True), _text("sheet"), _whole("row", null=True),
        _text("column"), _text("text"), _revision(),
    )  # fmt: skip


REGISTERS: Final[dict[str, Table]] = {kind: _register(kind, *_fields(noun)) for kind, noun in NOUNS.items()}
REGISTERS["setting"] = _register("setting", _text("name", null=False), _text("value"))
REGISTERS["set_limit"] = _register(
    "set_limit", *(_text(n, null=False) for n in SERIES), Column("center", Real), Column("lower", Real),
    Column("upper", Real), _text("reason"),
)  # fmt: skip
REGISTERS["exclusion"] = _register("exclusion", _text("scope", null=False), _text("reason", null=False))

withdrawal: Final = Table(
    "withdrawal", metadata, Column("kind", Text, primary_key=True), _key("seq"), _text("reason"), _revision()
)

DERIVED: Final = (meta, series_summary)
OF_RECORD: Final = tuple(t for t in metadata.sorted_tables if t not in DERIVED)
_REFUSAL: Final = "what is recorded is never changed or deleted: add a row that supersedes it"


def create(connection: Connection) -> None:
    """Create all tables and the triggers that refuse change."""
    metadata.create_all(connection)
    refuse = _refuse_sqlite if connection.dialect.name == "sqlite" else _refuse_postgresql
    for statement in refuse([t.name for t in OF_RECORD]):
        connection.exec_driver_sql(statement)


def _refuse_sqlite(names: Iterable[str]) -> Iterable[str]:
    for name in names:
        for change in ("UPDATE", "DELETE"):
            yield (
                f"CREATE TRIGGER {name}_no_{change.lower()} BEFORE {change} ON {name} "
                f"BEGIN SELECT RAISE(ABORT, '{_REFUSAL}'); END"
            )


def _refuse_postgresql(names: Iterable[str]) -> Iterable[str]:
    yield (
        "CREATE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS "
        f"$$ BEGIN RAISE EXCEPTION '{_REFUSAL}'; END $$"
    )
    for name in names:
        yield (
            f"CREATE TRIGGER {name}_no_change BEFORE UPDATE OR DELETE OR TRUNCATE ON {name} "
            "FOR EACH STATEMENT EXECUTE FUNCTION refuse_change()"
        )
