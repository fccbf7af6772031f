"""What the page of doubts shows, from the answers."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

from dashboard.theme.shown import number
from qc.catalogue import said

Row = Mapping[str, Any]
PARTS: Final = (
    ("What I see", "saw"), ("Why I doubt it", "doubt"), ("What I propose", "proposal"),
    ("What changes", "effect"),
)  # fmt: skip
_SEVERITY: Final = {
    "stop": "kept out of the figures", "ask": "counts meanwhile, marked", "note": "only a note",
}  # fmt: skip
_DONE: Final = {
    "accept": "Taken as written", "correct": "Taken as corrected", "discard": "Left out for good",
}  # fmt: skip
DEGREE: Final = "\N{DEGREE SIGN}"
DECIDED: Final = 12  # decisions that are listed, the last first


def severity(row: Row) -> str:
    """What the doubt does to the figures, in words."""
    if row["severity"] == "stop" and not row["held_rows"]:
        return "the file waits"
    return _SEVERITY[row["severity"]]


def waiting(rows: Sequence[Row]) -> list[Row]:
    """Doubts nobody has decided about; what keeps rows out first."""
    left = [r for r in rows if not r["decided"] and (r["held_rows"] or r["severity"] != "note")]
    return sorted(left, key=lambda r: (r["severity"] != "stop", r["id"]))


def decided(rows: Sequence[Row]) -> list[Row]:
    """The last decisions, newest first."""
    done = [r for r in rows if r["decided"]]
    return sorted(done, key=lambda r: -int(r["decided"]["revision"]))[:DECIDED]


def count(row: Row) -> str:
    """How many cells it names."""
    return "1 cell" if row["count"] == 1 else f"{row['count']} cells"


def standing(row: Row) -> str:
    """What an open doubt does, how many cells it names, and whether it was decided about before."""
    return f"{severity(row)}, {count(row)}{', decided before and taken back' if row['history'] else ''}"


def done(row: Row) -> str:
    """What was decided, by whom and why."""
    told = row["decided"]
    return f"{_DONE[told['decision']]} by {told['by']}: {told['reason'] or 'no reason given'}"


def story(row: Row) -> list[str]:
    """What was decided about it before and taken back, a sentence each."""
    return [str(step["sentence"]) for step in row["history"]]


def closed(row: Row) -> bool:
    """Whether nothing can be decided here: it waits under another number, or went with another decision."""
    return row["again"] is not None


def change(row: Row) -> tuple[str, ...]:
    """One held row: where, what it is about, its text, its size and verdict as written, then as proposed."""
    place = f"{row['sheet']} {row['row']}" if row.get("sheet") else str(row["row"])
    written = _read(row["as_written"])
    proposed = _read(row["as_proposed"])
    return (place, row["about"], row["text"], *written, row["proposed"] or "\N{EN DASH}", *proposed)


def _read(read: Mapping[str, Any] | None) -> tuple[str, str]:
    if read is None:
        return "", ""
    if read["value"] is None:
        return "not readable", ""
    decimals = {"in": 5, "mm": 4}.get(read["unit"], 2)
    warm = read["value_20"] is not None  # the text beside it says what was read
    judged = read["value_20"] if warm else read["value"]
    size = f"{number(judged, decimals)} {read['unit']}{f' at 20 {DEGREE}C' if warm else ''}"
    return size, said(read["verdict"]) if read["verdict"] else "no limits known"


def proposes(row: Row) -> bool:
    """Whether its rows carry a proposal that can be taken."""
    return any(one["proposed"] for one in row.get("before_after") or ())
