"""The header of a centre list: which column holds the feature, its axis, nominal, actual, tolerances."""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import Final

from qc.ingest.addresses import Cells
from qc.ingest.kinds import canonical
from qc.ingest.line import unit_key

# what coordinate measuring machines and those who copy their lists write over a column (common practice, no
# source)
_WORDS: Final[Mapping[str, tuple[str, ...]]] = {
    "feature": ("feature", "featurename", "featureid", "element", "elementname", "item", "label", "name"),
    "axis": ("axis", "ax", "achse", "dim", "dimension", "coordinate", "coord", "component"),
    "nominal": ("nominal", "nominalvalue", "nom", "theoretical", "theo", "soll", "sollwert", "target"),
    "actual": ("actual", "actualvalue", "act", "measured", "measuredvalue", "meas", "ist", "istwert"),
    "deviation": ("deviation", "dev", "difference", "diff", "error", "abweichung", "abw"),
    "plus": ("tol+", "+tol", "uppertol", "uppertolerance", "plustol", "tolplus", "tolerance+", "+tolerance"),
    "minus": ("tol-", "-tol", "lowertol", "lowertolerance", "minustol", "tolminus", "tolerance-",
              "-tolerance"),
    "out": ("out", "outtol", "outoftol", "outoftolerance", "oot"),
}  # fmt: skip
_ROLES: Final = {word: role for role, words in _WORDS.items() for word in words}
# columns of a readings file that a list may carry besides, by the names they have there
TOLD: Final = (
    "build", "engine", "serial", "machine", "operation", "state", "unit", "gauge", "operator", "measured_at",
    "made_at", "pass", "trial", "material", "torque", "part_c", "gauge_c", "station_mm",
)  # fmt: skip
_ALSO: Final = {"date": "measured_at", "units": "unit", "dateandtime": "measured_at"}
_NEEDED: Final = frozenset({"feature", "axis", "actual"})
WITHIN: Final = 40  # rows in which the header is looked for: a protocol begins with a page's heading
_BRACKETS = re.compile(r"\(([^()]*)\)|\[([^\[\]]*)\]")
_DASHES = str.maketrans({"\N{MINUS SIGN}": "-", "\N{EN DASH}": "-", "\N{HYPHEN}": "-"})


@dataclass(frozen=True, slots=True)
class Columns:
    """Row of a list's header, and the number of each column (from 0) by its role or by our name of it.

    unit : what the headings of nominal, actual and deviation name, blank for none
    twice : roles that more than one column could have
    """

    row: int
    at: Mapping[str, int]
    unit: str = ""
    twice: tuple[str, ...] = ()


def _parts(heading: str) -> tuple[str, str]:
    """A heading's letters, and the unit in its brackets or behind its comma."""
    unit = next((u for m in _BRACKETS.findall(heading) if (u := unit_key(m[0] or m[1]))), None)
    bare = _BRACKETS.sub(lambda m: "" if unit_key(m[1] or m[2] or "") else m[0], heading)
    before, comma, behind = bare.rpartition(",")
    if comma and unit is None and (unit := unit_key(behind)):
        bare = before
    kept = (c for c in bare.translate(_DASHES).casefold() if not c.isspace() and c not in "._()[]:")
    return "".join(kept), unit or ""


def _roles(headings: Sequence[str]) -> Iterator[tuple[int, str, str, str]]:
    """Yield number, role, word and unit of each heading that has a role."""
    for i, heading in enumerate(headings):
        word, unit = _parts(heading)
        role = _ROLES.get(word) or _ALSO.get(word)
        if role is None and (name := canonical(heading)) in TOLD:
            role = name
        if role is not None:
            yield i, role, word, unit


def likeness(headings: Sequence[str]) -> int:
    """How many columns of a centre list a row names; nought where those it must name are not all there."""
    found = {role for _, role, _, _ in _roles(headings)}
    return len(found) if found >= _NEEDED and found & {"nominal", "deviation"} else 0


def _columns(row: int, headings: Sequence[str]) -> Columns:
    at: dict[str, int] = {}
    words: dict[str, str] = {}
    twice, named = [], set()
    for i, role, word, unit in _roles(headings):
        if unit and role in ("nominal", "actual", "deviation"):
            named.add(unit)
        if role not in at or _rank(role, word) < _rank(role, words[role]):
            at[role], words[role] = i, word
        elif _rank(role, word) == _rank(role, words[role]) or role != "feature":
            twice.append(role)
    if len(named) > 1:
        twice.append("unit")
    return Columns(row, at, named.pop() if len(named) == 1 else "", tuple(dict.fromkeys(twice)))


def _rank(role: str, word: str) -> int:
    """Name and label stand beside feature in many lists: the plainer word wins."""
    words = _WORDS.get(role, ())
    return words.index(word) if role == "feature" and word in words else 0


def columns(cells: Cells) -> Columns | None:
    """The columns of a centre list, None where no header of one stands in the first rows."""
    for row, texts in islice(cells.grid.rows, WITHIN):
        if likeness(texts):
            return _columns(row, texts)
    return None


def is_header(cells: Cells, row: int, columns: Columns) -> bool:
    """Whether a row repeats the header, as at the head of a new page."""
    return all(cells.text(row, i) == cells.text(columns.row, i) for i in columns.at.values())
