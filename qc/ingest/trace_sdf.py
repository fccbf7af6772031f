"""Reader of profiles in SDF files (ISO 25178-71, after EUR 15178), written as text or in bytes.

The header's keys and the types 0 to 7 are from memory: unsigned and signed whole numbers of 1, 2 and 4 bytes,
floats of 4 and 8. Not measured are BAD and NaN; whole numbers at an end of their range are taken so too (of
unsigned ones the upper end: nought may be the lowest point): the instrument was at its stop there at
best. Bytes are little-endian, behind a header of 81 bytes.
"""

import re
import struct
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Final

from qc.errors import FileError
from qc.ingest.delimited import decoded
from qc.ingest.trace import UM_PER_M, Profile, bounded, counted

if TYPE_CHECKING:
    from numpy import float64
    from numpy.typing import NDArray

_VERSION = re.compile(rb"[ab][A-Z]{2,6}-V?\d\.\d")
_HEADER: Final = struct.Struct("<8s10s12s12sHHddddBBB")
_TYPES: Final[Mapping[int, str]] = {0: "u1", 1: "u2", 2: "u4", 3: "f4", 4: "i1", 5: "i2", 6: "i4", 7: "f8"}
_BYTE: Final = 255
_KEYS: Final = ("numpoints", "numprofiles", "xscale", "zscale")
_NUMERIC: Final = frozenset("0123456789+-.eE \t\r\n")
_AGAIN: Final = "export it again"


def claims(head: bytes, name: str) -> bool:
    """Whether a file is ours to read, by its first bytes; its name does not matter."""
    if not _VERSION.match(head):
        return False
    return head[:1] == b"b" or b"numpoints" in head[:4096].lower()


def profiles(data: bytes) -> list[Profile]:
    """Profiles of the file.

    Raises
    ------
    FileError
        Damaged, cut off, an area, packed, or beyond the bounds.
    """
    bounded(data)
    return _written(decoded(data)) if data[:1] == b"a" else _packed(data)


def _written(text: str) -> list[Profile]:
    lines = text.splitlines()
    marks = [i for i, line in enumerate(lines[:200]) if line.strip() == "*"]
    if not marks:
        raise FileError(f"the SDF file has no line * between its header and its heights: {_AGAIN}")
    header = _header(lines[1 : marks[0]])
    points, number = _whole(header, "numpoints"), _whole(header, "numprofiles")
    counted(points, number)
    body = lines[marks[0] + 1 :]
    end = next((i for i, line in enumerate(body) if line.strip().startswith("*")), len(body))
    heights = _numbers("\n".join(body[:end]), points * number)
    return _made(heights, points, number, header, _date(header.get("createdate", "")))


def _header(lines: list[str]) -> dict[str, str]:
    told = {}
    for line in lines:
        key, mark, value = line.partition("=")
        if mark:
            told[key.strip().casefold()] = value.strip()
    missing = [k for k in _KEYS if k not in told]
    if missing:
        raise FileError(f"the SDF header does not say {', '.join(missing)}: {_AGAIN}")
    _refuse_packed(told.get("compression", "0"), told.get("checktype", "0"))
    return told


def _refuse_packed(compression: str, check: str) -> None:
    if compression.strip() not in ("0", ""):
        raise FileError("the heights of the SDF file are compressed: export it uncompressed")
    if check.strip() not in ("0", ""):
        raise FileError("the SDF file has a checksum of a kind we cannot check: export it without one")


def _whole(header: Mapping[str, str], key: str) -> int:
    text = header[key]
    if not (text.isascii() and text.isdigit() and len(text) < 10):
        raise FileError(f"the SDF header says {key} = {text[:20]!r}, which is no whole number: {_AGAIN}")
    return int(text)


