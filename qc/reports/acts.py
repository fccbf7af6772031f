"""What a person does about a matter: takes it up, says what was done, ends it; each a row that stays."""

from datetime import UTC, datetime
from typing import Any, Literal

from qc.errors import QuestionError
from qc.history.zone import microseconds
from qc.reports.matters import Matter, matters
from qc.reports.reactions import one_sentence

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
        which = f"{len(near)} matters begin so: write more of it" if near else "qc matter list names them"
        raise QuestionError(f"there is no one matter {name!r}: {which}")
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
