"""Matters of the invented shop, in the shape of the drift answer: one a loud series, two that have ended."""

from typing import Any

from tests.dashboard.invented import Series, iso


def _series(one: Series, *, urgent: bool) -> dict[str, Any]:
    return {
        "id": one.id, "name": ", ".join(one.key), "characteristic": one.key[2], "condition": one.condition,
        "condition_now": one.condition, "urgent": urgent, "bores_to_limit": one.drift()["bores_to_limit"],
    }  # fmt: skip


def _turn(act: str, days: float, words: str, how: str = "alarm") -> dict[str, Any]:
    return {"act": act, "at": iso(days), "how": how, "build": "B-1060", "words": words}


def name(one: Series) -> str:
    return f"{one.key[0]}-{one.key[1]}-{one.key[2]}-b-1060".replace("_", "-")


def open_matter(one: Series, acts: dict[str, list[dict[str, Any]]], *more: Series) -> dict[str, Any]:
    """A matter of a loud series; `more` are others that show it."""
    said = acts.get(name(one), [])
    taken = [a for a in said if a["act"] == "taken_up"]
    series = [_series(s, urgent=True) for s in (one, *more)]
    return {
        "id": name(one), "state": "open", "what": "wear", "machine": one.key[0], "operation": one.key[1],
        "name": f"{one.key[0]}: stones", "cause": {"kind": "machine", "id": one.key[0]},
        "conditions": [one.condition], "series": series, "worst": one.id,
        "since": {"at": iso(120), "build": "B-1060"}, "opened_at": iso(126), "opened_with": "B-1060",
        "ended_at": None, "turns": [_turn("opened", 126, "opened on 9 March 2026 with build B-1060")],
        "bores_to_limit": series[0]["bores_to_limit"],
        "taken_up": taken[-1] if taken else None,
        "taken_up_by": taken[-1]["initials"] if taken else None,
        "done": [a for a in said if a["act"] == "done"],
        "reactions": [{"words": "dress the stones; tell the foreman"}],
        "next_blocks": None, "last_good": {"at": iso(114), "build": "B-1059"},
        "bores_since": [
            {"build": "B-1060", "at": iso(120), "features": ["cyl-1", "cyl-2", "cyl-3", "cyl-4", "cyl-6"],
             "waiting": [], "waiting_rows": 0},
            {"build": "B-1061", "at": iso(126), "features": ["cyl-1", "cyl-2"], "waiting": [],
             "waiting_rows": 0},
        ],
        "bores_since_count": 7, "not_given": {}, "first": one.text, "more": "", "sentence": one.text,
    }  # fmt: skip


def ended_matter(one: Series, name_: str, words: str, how: str, made: int | None) -> dict[str, Any]:
    """A matter that has ended; the next blocks are watched where some are still to come."""
    next_blocks = None
    if made is not None:
        next_blocks = {
            "after": {"at": iso(150), "what": "event", "words": "stones changed"}, "of": 5, "made": made,
            "agree": None, "series": [], "words": f"{made} of the next 5 blocks are in and agree",
        }  # fmt: skip
    return {
        **open_matter(one, {}), "id": name_, "state": "ended", "ended_at": iso(150), "reactions": [],
        "turns": [_turn("opened", 90, "opened"), _turn("ended", 150, words, how)],
        "next_blocks": next_blocks, "first": words, "sentence": words,
        "bores_since": None, "bores_since_count": None,
    }  # fmt: skip
