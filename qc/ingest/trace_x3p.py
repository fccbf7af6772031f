"""Reader of profiles in x3p files (ISO 25178-72; elements from memory): a zip with main.xml, all in metres.

Bounds: MOST_PARTS parts, MOST_BYTES unpacked, counted while unpacking; a document type or entity is refused,
nothing is expanded. MD5 sums of main.xml and of the data are checked. Not measured are NaN, an empty Datum,
and what the mask leaves out (a bit a point, the lowest bit first).
"""

import hashlib
import re
import zipfile
from collections.abc import Mapping
from io import BytesIO
from typing import TYPE_CHECKING, Final

from qc.errors import FileError
from qc.ingest import package
from qc.ingest.elements import Text, walk
from qc.ingest.trace import MOST_TOGETHER, UM_PER_M, Profile, counted, even_spacing

if TYPE_CHECKING:
    from numpy import float64
    from numpy.typing import NDArray

MOST_PARTS: Final = 50
MOST_BYTES: Final = 60_000_000
_MAIN: Final = "main.xml"
_SUMS: Final = "md5checksum.hex"
_DEEPEST: Final = 40
_FORMS: Final[Mapping[str, str]] = {"I": "<i2", "L": "<i4", "F": "<f4", "D": "<f8"}
_AGAIN: Final = "export it again"
_DATE = re.compile(r"\d{4}-\d\d-\d\d(T\d\d:\d\d.*)?")
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?")


def claims(data: bytes, name: str) -> bool:
    """Whether a file is ours to read: a zip with main.xml in it and no workbook."""
    if not data.startswith(b"PK\x03\x04"):
        return False
    try:
        with zipfile.ZipFile(BytesIO(data)) as book:
            names = {n.casefold() for n in book.namelist()}
    except package.DAMAGED:
        # cut off: the list of parts stands at the end, their names also before each
        return name.casefold().endswith(".x3p")
    return _MAIN in names and "[content_types].xml" not in names


def profiles(data: bytes) -> list[Profile]:
    """Profiles of the file.

    Raises
    ------
    FileError
        Damaged, changed, an area, or beyond the bounds.
    """
    parts = _unpacked(data)
    if _MAIN not in parts:
        raise FileError(f"the x3p file has no main.xml: {_AGAIN}")
    _refuse_changed(parts)
    told = _Told(parts[_MAIN])
    kind = told.text("Record1/FeatureType")
    if kind not in ("PRF", "SUR"):
        raise FileError(f"the x3p file holds {kind[:20]!r}, no profile (PRF): {_AGAIN}")
    points, number = _size(told)
    counted(points, number)
    return _made(told, parts, points, number)


def _unpacked(data: bytes) -> dict[str, bytes]:
    too_large = f"the x3p file unpacks to more than {MOST_BYTES // 1_000_000} MB: export one profile"
    try:
        with zipfile.ZipFile(BytesIO(data)) as book:
            names = book.namelist()
            if len(names) > MOST_PARTS:
                raise FileError(f"the x3p file has {len(names)} parts; at most {MOST_PARTS} are read")
            left, parts = MOST_BYTES, {}
            for name in names:
                part = package.part(book, name, left, too_large)
                left -= len(part)
                parts[name] = part
            return parts
    except package.DAMAGED:
        raise FileError(f"the x3p file is damaged, cut off or locked by a password: {_AGAIN}") from None


def _md5(data: bytes) -> str:
    return hashlib.md5(data, usedforsecurity=False).hexdigest()


def _refuse_changed(parts: Mapping[str, bytes]) -> None:
    said = parts.get(_SUMS, b"").split(maxsplit=1)
    if not said:
        raise FileError(f"the x3p file lacks its checksum ({_SUMS}): nobody can tell it is whole; {_AGAIN}")
    if said[0].decode("ascii", "replace").casefold() != _md5(parts[_MAIN]):
        raise FileError(f"the x3p file was changed: main.xml does not fit its checksum; {_AGAIN}")


class _Told:
    """The texts of main.xml by their path below the root, and its list of points."""

    def __init__(self, xml: bytes) -> None:
        self.texts: dict[str, str] = {}
        self.points: list[str] = []
        self._path: list[str] = []
        self._text = Text()
        walk(
            xml, self._started, self._ended, lambda text: self._text.heard(text),
            declared=f"the x3p file declares a document type or entities, which none needs: {_AGAIN}",
            damaged=f"the main.xml of the x3p file is damaged: {_AGAIN}",
        )  # fmt: skip

    def _started(self, name: str, _: Mapping[str, str]) -> None:
        self._path.append(name.rpartition(":")[2])
        if len(self._path) > _DEEPEST:
            raise FileError(f"the main.xml of the x3p file is nested too deeply: {_AGAIN}")
        self._text = Text()

    def _ended(self, name: str) -> None:
        text = self._text.taken()
        if self._path[-1] == "Datum":
            if len(self.points) >= MOST_TOGETHER:
                raise FileError(f"the x3p file has more than {MOST_TOGETHER} points: export a shorter trace")
            self.points.append(text)
        else:
            self.texts.setdefault("/".join(self._path[1:]), text)
        self._path.pop()
        self._text = Text()

    def text(self, path: str) -> str:
        """Text at a path, blank where there is none."""
        return self.texts.get(path, "")

    def number(self, path: str) -> float | None:
        """Number at a path, None where there is none."""
        text = self.text(path)
        if not text:
            return None
        if not _NUMBER.fullmatch(text):
            raise FileError(f"the main.xml of the x3p file says {path} = {text[:20]!r}, no number: {_AGAIN}")
        return float(text)


