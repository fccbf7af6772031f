"""Decisions about what is held or doubted: accept, correct or discard, with a reason, one revision each."""

from dataclasses import dataclass
from typing import Any

from qc.errors import QuestionError
from qc.ingest import companions, renamed
from qc.ingest.taking import Correction, Decision, Taking, waiting_rows
from qc.store import Store, Write, became, undoing


@dataclass(frozen=True, slots=True)
class Decided:
    """What a decision did: its revision, rows kept by it, rows held again under another finding."""

    revision: int
    kept: int
    held: int


def decide(
    store: Store, finding_id: int, decision: Decision, reason: str, by: str, correction: Correction = None
) -> Decided:
    """Decide about a finding.

    Parameters
    ----------
    store : Store
    finding_id : int
    decision : {"accept", "correct", "discard"}
        Take the cells as they are written, as they should read, or leave them out for good.
    reason, by : str
        Why, and who says so; kept for ever.
    correction : str or mapping, optional
        For `correct`: what the cells that the finding names should read, or texts by column; a key
        "7:value" or
        "Sheet1!7:value" is for one row only. Without it the finding's proposal is taken.

    Raises
    ------
    QuestionError
        No such finding, one decided already, or a decision that does not fit it.
    InputError
        A correction that cannot be read either.
    """
    if not (reason or "").strip():
        raise QuestionError("a decision needs a reason: say why in a few words")
    if decision not in ("accept", "correct", "discard"):
        raise QuestionError(f"{decision!r} is no decision: accept, correct or discard")
    finding = _finding(store, finding_id)
    waiting = waiting_rows(store, finding_id)
    with store.write(by=by, command=f"held {decision}", reason=reason) as write:
        if not waiting:
            kept, held = _without_rows(store, write, finding, decision, reason, correction, by)
        elif decision == "discard":
            write.decide(finding_id, "discard", reason)
            companions.close(
                store, write, int(finding.file_id), [w.number for w in waiting], decision, reason
            )
            kept, held = 0, 0
        else:
            kept, held = Taking(store, write, finding, decision, reason, by).all(waiting, correction)
        return Decided(write.revision, kept, held)


def undo(store: Store, finding_id: int, reason: str, by: str) -> undoing.Undone:
    """Take the last decision about a finding back: its rows wait again, under a new number.

    Raises
    ------
    QuestionError
        No such finding, one that nobody has decided about, or one whose readings were changed since.
    """
    if not (reason or "").strip():
        raise QuestionError("taking a decision back needs a reason: say why in a few words")
    found = store.findings(open_only=False)
    if found[found["id"] == finding_id].empty:
        raise QuestionError(f"there is no finding {finding_id}: qc held list --decided tells those decided")
    revision = store.decision(finding_id)
    if revision is None:
        raise QuestionError(
            f"nobody has decided about finding {finding_id} yet: there is nothing to take back"
        )
    with store.write(by=by, command=became.COMMAND.format(revision), reason=reason) as write:
        return undoing.undo(write, revision, reason)


def _finding(store: Store, finding_id: int) -> Any:
    found = store.findings(open_only=False)
    mine = found[found["id"] == finding_id]
    if mine.empty:
        raise QuestionError(f"there is no finding {finding_id}: qc held lists those that wait")
    finding = next(mine.itertuples())
    if finding.decided:
        raise QuestionError(
            f"finding {finding_id} was decided in revision {finding.decided['revision']} already: "
            f"{finding.decided['decision']}"
        )
    return finding


def _without_rows(
    store: Store, write: Write, finding: Any, decision: Decision, reason: str, correction: Correction, by: str
) -> tuple[int, int]:
    """Decide about a finding that holds no row: a file that was not read, or cells that count, marked."""
    others = companions.holding(store, finding) if finding.cells else []
    if finding.severity == "stop" and others:
        numbers = ", ".join(map(str, others))
        raise QuestionError(
            f"the rows of finding {finding.id} wait under finding {numbers}: decide about that first"
        )
    if finding.severity == "stop" and decision != "discard":
        raise QuestionError(
            f"{finding.file} could not be read at all: put the file right and take it in again, or discard it"
        )
    done = (0, 0)
    if finding.severity == "ask" and decision != "accept":
        done = renamed.changed(store, write, finding, decision, reason, correction, by)
    elif decision == "correct":
        raise QuestionError(f"finding {finding.id} proposes nothing to correct: accept or discard it")
    write.decide(int(finding.id), decision, reason)
    return done
