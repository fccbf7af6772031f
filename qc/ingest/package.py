"""Parts of a zip package (workbook, x3p), unpacked within a bound that is counted while unpacking."""

import lzma
import struct
import zipfile
import zlib
from typing import Final

from qc.errors import FileError

_CHUNK: Final = 1 << 20
# what Python's zipfile raises on a spoilt package, found by fuzzing: its parts' own decoders speak through it
DAMAGED: Final = (
    zipfile.BadZipFile, zlib.error, lzma.LZMAError, struct.error, EOFError, KeyError, OSError, RuntimeError,
    ValueError,
)  # fmt: skip


def part(book: zipfile.ZipFile, name: str, left: int, too_large: str) -> bytes:
    """Content of a part of at most `left` bytes.

    Raises
    ------
    FileError
        With the sentence `too_large`, as soon as there is more.
    """
    pieces, size = [], 0
    with book.open(name) as opened:
        while piece := opened.read(_CHUNK):
            size += len(piece)
            if size > left:
                raise FileError(too_large)
            pieces.append(piece)
    return b"".join(pieces)
