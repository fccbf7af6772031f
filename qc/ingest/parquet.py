"""Reader of Parquet files, where the library for them is installed; rows count from 1."""

from datetime import UTC, date, datetime, time
from decimal import Decimal
from io import BytesIO
from typing import Any, Final

from qc.errors import FileError
from qc.ingest.grid import Grid, bounded

_MOST_BYTES: Final = 300_000_000


def claims(head: bytes, name: str) -> bool:
    """Whether a file is ours to read, by its first bytes; its name does not matter."""
    return head.startswith(b"PAR1")


def _text(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, float):
        return format(value, ".15g")
    if isinstance(value, datetime):
        at = value.astimezone(UTC) if value.tzinfo else value
        return at.isoformat(timespec="microseconds")
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, Decimal):
        return f"{value:f}"
    if isinstance(value, str | int):
        return str(value)
    raise FileError("a column of the file holds lists or bytes: save it with one text or number in each cell")


def cells(data: bytes) -> list[Grid]:
    """Cells of the file; the row of names counts as row 0.

    Raises
    ------
    FileError
        The library is not installed, the file is damaged, or beyond the bounds.
    """
    try:
        import pyarrow as pa
        import pyarrow.parquet as pq
    except ImportError:
        raise FileError(
            "Parquet files need the library pyarrow, which is not installed here: install it, or save as CSV"
        ) from None
    try:
        file = pq.ParquetFile(BytesIO(data))
        about = file.metadata
        bounded(about.num_rows, about.num_columns, 0, "the file")
        size = sum(about.row_group(i).total_byte_size for i in range(about.num_row_groups))
        if size > _MOST_BYTES:
            raise FileError(f"the file unpacks to more than {_MOST_BYTES // 1_000_000} MB: split it")
        table = file.read(use_threads=False)
        columns = [_column(pa, table.column(i)) for i in range(table.num_columns)]
    except (pa.ArrowException, OSError, ValueError) as fault:
        said = str(fault).splitlines()[0][:120]
        raise FileError(f"the Parquet file is damaged ({said}): write it again") from None
    rows = [(0, tuple(table.column_names))]
    rows += [
        (n, row) for n, row in enumerate(zip(*columns, strict=True), start=1) if any(map(str.strip, row))
    ]
    bounded(1, 1, max((len(c) for _, row in rows for c in row), default=0), "the file")
    return [Grid(tuple(rows))]


def _column(pa: Any, column: Any) -> list[str]:
    if pa.types.is_float32(column.type):
        # the digits that were stored, not those of the wider number it is read into
        column = column.cast(pa.string())
    elif pa.types.is_dictionary(column.type):
        column = column.cast(column.type.value_type)
    elif pa.types.is_timestamp(column.type) and column.type.unit == "ns":
        column = column.cast(pa.timestamp("us", tz=column.type.tz), safe=False)
    return [_text(value) for value in column.to_pylist()]
