"""Every reading of a pack looked up in the file it came from: the text must stand in its row and column."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

from qc.errors import QcError
from qc.export import archive, packed

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
    cells, places = there
    place = places.get(column.strip())
    if place is not None and place < len(cells):
        return cells[place].strip()
    return text.strip() if text.strip() in (cell.strip() for cell in cells) else None


def _cells(name: str, data: bytes) -> dict[tuple[str, int], tuple[tuple[str, ...], dict[str, int]]]:
    """Cells of each row of a file, with where each column of its sheet stands."""
    from qc.ingest import delimited, workbook

    head = data[:4096]
    reader = workbook if workbook.claims(head, name) else delimited
    found = {}
    for grid in reader.cells(data):
        places: dict[str, int] = {}
        for _, cells in grid.rows[:_HEADER_WITHIN]:
            for place, cell in enumerate(cells):
                places.setdefault(cell.strip(), place)
        for row, cells in grid.rows:
            found[(grid.sheet or "", row)] = (cells, places)
    return found
