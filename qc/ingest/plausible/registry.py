"""The checks in the order in which they are asked, and what becomes of what they doubt."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from types import SimpleNamespace
from typing import Any, Final

from qc.catalogue import CATALOGUE
from qc.ingest.doubted import who
from qc.ingest.kinds import canonical
from qc.ingest.line import Doubt
from qc.ingest.plausible import (
    again,
    clearances,
    copied,
    dates,
    elsewhere,
    forms,
    holes,
    limits,
    lone,
    named,
    nominal,
    plates,
    registered,
    rounded,
    runs,
    scale,
    shifted,
    signs,
    states,
    stock,
    twins,
    typed,
    unit_cells,
    values,
    years,
    zeroed,
)  # fmt: skip
from qc.ingest.plausible.past import MOST_READINGS, Memory, Past, Series
from qc.ingest.plausible.scene import Check, Scene, Suspicion
from qc.ingest.rows import Row
from qc.ingest.specified import Said, said
from qc.ingest.words import cells_of, texts_said, waiting
from qc.records import Finding, Reading
from qc.store import Write, neighbours
from qc.store.lookalike import builds_alike

# the order matters: a slip that explains more is asked for before one that explains less
CHECKS: Final[tuple[Check, ...]] = (
    copied, named, nominal, forms, unit_cells, scale, signs, plates, lone, rounded, runs, twins, holes,
    states, zeroed, shifted, values, stock, elsewhere, dates, years, registered, again, typed, clearances,
)  # fmt: skip
CODES: Final = frozenset(code for check in CHECKS for code in check.CODES) | frozenset(limits.CODES)


@dataclass(frozen=True, slots=True)
class Around:
    """What the checks may ask for: the transaction, what the desk remembers, specifications and registers."""

    write: Write
    memory: Memory
    judged_by: Callable[[], tuple[Sequence[Any], Mapping[str, Any]]]
    registers: Callable[[str], Any]

    def load(self, series: Sequence[Series]) -> dict[Series, Past]:
        """The past of series, asked of the store where the desk does not know it."""
        new = self.memory.asked(series)
        if new:
            told = neighbours.past(self.write, new, MOST_READINGS)
            for one in new:
                rows = told.get(one, [])
                self.memory.learn(one, rows, self._targets(one, rows))
        return {s: self.memory.past(s) for s in series}

    def _targets(self, series: Series, rows: Sequence[Any]) -> list[int | None]:
        """Targets in force of the store's rows: their own, else those of the specifications."""
        own = [r.target for r in rows]
        if not CATALOGUE[series[2]].coded or None not in own or not self.judged_by()[0]:
            return own
        machine, operation, characteristic, method, state = series
        names = {
            "machine": machine, "operation": operation, "characteristic": characteristic, "method": method,
            "state": state, "lower": None, "upper": None,
        }  # fmt: skip
        told = said([SimpleNamespace(**r._mapping, **names) for r in rows], *self.judged_by())  # type: ignore[misc]
        return [one.target for one in told]

    def judged(self, kept: Sequence[Any]) -> list[Said]:
        """What the specifications say of kept readings."""
        return said(kept, *self.judged_by())


def scene(rows: Sequence[Row], answers: Mapping[int, Said], kept: Sequence[Any], around: Around) -> Scene:
    """The scene of rows that all have a reading.

    Parameters
    ----------
    answers : mapping of id() of a reading to what the specifications say of it
    kept : sequence
        Readings of the same builds that the store has.
    """
    readings = tuple(r.record for r in rows if isinstance(r.record, Reading))
    return Scene(
        tuple(rows), readings, tuple(answers[id(r)] for r in readings), kept, around.judged, around.load,
        around.registers, partial(builds_alike, around.write), partial(neighbours.of_builds, around.write),
        partial(neighbours.brought_by, around.write),
    )  # fmt: skip


def judged(at: Scene, checks: Sequence[Check] | None = None) -> Iterator[Suspicion]:
    """What the checks doubt, a reading that is held left alone by those after; rows are never empty.

    Parameters
    ----------
    at : Scene
    checks : sequence of Check, optional
        Others than all of them.
    """
    if not len(at):
        return
    held: set[int] = set()
    at.memo["held"] = held  # for checks that work something out from other readings
    explained: set[int] = set()
    seen: set[tuple[str, str]] = set()
    for check in CHECKS if checks is None else checks:
        for doubt in check.doubts(at):
            away = held | explained if check.RIVALS and doubt.severity != "note" else held
            left = tuple(i for i in dict.fromkeys(doubt.rows) if i not in away)
            if not left:
                continue
            if doubt.severity == "stop":
                held |= set(left)
            if check.RIVALS and doubt.severity != "note":
                explained |= set(left)
            yield replace(doubt, rows=left, cause=_single(doubt, seen))


def _single(doubt: Suspicion, seen: set[tuple[str, str]]) -> str:
    """The doubt's cause, numbered where another finding of the file has it."""
    cause, n = doubt.cause, 1
    while (doubt.code, cause) in seen:
        n += 1
        cause = f"{doubt.cause}|{n}"
    seen.add((doubt.code, cause))
    return cause


def pairs(lines: Sequence[Row], doubt: Suspicion) -> list[tuple[Row, Doubt]]:
    """The rows in doubt, each with the doubt about its cell."""
    found = []
    for i in doubt.rows:
        column, text = _cell(lines[i], doubt.column)
        found.append((lines[i], Doubt(doubt.code, doubt.cause, column, text, doubt.proposed.get(i, ""))))
    return found


def _cell(row: Row, column: str) -> tuple[str, str]:
    if column != "value":
        for header, text in row.fields:
            if canonical(header) == column:
                return header, text
    source = row.record.source if row.record is not None else None
    return (source.column, source.text) if source is not None else (column, "")


def finding(doubt: Suspicion, about: Sequence[tuple[Row, Doubt]]) -> Finding:
    """The finding about these rows, in words."""
    features = {r.record.feature for r, _ in about if isinstance(r.record, Reading)}
    them = who(about)
    names = {
        "{who}": them[:1].lower() + them[1:],
        "{texts}": texts_said([d.text for _, d in about]).replace("'", ""),
        "{read}": "read" if len(features) > 1 else "reads",
    }  # fmt: skip
    told = []
    for sentence in (doubt.saw, doubt.doubt, doubt.proposal, doubt.effect or _effect(doubt, len(about))):
        # a capital only where a sentence begins with them: others may begin with somebody's name for a gauge
        sentence = them + sentence.removeprefix("{who}") if sentence.startswith("{who}") else sentence
        for mark, words in names.items():
            sentence = sentence.replace(mark, words)
        told.append(sentence)
    saw, why, proposal, effect = told
    if doubt.severity != "stop":
        # these readings count: no text waits for them, a person writes it
        proposal = proposal.replace("Correct takes ", "Correct it to ")
    return Finding(doubt.severity, doubt.code, cells_of(about), saw, why, proposal, effect, len(about))


def _effect(doubt: Suspicion, count: int) -> str:
    if doubt.severity == "stop":
        return waiting(count)
    if doubt.severity == "note":
        return "The readings count as they are."
    return f"{count} reading{'s count' if count != 1 else ' counts'}, marked, until this is decided."
