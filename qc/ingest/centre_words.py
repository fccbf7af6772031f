"""Findings about centre lists in words."""

from collections.abc import Mapping, Sequence
from typing import Final, NamedTuple

from qc.ingest.line import Doubt
from qc.ingest.rows import Row
from qc.ingest.words import MOST_CELLS, cells_of, texts_said, waiting
from qc.records import Cell, Finding

Pairs = Sequence[tuple[Row, Doubt]]


class _Words(NamedTuple):
    verb: str
    doubt: str
    proposal: str


_SAID: Final[Mapping[str, _Words]] = {
    "half_of_nominal": _Words(
        "half of the nominal {beside}",
        "That looks like a radius where a diameter is meant.",
        "Correct takes twice the figure ({proposal}); accept takes it as a diameter.",
    ),
    "far_from_nominal": _Words(
        "more than 1 mm away from the nominal {beside}",
        "No housing's centre is that far off: another unit, axis or frame is more likely.",
        "Correct the figure, or the layout, and take the file in again; accept takes it as it stands.",
    ),
    "deviation_contradicts": _Words(
        "where the list's own deviation is {beside}",
        "Actual minus nominal is not that deviation, so one of the three was changed or mistyped.",
        "Correct takes the actual that was meant; accept takes the actual as it stands.",
    ),
    "out_contradicts": _Words(
        "where the column of what is out says {beside}",
        "The tolerances and the deviation beside it say otherwise.",
        "See which is right: correct takes another actual, accept takes it as it stands.",
    ),
    "turned_figure": _Words(
        "no plain number",
        "Such figures are turned as the layout says (a radius doubled, an axis pointing down reversed).",
        "Correct takes the turned figure: the diameter, or the height or place with its sign.",
    ),
    "no_place": _Words(
        "without a place along the line",
        "The offset of a centre from the line needs the places of the housings along it.",
        "Add the line of that axis to the list, or stations to the layout, and take the file in again; "
        "correct the column station_mm.",
    ),
    "place_below_nought": _Words(
        "in a list that goes to {beside} mm along the line",
        "Places along the line count from nought upwards.",
        "Write start = {proposal} (or less) into the layout: the value along the line that counts as nought; "
        "then take the file in again.",
    ),
}  # fmt: skip
CODES: Final = frozenset(_SAID)
# what a person may take in as it stands
ACCEPTED: Final = frozenset({
    "half_of_nominal", "far_from_nominal", "deviation_contradicts", "out_contradicts",
})  # fmt: skip


def finding(code: str, pairs: Pairs) -> Finding:
    """The finding that holds these lines, all with doubts of one code."""
    words, first = _SAID[code], pairs[0][1]
    features = dict.fromkeys(dict(r.fields).get("feature", "") for r, _ in pairs)
    beside = list(dict.fromkeys(d.beside for _, d in pairs))
    said = words.verb.format(beside=", ".join(beside[:3]) + (" and others" if len(beside) > 3 else ""))
    n = len(pairs)
    saw = (
        f"{', '.join(f for f in features if f)} {'read' if n > 1 else 'reads'} "
        f"{texts_said([d.text for _, d in pairs])} (cell{'s' if n > 1 else ''} "
        f"{', '.join(f'{d.column}{r.number}' for r, d in pairs[:6])}"
        f"{f' and {n - 6} more' if n > 6 else ''}), {said}."
    )
    proposal = words.proposal.format(proposal=first.proposal)
    return Finding("stop", code, cells_of(pairs), saw, words.doubt, proposal, waiting(n), n)


def not_said(kind: str, cells: Sequence[Cell], severity: str = "stop") -> Finding:
    """Lines of a list whose axis or feature nothing names (`stop`), or that the layout leaves out."""
    names = texts_said([c.text for c in cells], 8)
    if severity == "note":
        return Finding(
            "note", "lines_left_out", tuple(cells[:MOST_CELLS]), f"Lines of {names} were left out.",
            "The layout says so.", "Nothing, if that is right.", "They are in no figure.", len(cells),
        )  # fmt: skip
    cure = {
        "axis": 'Say it in the layout: axes = {Z = "vertical"} (or horizontal, along, diameter, radius, -).',
        "feature": 'Say it in the layout: features = {"MAIN 1" = "main-1"}, or "-" to leave it out.',
    }[kind]
    return Finding(
        "stop", "needs_layout", tuple(cells[:MOST_CELLS]),
        f"Nothing says what the {kind} {names} is in a list of centres.",
        "A wrong axis or main is a wrong reading.", f"{cure} Then take the file in again.",
        f"{len(cells)} line{'s are' if len(cells) > 1 else ' is'} in no figure.", len(cells),
    )  # fmt: skip


def unread(cells: Sequence[Cell], why: str, cure: str) -> Finding:
    """A whole list that waits because what its figures mean is not certain."""
    return Finding(
        "stop", "needs_layout", tuple(cells[:MOST_CELLS]), f"The list of centres was not read: {why}.",
        "What a figure means is never guessed: a wrong unit, state or axis is a wrong reading.", cure,
        f"Its {len(cells)} figures are in no figure of the shop.", len(cells),
    )  # fmt: skip


def no_limits(cells: Sequence[Cell]) -> Finding:
    """Tolerances below nominal that are written without a sign."""
    return Finding(
        "note", "tolerance_unsigned", tuple(cells[:MOST_CELLS]),
        f"Lower tolerances read {texts_said([c.text for c in cells])}, without a sign.",
        "They may mean so much below the nominal, or so much above it.",
        'If they are meant below: tolerances = "unsigned" in the layout.',
        "No limits were taken from the list.", len(cells),
    )  # fmt: skip
