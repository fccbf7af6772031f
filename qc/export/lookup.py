"""Every reading of a pack looked up in the file it came from: the text must stand in its row and column."""

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

from qc.errors import QcError
from qc.export import archive, lookup_traces, packed

Found = tuple[str, str, Any, Any, bool]
Entries = Mapping[str, bytes | None]
_HEADER_WITHIN: Final = 10


def checks(entries: Entries, manifest: Mapping[str, Any]) -> Iterator[Found]:
    """Compare the text of each reading with its cell; what a person corrected stands in no file."""
    by_file: dict[str, list[dict[str, str]]] = {}
    for row in packed.table(entries, "readings_as_stored.csv"):
        by_file.setdefault(row["sha256"], []).append(row)
    contents = {
        archive.sha256(d): (n, d) for n, d in entries.items() if n.startswith("files/") and d is not None
    }
    for digest, rows in sorted(by_file.items()):
        if digest not in contents:
            yield (
                f"the file of {len(rows)} readings is in the pack",
                f"files/{digest[:12]}",
                digest,
                None,
                False,
            )
            continue
        name, data = contents[digest]
        if lookup_traces.of_trace(rows):
            own = [row for row in rows if not _is_corrected(row["id"], row["column"])]
            yield from lookup_traces.checks(entries, name, data, own, len(rows) - len(own))
        else:
            yield from _file(name, data, rows)


def _file(name: str, data: bytes, rows: Sequence[Mapping[str, str]]) -> Iterator[Found]:
    try:
        cells = _cells(name, data)
    except QcError as refusal:
        yield "can be read again", name, "readable", str(refusal), False
        return
    corrected = sum(_is_corrected(row["id"], row["column"]) for row in rows)
    wrong = 0
    for row in rows:
        if _is_corrected(row["id"], row["column"]):
            continue
        there = cells.get((row["sheet"], int(row["row"])), ((), {}))
        found = _text(there, row["column"], row["text"])
        if found != row["text"].strip():
            wrong += 1
            yield f"the text of reading {row['id']}", name, row["text"], found, False
    yield "texts of readings that stand in this file", name, len(rows), len(rows) - wrong, wrong == 0
    if corrected:
        yield "readings a person corrected", name, corrected, corrected, True


def _is_corrected(reading: str, column: str) -> bool:
    return not reading.endswith(f":{column}")


def _text(there: tuple[tuple[str, ...], Mapping[str, int]], column: str, text: str) -> str | None:
    """The cell of a reading: below its header, or at its letter where the sheet has none."""
    cells, places = there
    near = [place for place in (places.get(column.strip()), _letters(column)) if place is not None]
    found = [cells[place].strip() for place in near if place < len(cells)]
    if text.strip() in found:
        return text.strip()
    return found[0] if found else None


def _letters(column: str) -> int | None:
    if not re.fullmatch("[A-Z]{1,3}", column):
        return None
    place = 0
    for letter in column:
        place = 26 * place + ord(letter) - ord("A") + 1
    return place - 1


def _cells(name: str, data: bytes) -> dict[tuple[str, int], tuple[tuple[str, ...], dict[str, int]]]:
    """Cells of each row of a file, with where each column of its sheet stands."""
    from qc.ingest import sources
    from qc.store.nouns import clean

    found = {}
    for grid in sources.grids(data, name):
        places: dict[str, int] = {}
        for _, cells in grid.rows[:_HEADER_WITHIN]:
            for place, cell in enumerate(cells):
                places.setdefault(cell.strip(), place)
        for row, cells in grid.rows:
            found[(grid.sheet or "", row)] = (tuple(clean(cell) or "" for cell in cells), places)
    return found
