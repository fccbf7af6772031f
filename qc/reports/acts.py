"""What a person does about matters: takes one up, says what was done, sets a reaction; rows that stay."""

from datetime import UTC, datetime
from typing import Any, Literal

from qc.catalogue import characteristic
from qc.errors import QuestionError
from qc.history.zone import microseconds
from qc.ingest.checks import alike
from qc.reports import reactions
from qc.reports.matters import Matter, matters
from qc.reports.reactions import one_sentence
from qc.reports.words import listed

Kind = Literal["taken_up", "done", "ended"]
LONGEST_INITIALS = 8


def found(store: Any, name: str, as_of: int | None = None) -> Matter:
    """The matter of a name, or of its beginning where that is one alone.

    Raises
    ------
    QuestionError
        When there is none, or several begin so.
    """
    known = matters(store, as_of)
    everything = (*known.all, *known.lost)
    wanted = name.strip().lower()
    exact = [m for m in everything if m.id == wanted]
    near = exact or [m for m in everything if wanted and m.id.startswith(wanted)]
    if len(near) > 1:
        still = [m for m in near if m.open]
        near = still if len(still) == 1 else near
    if len(near) != 1:
        if near:
            raise QuestionError(f"{len(near)} matters begin with {name!r}: write more of it")
        raise QuestionError(f"there is no matter {name!r}: qc matter list names them")
    return near[0]


def act(
    store: Any, name: str, kind: Kind, *, initials: str, said: str, by: str, at: int | None = None
) -> tuple[Matter, int]:
    """Note an act about an open matter; the matter, and the revision.

    Parameters
    ----------
    store : qc.store.Store
    name : str
        Of the matter.
    kind : {"taken_up", "done", "ended"}
    initials, said : str
        Who, and one free sentence.
    by : str
        Whose revision it is.
    at : int, optional
        When [us]; now without it.

    Raises
    ------
    QuestionError
        When there is no such matter, it has ended, or initials or sentence are missing or too long.
    """
    who = one_sentence(initials, "initials") or ""
    if not who or len(who) > LONGEST_INITIALS:
        raise QuestionError(f"write your initials, up to {LONGEST_INITIALS} letters: they are kept with it")
    words = one_sentence(said, "what is said")
    if words is None:
        raise QuestionError("say in one sentence what you make of it: it stays with the matter")
    matter = found(store, name)
    if not matter.open and not (kind == "done" and matter.turns[-1].how == "event"):
        raise QuestionError(f"{matter.id} has ended: it opens again by itself if it goes on")
    when = microseconds(datetime.now(UTC)) if at is None else at
    if when < matter.opened_at:
        raise QuestionError("that was before the matter opened: write the day on which it was done")
    with store.write(by=by, command=f"matter {kind.replace('_', ' ')}") as write:
        write.note("matter", {"matter": matter.id, "act": kind, "at": when, "initials": who, "said": words,
                              "told": matter.anchor()})  # fmt: skip
    return matter, int(store.revision())


def note_opened(store: Any, opened: list[Matter], *, by: str) -> None:
    """Note matters that the shop was told of for the first time, so that their names stay."""
    if not opened:
        return
    with store.write(by=by, command="matter opened") as write:
        there = set(store.records("matter")["matter"])
        for matter in opened:
            if matter.id not in there:
                write.note("matter", {"matter": matter.id, "act": "opened", "at": matter.opened_at,
                                      "initials": None, "said": None, "told": matter.anchor()})  # fmt: skip


def react(
    store: Any, about: dict[str, Any], *, does: str | None, tells: str | None, remeasures: str | None, by: str
) -> int:
    """Note a reaction, or with `does` None take it back; the revision.

    Raises
    ------
    InputError, QuestionError
        An unknown characteristic; a slip in a machine's name; a sentence too long; a
        reaction that is not there to be taken back.
    """
    characteristic(about["characteristic"])
    row = {k: about.get(k) or None for k in ("characteristic", "machine", "operation")}
    if does:  # one that was set for a name that is not there can still be lifted
        _known_machine(store, row["machine"])
    told = {
        "does": one_sentence(does, "what is done"), "tells": one_sentence(tells, "who is told"),
        "remeasures": one_sentence(remeasures, "what is measured again"),
    }  # fmt: skip
    there = [r for r in reactions.in_force(store) if all(r[k] == row[k] for k in row)]
    if told["does"] is None and not there:
        known = listed([reactions.about(r) for r in reactions.in_force(store)]) or "none"
        raise QuestionError(f"there is no reaction for {reactions.about(row)}: those set are {known}")
    with store.write(by=by, command="reaction set" if told["does"] else "reaction lift") as write:
        write.note("reaction", {**row, **told})
    return int(store.revision())


def _known_machine(store: Any, name: str | None) -> None:
    """Refuse a slip in a machine's name, as its reaction would never be shown; one to come may be named."""
    known = sorted(set(store.series()["machine"]))
    like = None if name is None or name in known else next((k for k in known if alike(name, k)), None)
    if like is not None:
        raise QuestionError(f"there is no machine {name!r}: is it {like}?")
