"""Profile traces among the files: which reader reads one, which layout says what it is about."""

from collections.abc import Sequence
from pathlib import PurePosixPath
from typing import TYPE_CHECKING, Any, Final

from qc import units
from qc.errors import FileError
from qc.ingest import beside, delimited, trace_sdf, trace_text, trace_words, trace_x3p
from qc.ingest.kinds import kind_of
from qc.ingest.layout_trace import TraceLayout
from qc.ingest.line import Shop
from qc.ingest.rows import CELL, Row
from qc.ingest.spread import Spread
from qc.records import Finding, Reading

if TYPE_CHECKING:
    from qc.ingest.layout import Layout
    from qc.ingest.trace import Profile

_HEAD: Final = 65_536


def kind(data: bytes, name: str) -> str | None:
    """Which kind of trace a file is: sdf, x3p, or text that looks like one; None for none."""
    head = data[:_HEAD]
    if trace_sdf.claims(head, name):
        return "sdf"
    if trace_x3p.claims(data, name):
        return "x3p"
    if head.startswith(b"PK") or b"\x00" in head[:64]:
        return None
    return "text" if trace_text.claims(head, name) else None


def read(
    data: bytes, name: str, shop: Shop, sha256: str, layouts: Sequence["Layout"] = ()
) -> Spread | None:
    """Readings of a trace, or the finding that says what a layout must tell; None for another kind of file.

    Raises
    ------
    FileError
        When it is a trace and cannot be read or judged.
    """
    shelf = [one for one in layouts if one.traces and one.for_file(name)]
    found = kind(data, name)
    if found is None and shelf and _may_be_text(data):
        found = "text"
    if found is None:
        return None
    fit = [(one, t) for one in shelf for t in one.traces if t.parts(name) is not None]
    if len(fit) != 1:
        return _waiting(trace_words.unread(*_why(fit, shelf, found, name)))
    by, layout = fit[0]
    profiles = _profiles(data, found, layout, by.name)
    missing = layout.missing(name, bool(profiles[0].at))
    if missing:
        return _waiting(trace_words.layout_says_not(by.name, missing))
    from qc.ingest import trace_figures

    rows, said = trace_figures.rows(profiles, layout, by, name, shop, sha256)
    return Spread(tuple(rows), tuple(said), True, (), (by,))


def _waiting(why: Finding) -> Spread:
    return Spread((), (why,), True)


def _may_be_text(data: bytes) -> bool:
    """Whether a file that a layout's name fits is text without a header of ours."""
    if not delimited.claims(data[:_HEAD], ""):
        return False
    return not any(kind_of(row) for row in delimited.first_rows(data))


def _why(
    fit: Sequence[tuple["Layout", TraceLayout]], shelf: Sequence["Layout"], found: str, name: str
) -> tuple[str, str]:
    """Why no single layout fits a trace, and the cure."""
    if len(fit) > 1:
        both = " and ".join(dict.fromkeys(one.name for one, _ in fit))
        return f"more than one [[trace]] fits it ({both})", "Make their file or name tell them apart."
    if shelf:
        forms = " or ".join(t.name for one in shelf for t in one.traces)
        last = PurePosixPath(name).name
        return (
            f"its name {last} is not of the form {forms}",
            "Name the file so, or correct name in the layout, and take it in again.",
        )
    like = "it looks like one (a figure or two a line), and " if found == "text" else ""
    return f"{like}no layout is for files of its name", beside.SAY_IT


def _profiles(data: bytes, found: str, layout: TraceLayout, by: str) -> list["Profile"]:
    if found == "text":
        if layout.written is None:
            raise FileError(f'the layout {by} does not say what a text file holds: write content = "x_z"')
        return trace_text.profiles(data, layout.written)
    return trace_sdf.profiles(data) if found == "sdf" else trace_x3p.profiles(data)


def entries(rows: Sequence[Row]) -> list[dict[str, Any]]:
    """Rows of a trace as `qc layout try` shows them: one table, a row a profile, a column a figure."""
    return [_entry(row) for row in rows]


def _entry(row: Row) -> dict[str, Any]:
    told = dict(row.fields)
    record = row.record
    unit = told.get("unit", "")
    size = f"{units.exact(record.value, unit).normalize():f} {unit}" if isinstance(record, Reading) else None
    kept = ("build", "feature", "station_mm", "clock_deg", "reading", "unit", "target")
    why = "; ".join(dict.fromkeys(f"{d.code.replace('_', ' ')} ({d.column})" for d in row.doubts))
    return {
        "sheet": row.sheet, "row": row.number, "column": told[CELL], "cell": f"{told[CELL]}{row.number}",
        "table": "texture", "text": told.get("value", ""), **{k: told.get(k) for k in kept}, "becomes": size,
        "hidden": False, "waits": why or None,
    }  # fmt: skip


def first_layout(data: bytes, name: str) -> str | None:
    """TOML of a first layout for a trace, None for another kind of file."""
    found = kind(data, name)
    if found is None:
        return None
    dated = False
    if found != "text":
        reader = trace_sdf if found == "sdf" else trace_x3p
        dated = bool(reader.profiles(data)[0].at)
    return trace_words.first_layout(name, found == "text", dated)
