"""Texts of cells to the keys of the catalogue: features, states, characteristics, methods, directions."""

import re
from difflib import get_close_matches
from functools import lru_cache
from typing import Final

from qc import units
from qc.catalogue import CATALOGUE, EVENTS, HALF_TURN, SAID, STATES, nearest
from qc.errors import NumberError
from qc.ingest.kinds import folded

FULL_TURN: Final = 36_000_000  # ticks
_NUMBERED = re.compile(r"(cyl|main|rod)0*([1-9]\d{0,2})")
_SHELL = re.compile(r"(main|rod)0*([1-9]\d{0,2})(upper|lower)")
_ALONE: Final = {"deckleft": "deck-left", "deckright": "deck-right", "whole": "whole", "master": "master"}
_ALIKE: Final = {
    "cylinder": "cyl",
    "bore": "cyl",
    "hole": "cyl",
    "journal": "main",
    "bearing": "main",
    "pin": "rod",
}
_CLOCK_WORDS: Final = {"thrust": 90, "crank": 0}
_KEYS: Final = {folded(k): k for k in CATALOGUE}
_STATES: Final = {folded(k): k for k in STATES} | {folded(SAID[k]): k for k in STATES if k in SAID}
_EVENTS: Final = {folded(k): k for k in EVENTS} | {folded(e.label): k for k, e in EVENTS.items()}
# these could be computed from readings, so one that comes typed stands apart
COMPUTABLE: Final = frozenset(k for k, e in CATALOGUE.items() if e.formula) | {"tunnel_offset"}


@lru_cache(maxsize=4096)
def feature(text: str) -> str | None:
    """Key of a feature (`cyl-3`), None for a text that names none."""
    flat = folded(text)
    if flat in _ALONE:
        return _ALONE[flat]
    if match := _NUMBERED.fullmatch(flat):
        return f"{match[1]}-{match[2]}"
    if match := _SHELL.fullmatch(flat):
        return f"{match[1]}-{match[2]}-{match[3]}"
    return None


def near_feature(text: str) -> str:
    """The feature a text seems to mean, or an empty text."""
    flat = folded(text)
    for word, key in _ALIKE.items():
        if flat.startswith(word):
            return feature(key + flat[len(word) :].lstrip("#.")) or ""
    letters = flat.rstrip("0123456789")
    found = get_close_matches(letters, ["cyl", "main", "rod"], 1, 0.6)
    return (feature(found[0] + flat[len(letters) :]) or "") if found and letters else ""


@lru_cache(maxsize=1024)
def characteristic(text: str) -> str | None:
    """Key of a characteristic, None when the catalogue has none."""
    return _KEYS.get(folded(text))


def near_characteristic(text: str) -> str:
    """The key that looks most like a text, or an empty text."""
    return nearest(text)


def state(text: str) -> str | None:
    """Key of a state, None when there is none."""
    return _STATES.get(folded(text))


def near_state(text: str) -> str:
    """The state that looks most like a text, or an empty text."""
    found = get_close_matches(folded(text), list(_STATES), 1, 0.5)
    return _STATES[found[0]] if found else ""


def event(text: str) -> str | None:
    """Key of an event kind, None when there is none."""
    return _EVENTS.get(folded(text))


def near_event(text: str) -> str:
    """The event that looks most like a text, or an empty text."""
    found = get_close_matches(folded(text), list(_EVENTS), 1, 0.5)
    return _EVENTS[found[0]] if found else ""


@lru_cache(maxsize=1024)
def method(characteristic_key: str, text: str | None) -> str:
    """Method of a reading: the catalogue's first for a blank, `typed` for what could have been computed."""
    if characteristic_key in COMPUTABLE:
        return _typed(characteristic_key, "" if text is None else folded(text).removeprefix("typed"))
    known = CATALOGUE[characteristic_key].methods
    if text is None:
        return known[0]
    return next((m for m in known if folded(m) == folded(text)), text)


def _typed(characteristic_key: str, said: str) -> str:
    """Method of a typed figure. Two planes of a line are two figures: one must never void the other."""
    if said == "range":
        return "typed-range"
    planes = ("vertical", "horizontal", "overall-vertical", "overall-horizontal")
    known = planes if characteristic_key == "tunnel_offset" else ()
    return next((f"typed-{plane}" for plane in known if folded(plane) == said), "typed")


@lru_cache(maxsize=4096)
def clock(text: str, characteristic_key: str | None) -> int | None:
    """Direction in ticks of a degree, None for no direction; a diameter at 180 is the one at 0."""
    word = _CLOCK_WORDS.get(text.strip().casefold())
    if word is not None:
        ticks = units.ticks(units.number(str(word)), "deg")
    else:
        try:
            ticks = units.ticks(units.number(text.strip().rstrip("\N{DEGREE SIGN}")), "deg")
        except NumberError:
            return None
    if not -FULL_TURN <= ticks <= FULL_TURN:
        return None
    return ticks % (FULL_TURN // 2 if characteristic_key in HALF_TURN else FULL_TURN)
