"""One doubt in full: its words, each cell before and after, the verdicts, and the file around it."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any, Final

from qc.errors import QuestionError
from qc.ingest import effect
from qc.records import Asked
from qc.reports import held
from qc.reports.words import listed, plain, plural

_WORDS: Final[Mapping[str | None, tuple[str, str]]] = {
    "does_not_conform": ("{n} reading lies outside its limits", "{n} readings lie outside their limits"),
    "conforms": ("{n} lies inside", "{n} lie inside"),
    None: ("for {n} no limits are known", "for {n} no limits are known"),
}


def answer(store: Any, finding: int, asked: Asked) -> dict[str, Any]:
    """The document of `qc.reports.held` with this one finding, and what a decision would change.

    Raises
    ------
    QuestionError
        When no such finding is known.
    """
    document = held.answer(store, asked, every=True, number=finding)
    mine = [one for one in document["findings"] if one["id"] == finding]
    if not mine:
        raise QuestionError(f"no doubt has the number {finding}: see qc held")
    frame = store.findings(open_only=False)
    row = next(frame[frame["id"] == finding].itertuples())
    changes = [] if mine[0]["decided"] else effect.changes(store, finding)
    told = {
        "before_after": [asdict(c) for c in changes],
        "verdicts": _verdicts(changes),
        "grid": effect.grid(store, row),
    }
    sentence = _sentence(changes) if mine[0]["again"] is None else _elsewhere(mine[0]["again"])
    return {**document, "sentence": sentence, "findings": plain([{**mine[0], **told}])}


def _elsewhere(again: Sequence[int]) -> str:
    """Where a doubt stands of which the decision was taken back."""
    if not again:
        return "It came of a decision that was taken back, and went with it."
    return f"The decision was taken back: it waits again as {listed([str(n) for n in again])}."


def _verdicts(changes: list[effect.Changed]) -> dict[str, dict[str, int]]:
    """How many rows each verdict has, as written and as proposed."""
    written = Counter(c.as_written.verdict or "none" for c in changes)
    proposed = Counter(c.as_proposed.verdict or "none" for c in changes if c.as_proposed is not None)
    return {"as_written": dict(written), "as_proposed": dict(proposed)}


def _sentence(changes: list[effect.Changed]) -> str:
    if not changes:
        return "No row waits under it: a decision only settles the question."
    parts = [f"As written {_told([c.as_written for c in changes])}"]
    proposed = [c.as_proposed for c in changes if c.as_proposed is not None]
    if proposed:
        parts.append(f"as proposed {_told(proposed)}")
    return "; ".join(parts) + "." + _temperature([c.as_written for c in changes] + proposed)


def _temperature(reads: Sequence[effect.Read]) -> str:
    """What temperature has to do with these verdicts, where it has."""
    words = ""
    if any(r.value_20 is not None for r in reads):
        words += " Sizes are judged at 20 degC, as in every figure."
    if why := list(dict.fromkeys(r.not_at_20 for r in reads if r.not_at_20)):
        words += f" Those read warm or cold are judged as read where {listed(why)}."
    return words


def _told(reads: list[effect.Read]) -> str:
    counts = Counter(r.verdict for r in reads if r.value is not None or r.verdict)
    unread = sum(r.value is None for r in reads)
    parts = [_WORDS[v][n > 1].format(n=n) for v in _WORDS if (n := counts.get(v, 0))]
    parts += [f"{plural(unread, 'row')} cannot be read"] if unread else []
    return ", ".join(parts) or "nothing would count"
