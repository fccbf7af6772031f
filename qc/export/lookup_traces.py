"""Figures of profile traces in a pack, computed anew from the trace and the layout that lie in it."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import UTC
from typing import Any, Final

from qc.errors import QcError

Found = tuple[str, str, Any, Any, bool]
Rows = Sequence[Mapping[str, str]]
_WITHIN: Final = 2e-5  # two steps of the last digit kept: another processor may round otherwise


def of_trace(rows: Rows) -> bool:
    """Whether a file's readings are figures of traces: their column is the figure's own key."""
    return bool(rows) and all(row["column"] == row["characteristic"] for row in rows)


def checks(
    entries: Mapping[str, bytes | None], name: str, data: bytes, rows: Rows, corrected: int
) -> Iterator[Found]:
    """Compare the readings of a trace with the figures computed anew.

    Parameters
    ----------
    entries : mapping
        The pack, whose layouts are tried one after the other: which was used stands in a finding's words.
    rows : sequence of mapping
        Its readings that no person corrected; `corrected` : how many others there are.
    """
    wrong: list[Found] | None = None
    refusal = "no layout in the pack is for it"
    for told in _layouts(entries) if rows else ():
        try:
            found = _computed(told, data, rows)
        except QcError as fault:
            refusal = str(fault)
            continue
        if found is not None:
            here = list(_unlike(name, rows, found))
            wrong = here if wrong is None or len(here) < len(wrong) else wrong
    if wrong is None and rows:
        yield "its figures can be computed again", name, "computed", refusal, False
    elif wrong is not None:
        yield from wrong
        yield "figures computed anew from this trace", name, len(rows), len(rows) - len(wrong), not wrong
    if corrected:
        yield "readings a person corrected", name, corrected, corrected, True


def _layouts(entries: Mapping[str, bytes | None]) -> Iterator[Any]:
    from qc.ingest.layout import layout

    for name, content in sorted(entries.items()):
        if name.startswith("files/") and name.endswith(".toml") and content is not None:
            try:
                one = layout(name, content)
            except QcError:  # what is no layout any more is none for a trace
                continue
            if one.traces:
                yield one


def _computed(told: Any, data: bytes, rows: Rows) -> dict[tuple[int, str], str] | None:
    """Text of each figure by its place, None where the layout is for other files."""
    from qc.ingest import traces
    from qc.ingest.line import Shop

    first = rows[0]
    if not told.for_file(first["file"]):
        return None
    read = traces.read(data, first["file"], Shop(UTC), first["sha256"], (told,))
    if read is None or not read.rows:
        return None
    found = {}
    for row in read.rows:
        texts = dict(row.fields)
        found[row.number, texts["characteristic"]] = texts["value"]
    return found


def _unlike(name: str, rows: Rows, found: Mapping[tuple[int, str], str]) -> Iterator[Found]:
    for row in rows:
        there = found.get((int(row["row"]), row["column"]))
        if not _alike(row["text"].strip(), there):
            yield f"the figure of reading {row['id']}", name, row["text"], there, False


def _alike(text: str, there: str | None) -> bool:
    try:
        return there is not None and abs(float(text) - float(there)) <= _WITHIN
    except ValueError:
        return False
