"""Walking the elements of an XML document from outside: nothing is expanded, texts are bounded."""

from collections.abc import Callable, Mapping
from typing import Final
from xml.parsers import expat

from qc.errors import FileError

LONGEST: Final = 10_000  # characters of one text

Started = Callable[[str, Mapping[str, str]], None]


class Text:
    """What stands between two tags, up to LONGEST characters; `length` counts all of them."""

    def __init__(self) -> None:
        self.length = 0
        self._pieces: list[str] = []

    def heard(self, text: str) -> None:
        """Take the next piece."""
        self.length += len(text)
        if self.length <= LONGEST:
            self._pieces.append(text)

    def taken(self) -> str:
        """The text without blanks around it."""
        return "".join(self._pieces).strip()


def walk(
    data: bytes,
    started: Started,
    ended: Callable[[str], None] | None = None,
    heard: Callable[[str], None] | None = None,
    *,
    declared: str,
    damaged: str,
    spaces: bool = False,
) -> None:
    """Tell each element and text of a document in its order.

    Parameters
    ----------
    declared : why a document with a document type or entities is refused
    damaged : why one that is no XML is, `{fault}` is the parser's word for it
    spaces : whether names come with their namespace, a blank between

    Raises
    ------
    FileError
        With these words.
    """

    def refused(*_: object) -> None:
        raise FileError(declared)

    parser = expat.ParserCreate(namespace_separator=" " if spaces else None)
    parser.buffer_text = True
    parser.StartDoctypeDeclHandler = parser.EntityDeclHandler = refused
    parser.StartElementHandler, parser.EndElementHandler = started, ended
    parser.CharacterDataHandler = heard
    try:
        parser.Parse(data, True)
    except (expat.ExpatError, ValueError, LookupError) as fault:
        raise FileError(damaged.replace("{fault}", str(fault))) from None