def _numbers(text: str, wanted: int) -> "NDArray[float64]":
    import numpy as np

    texts = re.sub(r"\b(?:bad|nan)\b", "x", text, flags=re.IGNORECASE).split()
    if len(texts) != wanted:
        raise FileError(
            f"the SDF file has {len(texts)} heights where its header says {wanted}: it was cut off or "
            f"changed; {_AGAIN}"
        )
    if not set("".join(texts)) <= _NUMERIC | {"x"}:
        raise FileError(f"among the heights of the SDF file stands what is no number: {_AGAIN}")
    try:
        return _measured(np.array([np.nan if t == "x" else float(t) for t in texts]))
    except ValueError:
        raise FileError(f"among the heights of the SDF file stands what is no number: {_AGAIN}") from None


def _packed(data: bytes) -> list[Profile]:
    import numpy as np

    if len(data) < _HEADER.size:
        raise FileError(f"the SDF file ends within its header: it was cut off; {_AGAIN}")
    fields = _HEADER.unpack_from(data)
    points, number = fields[4], fields[5]
    compression, kind, check = fields[10], fields[11], fields[12]
    counted(points, number)
    _refuse_packed(str(compression), str(check))
    if kind not in _TYPES:
        raise FileError(f"the SDF file says data type {kind}; types 0 to 7 are known: {_AGAIN}")
    form = np.dtype(f"<{_TYPES[kind]}")
    end = _HEADER.size + points * number * form.itemsize
    rest = data[end:].strip(b"\x00 \t\r\n*")
    if len(data) < end or not _is_text(rest):
        there = len(data) - _HEADER.size
        raise FileError(
            f"the SDF file holds {there} bytes of heights where its header says {end - _HEADER.size}: it was "
            f"cut off or changed; {_AGAIN}"
        )
    raw = np.frombuffer(data, dtype=form, count=points * number, offset=_HEADER.size)
    header = {"xscale": repr(fields[6]), "zscale": repr(fields[8])}
    date = _date(fields[2].decode("ascii", "replace"))
    return _made(_measured(raw), points, number, header, date)


def _is_text(rest: bytes) -> bool:
    """Whether what follows the heights is a trailer of words."""
    return all(b in b"\t\r\n" or b >= 32 for b in rest) and (not rest or rest.isascii())


def _measured(raw: "NDArray[Any]") -> "NDArray[float64]":
    import numpy as np

    with np.errstate(invalid="ignore"):
        heights: NDArray[float64] = raw.astype(float)
    if raw.dtype.kind in "iu":
        ends = np.iinfo(raw.dtype)
        stops = (raw == ends.max) | ((raw == ends.min) & (raw.dtype.kind == "i"))
        heights[stops] = np.nan
        _refuse_jumps(heights[~stops], ends.max - ends.min)
    heights[~(np.abs(heights) < 1e30)] = np.nan
    return heights


def _refuse_jumps(counts: "NDArray[float64]", span: int) -> None:
    """Refuse heights that jump over half the range of their type: signed ones read as unsigned do so at 0."""
    import numpy as np

    if span > _BYTE and counts.size > 1 and float(np.abs(np.diff(counts)).max()) > span / 2:
        raise FileError(
            "the heights of the SDF file jump over half the range of their data type, which is hardly the "
            f"one they were written in: {_AGAIN}"
        )


def _scale(header: Mapping[str, str], key: str) -> float:
    try:
        value = float(header[key]) if set(header[key]) <= _NUMERIC else 0.0
    except ValueError:
        value = 0.0
    if not 1e-15 < value < 1e6:
        raise FileError(f"the SDF header says {key} = {header[key][:20]!r}, no scale in metres: {_AGAIN}")
    return value * UM_PER_M


def _made(
    heights: "NDArray[float64]", points: int, number: int, header: Mapping[str, str], date: str
) -> list[Profile]:
    spacing, scale = _scale(header, "xscale"), _scale(header, "zscale")
    return [Profile(spacing, row * scale, date) for row in heights.reshape(number, points)]


def _date(text: str) -> str:
    """ISO text of DDMMYYYYhhmm, blank where it says none."""
    digits = text.strip().strip("\x00")
    if not (len(digits) == 12 and digits.isascii() and digits.isdigit()) or not digits.strip("0"):
        return ""
    return f"{digits[4:8]}-{digits[2:4]}-{digits[:2]}T{digits[8:10]}:{digits[10:12]}"
