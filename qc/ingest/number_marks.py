"""Thousands marks: how a file writes its numbers, where its own cells prove it, and what could be either.

"93.008,4" alone could be a slip of the finger; two such cells and none that contradicts are a way of writing.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

# blanks that a program puts between thousands and nobody types; an apostrophe likewise (common practice, no
# source)
_SURE: Final = "'\N{RIGHT SINGLE QUOTATION MARK}\N{NO-BREAK SPACE}\N{NARROW NO-BREAK SPACE}\N{THIN SPACE}"
_PLAIN: Final = " "
_LEAST: Final = 2  # cells that prove a way of writing
_GROUPED: Final = re.compile(
    rf"[^\d.,{_SURE} ]?\d{{1,3}}(?:([.,{_SURE} ])\d{{3}}(?:\1\d{{3}})*)(?:([.,])\d+)?"
)
_PLAIN_NUMBER: Final = re.compile(r"[^\w.,]?\d*([.,])\d*")
_EITHER: Final = re.compile(r"[^\d.,]?[1-9]\d{0,2}[.,]\d{3}")
_MARKS: Final = frozenset(f".,{_SURE} ")
# sizes that are never as small as 1 mm: read as a decimal fraction of um, 93,008 is none
SIZES: Final = frozenset({
    "bore_diameter", "tunnel_diameter", "rod_bore_diameter", "journal_diameter", "pin_diameter", "shell_wall",
    "shell_bore", "piston_diameter", "deck_height", "master_check", "tunnel_centre",
})  # fmt: skip
_SMALL: Final = frozenset({"um", "thou", "tenth", "uin"})


@dataclass(frozen=True, slots=True)
class Marks:
    """The marks of one way of writing numbers: between thousands, and before the fraction (blank: unseen)."""

    thousands: str
    decimal: str

    @property
    def said(self) -> str:
        """As it is kept beside a held row."""
        return f"{self.thousands}{self.decimal}"

    def plain(self, text: str) -> str:
        """A number without its thousands marks and with a decimal point; other texts as they are."""
        found = _GROUPED.fullmatch(text.strip())
        if found is None or found[1] != self.thousands or (found[2] or self.decimal) != self.decimal:
            return text
        return text.replace(self.thousands, "").replace(self.decimal or ".", ".")


def from_said(said: str) -> Marks:
    """Marks as they were kept beside a held row."""
    return Marks(said[0], said[1:2])


def _ways(text: str) -> Marks | None:
    """The one way in which a text is written by itself, None where it could be several or is no number."""
    found = _GROUPED.fullmatch(text)
    if found is None or found[1] == found[2]:
        return None
    twice = text.count(found[1]) > 1
    if found[2] or found[1] in _SURE or (twice and found[1] != _PLAIN):
        return Marks(found[1], found[2] or "")
    return None


def marks(texts: Iterable[str]) -> Marks | None:
    """How a table writes numbers with thousands marks; None where it does not, or does not prove it.

    Parameters
    ----------
    texts : iterable of str
        All cells of the table's columns of numbers.
    """
    marked = [t for text in texts if not _MARKS.isdisjoint(t := text.strip())]
    proofs = [way for t in marked if (way := _ways(t)) is not None]
    thousands = {way.thousands for way in proofs}
    decimals = {way.decimal for way in proofs} - {""}
    if len(proofs) < _LEAST or len(thousands) != 1 or len(decimals) > 1:
        return None
    found = Marks(thousands.pop(), decimals.pop() if decimals else "")
    if any(_contradicts(t, found) for t in marked):
        return None
    # 93.008 among few cells like 93.008,4 is rather the slip's neighbour than written like it
    unclear = sum(_ways(t) is None and found.thousands in t for t in marked)
    return found if unclear <= len(proofs) else None


def _contradicts(text: str, way: Marks) -> bool:
    """Whether a text is a number, but written in another way."""
    plain, grouped = _PLAIN_NUMBER.fullmatch(text), _GROUPED.fullmatch(text)
    if way.thousands in text:
        if grouped and grouped[1] == way.thousands and (grouped[2] or way.decimal) == way.decimal:
            return False
        return bool(plain or grouped)  # what is no number in any way is held by itself
    return plain is not None and bool(way.decimal) and plain[1] != way.decimal


def either(text: str, unit: str, characteristic: str) -> bool:
    """Whether a size in a small unit could have a decimal mark or one between thousands: 93,008 um."""
    return unit in _SMALL and characteristic in SIZES and _EITHER.fullmatch(text.strip()) is not None
