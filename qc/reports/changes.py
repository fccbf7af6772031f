"""What changed in the conditions of series and in matters since the shop was told last."""

import json
from collections import Counter
from collections.abc import Mapping
from typing import Any, Final

from qc.history import series_id
from qc.history.zone import shop_zone
from qc.reports import acts, matter_words
from qc.reports.alarms import URGENT
from qc.reports.conditions import Conditions, judged
from qc.reports.heads import Key
from qc.reports.matters import Matter, Matters, matters
from qc.reports.words import listed

Row = dict[str, Any]
State = dict[str, Any]
_TOLD: Final = "told@1"
_SUBJECT: Final = {"shop": "as told last"}  # one row of what is kept for speed; without it the store is asked


def told_before(store: Any) -> State | None:
    """Conditions and matters as they were told last, None where nobody was ever told.

    Call it before anything is written.
    """
    kept = store.recalled(_TOLD, _SUBJECT)
    if kept:
        state: State = json.loads(kept["shop"])
        if state["revision"] <= store.revision():
            return state
    if not len(store.series()):
        return None
    return _state(store, judged(store), matters(store))


def _state(store: Any, known: Conditions, there: Matters) -> State:
    return {
        "revision": store.revision(),
        "conditions": {series_id(k): c.condition for k, c in known.by_series.items()},
        "matters": {m.id: [len(m.turns), m.open] for m in there.all},
    }


def changed(store: Any, before: State | None, *, by: str) -> list[Row]:
    """Series whose condition is another, and matters that opened or ended, since a state; then it is told.

    Only the series that new readings touch are judged again (`qc.reports.judgements`). A matter told of for
    the first time is noted in the store, so that its name stays.

    Parameters
    ----------
    store : qc.store.Store
    before : mapping or None
        What `told_before` gave before the files were taken in; None: nothing was known.
    by : str
        Whose revision the note is.

    Returns
    -------
    list of dict
        `series`, `name`, `was`, `now` (condition; `was` None: new), `matter` (`id`, `became` new, reopened
        or ended) or None, `sentence`; a matter that changed with no series of its own has `series` None.
    """
    known, there = judged(store), matters(store)
    was: State = before or {"conditions": {}, "matters": {}}
    turned = {m.id: word for m in there.all if (word := _became(m, was["matters"].get(m.id)))}
    zone = shop_zone(store.settings())
    rows: list[Row] = []
    told: set[str] = set()
    for key, one in known.by_series.items():
        name = series_id(key)
        mine = there.of(key)
        matter = mine if mine is not None and mine.id in turned else None
        if was["conditions"].get(name) == one.condition:
            continue
        rows.append(_row(key, was["conditions"].get(name), one.condition, matter, turned))
        told |= {matter.id} if matter is not None else set()
    rows += [_alone(m, turned[m.id], known, zone) for m in there.all if m.id in turned and m.id not in told]
    fresh = [m for m in there.all if turned.get(m.id) == "new"]
    acts.note_opened(store, fresh, by=by)
    store.keep(_TOLD, _SUBJECT, {"shop": json.dumps(_state(store, known, there))})
    return rows


def _became(matter: Matter, before: list[Any] | None) -> str | None:
    """What became of a matter; one that opened and ended unseen is history."""
    if before is None:
        return "new" if matter.open else None
    turns, was_open = before
    if matter.open and len(matter.turns) > turns:
        return "reopened"
    return "ended" if was_open and not matter.open else None


def _row(key: Key, was: str | None, now: str, matter: Matter | None, turned: Mapping[str, str]) -> Row:
    name = matter_words.series_of(key)
    step = f"{was} -> {now}" if was is not None else now
    sentence = f"{name}: {step}" + (f"; {_of_matter(matter, turned[matter.id])}" if matter else "")
    return {
        "series": series_id(key), "name": name, "was": was, "now": now,
        "matter": None if matter is None else {"id": matter.id, "became": turned[matter.id]},
        "sentence": sentence,
    }  # fmt: skip


def _of_matter(matter: Matter, became: str) -> str:
    words = {"new": "new matter", "reopened": "opened again", "ended": "ended"}
    return f"{words[became]} {matter.id}"


def _alone(matter: Matter, became: str, known: Conditions, zone: Any) -> Row:
    named = matter_words.name(matter, {}, known)
    how = matter_words.turn(matter.turns[-1], zone)
    return {
        "series": None, "name": named, "was": None, "now": None,
        "matter": {"id": matter.id, "became": became},
        "sentence": f"{named}: {_of_matter(matter, became)}, {how}",
    }  # fmt: skip


def lines(rows: list[Row]) -> list[str]:
    """Rows as a person reads them: series judged for the first time and quiet are only counted."""
    first = [r for r in rows if r["series"] and r["was"] is None]
    quiet = Counter(r["now"] for r in first if r["now"] not in URGENT and r["matter"] is None)
    out = [r["sentence"] for r in rows if not (r in first and r["now"] in quiet and r["matter"] is None)]
    if quiet:
        words = {"steady": "steady", "thin": "with too few blocks to say"}
        parts = [f"{n} {words.get(word, word)}" for word, n in sorted(quiet.items())]
        out.append(f"series judged for the first time: {listed(parts)}")
    return out


def refused(why: Exception) -> str:
    """Words for files that are in while their judgement failed."""
    return f"the files are taken in, but what changed could not be worked out: {why}"