def _size(told: _Told) -> tuple[int, int]:
    """Points a profile and profiles."""
    listed = told.text("Record3/ListDimension")
    texts = [listed, "1", "1"] if listed else [
        told.text(f"Record3/MatrixDimension/Size{axis}") for axis in "XYZ"
    ]  # fmt: skip
    if not all(t.isascii() and t.isdigit() and len(t) < 10 for t in texts):
        raise FileError(f"the main.xml of the x3p file does not say how many points it has: {_AGAIN}")
    x, y, z = map(int, texts)
    if z > 1:
        raise FileError(f"the x3p file holds {z} layers, no profile: export the profile alone")
    return x, y


def _made(told: _Told, parts: Mapping[str, bytes], points: int, number: int) -> list[Profile]:
    import numpy as np

    absolute = [a for a in "XYZ" if told.text(f"Record1/Axes/C{a}/AxisType").upper() == "A"]
    if "Z" not in absolute:
        raise FileError(f"the x3p file does not say its heights as they are (axis CZ, type A): {_AGAIN}")
    if len(absolute) > 1 and number > 1:
        raise FileError("the x3p file holds an area of free points: export the profiles to be judged")
    if told.points:
        columns = _listed(told.points, absolute, points * number)
    else:
        columns = _linked(told, parts, absolute, points * number)
    with np.errstate(all="ignore"):
        heights = columns["Z"] * (_scale(told, "Z") * UM_PER_M)
        heights[~(np.abs(heights) < 1e15)] = np.nan
    if "X" in absolute:
        spacing = even_spacing(columns["X"]) * _scale(told, "X") * UM_PER_M
    else:
        spacing = (told.number("Record1/Axes/CX/Increment") or 0.0) * UM_PER_M
    date = told.text("Record2/Date")
    at = date if _DATE.fullmatch(date) else ""
    return [Profile(spacing, row, at) for row in heights.reshape(number, points)]


def _scale(told: _Told, axis: str) -> float:
    """Metres of one unit of an absolute axis: 1 for floats, the increment for whole numbers."""
    kind = told.text(f"Record1/Axes/C{axis}/DataType").upper()
    step = told.number(f"Record1/Axes/C{axis}/Increment")
    if kind in ("I", "L") and not told.points:
        if not step or step < 0:
            raise FileError(f"the x3p file does not say what a step of axis C{axis} is in metres: {_AGAIN}")
        return step
    if step not in (None, 0.0, 1.0):
        raise FileError(f"the x3p file says a step for axis C{axis}, whose figures need none: {_AGAIN}")
    return 1.0


def _listed(texts: list[str], absolute: list[str], wanted: int) -> dict[str, "NDArray[float64]"]:
    """Figures written in main.xml: x;y;z, or the height alone where places are told by steps."""
    import numpy as np

    if len(texts) != wanted:
        raise FileError(f"the x3p file lists {len(texts)} points where it says {wanted}: {_AGAIN}")
    split = [t.split(";") for t in texts]
    if "X" in absolute and any(len(s) < 3 for s in split):
        raise FileError(f"the x3p file lists points without their places: {_AGAIN}")
    columns = {"Z": [s[-1].strip() for s in split]}
    if "X" in absolute:
        columns["X"] = [s[0].strip() for s in split]
    found = {}
    for axis, said in columns.items():
        if not all(not t or t.casefold() == "nan" or _NUMBER.fullmatch(t) for t in said):
            raise FileError(f"among the points of the x3p file stands what is no number: {_AGAIN}")
        found[axis] = np.array([np.nan if not t or t.casefold() == "nan" else float(t) for t in said])
    return found


def _linked(
    told: _Told, parts: Mapping[str, bytes], absolute: list[str], wanted: int
) -> dict[str, "NDArray[float64]"]:
    """Figures of the data part, those left out by the mask as NaN."""
    import numpy as np

    kinds = {a: told.text(f"Record1/Axes/C{a}/DataType").upper() for a in absolute}
    unknown = [k for k in kinds.values() if k not in _FORMS]
    if unknown:
        raise FileError(f"the x3p file says data type {unknown[0][:20]!r}; I, L, F and D are known: {_AGAIN}")
    form = np.dtype([(a, _FORMS[k]) for a, k in kinds.items()])
    data = _data(told, parts, "PointDataLink", "MD5ChecksumPointData")
    if data is None or len(data) != wanted * form.itemsize:
        there = "no data" if data is None else f"{len(data)} bytes of data"
        raise FileError(
            f"the x3p file has {there} where it says {wanted * form.itemsize} bytes: it was cut off or "
            f"changed; {_AGAIN}"
        )
    raw = np.frombuffer(data, dtype=form)
    with np.errstate(invalid="ignore"):
        found = {a: raw[a].astype(float) for a in absolute}
    mask = _data(told, parts, "ValidPointsLink", "MD5ChecksumValidPoints")
    if mask is not None:
        bits = np.unpackbits(np.frombuffer(mask, dtype=np.uint8), bitorder="little")
        if not wanted <= bits.size < wanted + 64:
            raise FileError(f"the mask of the x3p file has not one bit a point: {_AGAIN}")
        found["Z"][bits[:wanted] == 0] = np.nan
    return found


def _data(told: _Told, parts: Mapping[str, bytes], link: str, checksum: str) -> bytes | None:
    """Content of a linked part that fits its checksum, None where none is linked."""
    name = told.text(f"Record3/DataLink/{link}").removeprefix("./").removeprefix("/")
    if not name:
        return None
    data = parts.get(name)
    if data is None:
        raise FileError(f"the x3p file lacks its part {name[:60]!r}: {_AGAIN}")
    said = told.text(f"Record3/DataLink/{checksum}").split(maxsplit=1)
    if said and said[0].casefold() != _md5(data):
        raise FileError(f"the x3p file was changed: {name[:60]!r} does not fit its checksum; {_AGAIN}")
    return data
