"""The parts of a QIF document that tell of measured characteristics, as a small tree.

Bounds: MOST_ELEMENTS, MOST_KEPT of them in these parts, DEEPEST levels, LONGEST characters of a text or
attribute. A document type or an entity is refused, nothing is expanded, nothing outside is read.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from qc.errors import FileError
from qc.ingest.elements import LONGEST, Text, walk

SPACE: Final = "http://qifstandards.org/xsd/qif3"
MOST_ELEMENTS: Final = 3_000_000
MOST_KEPT: Final = 300_000
DEEPEST: Final = 60
_PARTS: Final = frozenset({"FileUnits", "Characteristics", "Features", "MeasurementResources", "Results"})
_PASSED_OVER: Final = frozenset({"MeasuredPointSets", "ActualTransforms", "NominalTransforms"})
_AGAIN: Final = "export it again"


@dataclass(slots=True)
class Node:
    """One element: its name without its namespace, attributes, children, and text."""

    name: str
    attributes: Mapping[str, str] = field(default_factory=dict)
    children: list["Node"] = field(default_factory=list)
    said: str = ""

    def first(self, name: str) -> "Node":
        """The first child of a name, an empty one where there is none."""
        return next((c for c in self.children if c.name == name), Node(""))

    def text(self, name: str) -> str:
        """Text of the first child of a name, blank where there is none."""
        return self.first(name).said

    def texts(self, name: str) -> list[str]:
        """Texts of all children of a name."""
        return [c.said for c in self.children if c.name == name]


def tree(data: bytes) -> Node:
    """The document's root with the parts we read.

    Raises
    ------
    FileError
        Damaged, no QIF 3, or beyond the bounds.
    """
    return _Reading(data).root


class _Reading:
    def __init__(self, data: bytes) -> None:
        self.root = Node("")
        self._path: list[Node | None] = []  # None where an element is passed over
        self._text = Text()
        self._kept = self._met = 0
        walk(
            data, self._started, self._ended, lambda text: self._text.heard(text), spaces=True,
            declared=f"the QIF document declares a document type or entities, which none needs: {_AGAIN}",
            damaged=f"the QIF document is damaged or was cut off: {_AGAIN}",
        )  # fmt: skip

    def _started(self, name: str, attributes: Mapping[str, str]) -> None:
        space, _, local = name.rpartition(" ")
        if len(self._path) >= DEEPEST:
            raise FileError(f"the QIF document is nested too deeply: {_AGAIN}")
        if not self._path:
            self._begin(space, local)
            return
        self._met += 1
        if self._met > MOST_ELEMENTS:
            raise FileError(f"the QIF document has more than {MOST_ELEMENTS} elements: export results alone")
        above = self._path[-1]
        self._text = Text()
        if above is None or space != SPACE or not self._wanted(local):
            self._path.append(None)
            return
        self._kept += 1
        if self._kept > MOST_KEPT:
            raise FileError(f"the QIF document has more than {MOST_KEPT} elements of results: export fewer")
        if any(len(v) > LONGEST for v in attributes.values()):
            raise FileError(f"the QIF document has an attribute of more than {LONGEST} characters: {_AGAIN}")
        node = Node(local, dict(attributes))
        above.children.append(node)
        self._path.append(node)

    def _begin(self, space: str, local: str) -> None:
        if local != "QIFDocument" or space != SPACE:
            there = f"{local} of {space or 'no namespace'}"[:80]
            raise FileError(f"the XML document is {there}, not QIFDocument of {SPACE}: export it as QIF 3")
        self.root = Node(local)
        self._path.append(self.root)

    def _wanted(self, local: str) -> bool:
        return local in _PARTS if len(self._path) == 1 else local not in _PASSED_OVER

    def _ended(self, _: str) -> None:
        node = self._path.pop()
        if node is not None and not node.children:
            length = self._text.length
            node.said = self._text.taken() if length <= LONGEST else f"a text of {length} characters"
        self._text = Text()
