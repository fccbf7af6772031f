"""A zip with the same bytes for the same content, and one from a stranger read without harm."""

import hashlib
import io
import zipfile
import zlib
from collections.abc import Mapping
from pathlib import Path, PurePosixPath
from typing import Final

from qc.errors import FileError

MOST_ENTRIES: Final = 100_000
MOST_BYTES: Final = 2 << 30  # unpacked, all together
_LONGEST_NAME: Final = 240
_MADE: Final = (1980, 1, 1, 0, 0, 0)  # the earliest a zip can say


def content(entries: Mapping[str, bytes]) -> bytes:
    """Zip of named contents, sorted by name, all of one date."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as packed:
        for name in sorted(entries):
            info = zipfile.ZipInfo(name, _MADE)
            info.compress_type = zipfile.ZIP_DEFLATED
            info.create_system = 3  # the same from every system
            info.external_attr = 0o644 << 16
            packed.writestr(info, entries[name])
    return out.getvalue()


def read(place: Path) -> dict[str, bytes | None]:
    """Contents of a zip by name; None for an entry that is damaged.

    Raises
    ------
    FileError
        When it is no zip, or its names or sizes could do harm.
    """
    try:
        with zipfile.ZipFile(place) as packed:
            entries = packed.infolist()
            _harmless(place, entries)
            return _unpacked(place, packed, entries)
    except FileNotFoundError as missing:
        raise FileError(f"no pack stands at {place}: name the .zip that qc audit wrote") from missing
    except (zipfile.BadZipFile, NotImplementedError, EOFError) as damaged:
        raise FileError(f"{place} is no whole zip file: ask for it again") from damaged
    except OSError as trouble:
        raise FileError(f"{place} cannot be read ({trouble.strerror}): name the .zip of a pack") from trouble


def _harmless(place: Path, entries: list[zipfile.ZipInfo]) -> None:
    if len(entries) > MOST_ENTRIES or sum(e.file_size for e in entries) > MOST_BYTES:
        raise FileError(f"{place} would unpack to more than any audit pack holds: it was not opened")
    names = [e.filename for e in entries]
    if len(set(names)) < len(names):
        raise FileError(f"{place} holds two files of one name: no audit pack does, ask for it again")
    for entry in entries:
        name = entry.orig_filename  # as it is written: the library cuts what follows a zero byte
        path = PurePosixPath(name)
        odd = (
            path.is_absolute() or ".." in path.parts or set(name) & set("\\:\0") or len(name) > _LONGEST_NAME
        )
        if odd or entry.is_dir() or entry.flag_bits & 1:
            raise FileError(
                f"{place} holds the name {name[:60]!r}: no audit pack has such, it was not opened"
            )


def _unpacked(
    place: Path, packed: zipfile.ZipFile, entries: list[zipfile.ZipInfo]
) -> dict[str, bytes | None]:
    found: dict[str, bytes | None] = {}
    left = MOST_BYTES
    for entry in entries:
        try:
            with packed.open(entry) as opened:
                # a zip may lie about its sizes: never more is unpacked than was announced
                data = opened.read(entry.file_size + 1)
        except (zipfile.BadZipFile, zlib.error, EOFError):
            found[entry.filename] = None
            continue
        left -= len(data)
        if len(data) > entry.file_size or left < 0:
            raise FileError(f"{place}: {entry.filename} is larger than it says, it was not opened")
        found[entry.filename] = data
    return found


def sha256(data: bytes) -> str:
    """SHA-256 of a content, in hex."""
    return hashlib.sha256(data).hexdigest()
