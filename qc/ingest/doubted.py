"""Findings of the checks and of identity: what stands against what, in words."""

from collections.abc import Mapping, Sequence
from itertools import groupby
from typing import Final

from qc.ingest import centre_words
from qc.ingest.line import Doubt
from qc.ingest.rows import Row
from qc.ingest.words import MOST_CELLS, cells_of, places_said, texts_said, unreadable, waiting
from qc.records import Cell, Finding, Reading

Pairs = Sequence[tuple[Row, Doubt]]
_SPOKEN: Final = {"cyl": "bore", "main": "main", "rod": "rod"}
_SLIP: Final[Mapping[tuple[str, str], str]] = {
    ("small", "metric"): "That is inches.",
    ("large", "inch"): "That is millimetres.",
    ("small", "inch"): "It is 25.4 times too small: converted twice?",
    ("large", "metric"): "It is 25.4 times too large: converted twice?",
}


def features_said(features: Sequence[str], most: int = 8) -> str:
    """Features in words: "Bores 3, 4", "Main 2", "Deck-left"."""
    different = list(dict.fromkeys(features))
    said = []
    for word, group in groupby(different, key=lambda f: f.partition("-")[0]):
        numbers = [f.partition("-")[2] for f in group]
        if word not in _SPOKEN:
            said.append(", ".join(f"{word}-{n}".rstrip("-") for n in numbers))
            continue
        rest = len(numbers) - most
        many = "s" if len(numbers) > 1 else ""
        said.append(
            f"{_SPOKEN[word]}{many} {', '.join(numbers[:most])}" + (f" and {rest} more" if rest > 0 else "")
        )
    text = "; ".join(said)
    return text[:1].upper() + text[1:]


def _readings(pairs: Pairs) -> list[Reading]:
    return [r.record for r, _ in pairs if isinstance(r.record, Reading)]


def who(pairs: Pairs) -> str:
    """Features, builds and rows in words."""
    readings = _readings(pairs)
    builds = list(dict.fromkeys(r.build for r in readings if r.build))
    of = f" of {', '.join(builds[:3])}" + (f" and {len(builds) - 3} more builds" if len(builds) > 3 else "")
    features = features_said([r.feature for r in readings])
    return f"{features}{of if builds else ''} ({places_said(r for r, _ in pairs)})"


def _verb(pairs: Pairs) -> str:
    return "read" if len({r.feature for r in _readings(pairs)}) > 1 else "reads"


def _besides(pairs: Pairs) -> str:
    seen = list(dict.fromkeys(d.beside for _, d in pairs))
    return "; ".join(seen[:3]) + (f" and {len(seen) - 3} others" if len(seen) > 3 else "")


def _far(pairs: Pairs) -> Finding:
    doubt = pairs[0][1]
    _, slip, system, _ = doubt.cause.split("|")
    unit = _readings(pairs)[0].unit
    figures = texts_said([d.text for _, d in pairs]).replace("'", "")
    saw = f"{who(pairs)} {_verb(pairs)} {figures} {unit}; {_besides(pairs)}."
    convertible = bool(slip and doubt.proposal)
    why = _SLIP[slip, system] if slip else "That is more than 1 mm away, which no operation here leaves."
    if convertible:
        example = f"{doubt.proposal} {unit} for {doubt.text}"
        proposal = f"Convert? Correct takes {example}; accept takes the figures as they stand."
    else:
        proposal = "Correct the value, its unit or the target; accept takes the figures as they stand."
    return Finding(
        "stop", "far_from_target", cells_of(pairs), saw, why, proposal, waiting(len(pairs)), len(pairs)
    )


def _reads_otherwise(pairs: Pairs) -> Finding:
    first = pairs[0][1]
    saw = f"{who(pairs)} {_verb(pairs)} {texts_said([d.text for _, d in pairs])}; {_besides(pairs)}."
    why = "Build, place, time and gauge are the same, so both cannot be right."
    proposal = (
        "Accept to let this file's value count and void the other; discard to leave the other as it is."
    )
    if first.cause == "file":
        proposal = (
            "Accept to let the later row count and void the earlier one; discard to leave the earlier one."
        )
    return Finding(
        "stop", "reads_otherwise", cells_of(pairs), saw, why, proposal, waiting(len(pairs)), len(pairs)
    )


def _other_target(pairs: Pairs) -> Finding:
    repeat = "repeat" if len(pairs) > 1 else "repeats"
    saw = f"{who(pairs)} {repeat} a value we have, but with another target or limits; {_besides(pairs)}."
    why = "The same reading cannot be judged against two targets."
    proposal = "Accept to let this file's target and limits count; discard to leave the ones we have."
    return Finding(
        "stop", "other_target", cells_of(pairs), saw, why, proposal, waiting(len(pairs)), len(pairs)
    )


def _perhaps_again(pairs: Pairs) -> Finding:
    n = len(pairs)
    where, differing = places_said(r for r, _ in pairs), pairs[0][1].cause.partition("|")[2]
    saw = f"{n} values of {pairs[0][1].beside} ({where}) equal readings we have, digit for digit."
    why = f"They differ from them only in {differing}; measured again, some digits would differ."
    proposal = "Accept if they were measured again; discard if it is the same sheet once more."
    return Finding("stop", "perhaps_again", cells_of(pairs), saw, why, proposal, waiting(n), n)


_SAID: Final = {
    "far_from_target": _far, "reads_otherwise": _reads_otherwise, "other_target": _other_target,
    "perhaps_again": _perhaps_again,
}  # fmt: skip


def finding(code: str, pairs: Pairs) -> Finding:
    """The finding that holds these rows, all with doubts of one code and cause."""
    if code in centre_words.CODES:
        return centre_words.finding(code, pairs)
    say = _SAID.get(code)
    return say(pairs) if say else unreadable(code, pairs)


def of_new_names(
    rows: Sequence[Row], found: Mapping[tuple[str, str], str], headers: Mapping[str, str]
) -> list[Finding]:
    """Findings on names: a `note` a column for those like no other, an `ask` for each that resembles one."""
    cells: dict[tuple[str, str], list[Cell]] = {key: [] for key in found}
    for row in rows:
        for column, name in found:
            if getattr(row.record, column, None) == name:
                cells[column, name].append(Cell(row.number, headers.get(column, column), name, row.sheet))
    said = []
    for column in dict.fromkeys(c for c, _ in found):
        fresh = [name for (c, name), like in found.items() if c == column and not like]
        if fresh:
            said.append(_fresh(column, fresh, [c for n in fresh for c in cells[column, n]]))
    said += [_resembling(c, name, like, cells[c, name]) for (c, name), like in found.items() if like]
    return said


def _fresh(column: str, names: Sequence[str], cells: Sequence[Cell]) -> Finding:
    return Finding(
        "note", "new_name", tuple(cells[:MOST_CELLS]), f"New {column}: {', '.join(names)}.",
        "The name has not been used here before.", "Nothing, if it is meant.",
        "The readings count under the new name.", len(cells),
    )  # fmt: skip


def _resembling(column: str, name: str, like: str, cells: Sequence[Cell]) -> Finding:
    return Finding(
        "ask", "new_name", tuple(cells[:MOST_CELLS]), f"New {column} {name!r}; {like!r} is known.",
        "They differ only in case, spaces, dashes or one letter.",
        f"Is it {like}? Correct takes {like}; accept keeps {name!r} as another {column}.",
        f"{len(cells)} reading{'s' if len(cells) != 1 else ''} count under {name!r}, apart from those "
        f"of {like!r}.",
        len(cells),
    )  # fmt: skip
