"""Whether a bore reads alike with the plate on and off: then it was read in one of both states only.

Each hole is held against its own readings in the other state, place by place. Two explanations compete: the
plate makes the difference that it usually makes, or both readings are of one state and differ as two readings
of one place do. Which of the two states is wrong is told by the form of the holes in doubt together.
"""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from math import log, sqrt
from typing import Any, Final

import numpy as np

from qc.ingest.plausible.fit import Place, steps
from qc.ingest.plausible.plate_history import (
    BOTH,
    LEAST_PLACES,
    Hole,
    Pull,
    before,
    keyed,
    like,
    likelihood,
    more_like_on,
    pulled,
    squares,
    there,
)  # fmt: skip
from qc.ingest.plausible.scene import Scene, Suspicion
from qc.ingest.plausible.states import mixed

CODES: Final = ("states_mixed",)
RIVALS: Final = True
# a likelihood ratio exceeds k by chance with probability 1/k at most (Markov): one sound hole in 1,000
_LIKELIER: Final = log(1000)
_BESIDE: Final = log(2)  # likewise, beside a hole that was surely read so
_Z: Final = 3.719  # of the normal distribution at 1 - 1/10,000
_ROUNDING: Final = 1 / 6  # of a gauge's step squared: variance of the difference of two rounded readings
_TABLE: Final = ("build", "machine", "operation", "characteristic", "method")

Key = tuple[Any, ...]
Read = dict[str, dict[str, dict[Place, float]]]  # size by state, hole and place


def doubts(scene: Scene) -> Iterator[Suspicion]:
    """Yield one suspicion a table that was read in the other state."""
    for key, ours in _tables(scene).items():
        read = _read(scene, key)
        holes = _holes(read, scene.columns["engine"][ours[0]])
        if not holes:
            continue
        on, off = (scene.load([s])[s] for s in ((*key[1:5], state) for state in BOTH))
        history = before(on, off)
        doubted = _alike(scene, ours, holes, history)
        if doubted:
            yield from _told(scene, key, ours, holes, history, doubted)


def _tables(scene: Scene) -> dict[Key, list[int]]:
    """Positions of the file's readings with the plate on or off, first pass, by table."""
    c = scene.columns
    found: dict[Key, list[int]] = defaultdict(list)
    for key, at in scene.groups((*_TABLE, "state")).items():
        if key[0] is not None and key[-1] in BOTH and key[3] == "bore_diameter":
            found[key[:-1]] += [i for i in at if not c["pass"][i] > 1]
    return {key: at for key, at in found.items() if at}


def _read(scene: Scene, key: Key) -> Read:
    """What was read of a table in both states, here and before."""
    found: Read = {state: defaultdict(dict) for state in BOTH}
    for c in reversed(scene.everywhere):
        there = ~(c["pass"] > 1)
        for name, value in zip(_TABLE, key, strict=True):
            there &= c[name] == value
        for state in BOTH:
            at = np.flatnonzero(there & (c["state"] == state))
            for i, place in zip(at.tolist(), keyed(c["station"][at], c["clock"][at]), strict=True):
                found[state][c["feature"][i]][place] = float(c["size"][i])
    return found


def _holes(read: Read, engine: str | None) -> dict[str, Hole]:
    on, off = (read[state] for state in BOTH)
    holes = {f: Hole("", engine, on[f], off[f]) for f in on if f in off}
    return {f: h for f, h in holes.items() if len(h.places) >= LEAST_PLACES}


def _alike(
    scene: Scene, ours: Sequence[int], holes: Mapping[str, Hole], history: Sequence[Hole]
) -> dict[str, np.ndarray]:
    """What the plate usually does to holes that read alike in both states, as when both were read in one."""
    c = scene.columns
    step = steps(c["text"][ours].tolist(), c["unit"][ours].tolist())
    rounding = _ROUNDING * step**2 if step == step else 0.0
    likelier: dict[str, float] = {}
    pulls: dict[str, np.ndarray] = {}
    known: dict[tuple[Place, ...], Pull | None] = {}
    for name, hole in holes.items():
        places = hole.places
        others = [h for f, h in holes.items() if f != name]
        at = tuple(places)
        if at not in known:
            known[at] = pulled(like(there(history, places), hole.engine), places, rounding)
        usual = known[at] or pulled(like(there(others, places), hole.engine), places, rounding)
        if usual is None:
            continue
        pull = hole.pull(places)
        if squares(pull, usual.noise, usual.shift) > _chance(len(places)):
            continue  # another slip: no two readings of one place differ so
        alike = likelihood(pull, usual.noise, usual.shift)
        likelier[name] = alike - likelihood(pull - usual.usual, usual.spread, usual.shift)
        pulls[name] = usual.usual
    if not any(x > _LIKELIER for x in likelier.values()):
        return {}
    return {name: pulls[name] for name, x in likelier.items() if x > _BESIDE}


def _chance(n: int) -> float:
    """What a sum of n squares of normal values exceeds once in 10,000.

    Source: Wilson and Hilferty's approximation, Abramowitz and Stegun, Handbook of Mathematical Functions,
    26.4.17 (from memory).
    """
    return float(n * (1 - 2 / (9 * n) + _Z * sqrt(2 / (9 * n))) ** 3)


def _told(
    scene: Scene, key: Key, ours: Sequence[int], holes: Mapping[str, Hole], history: Sequence[Hole],
    doubted: Mapping[str, np.ndarray],
) -> Iterator[Suspicion]:  # fmt: skip
    """The state that is wrong, by the form of all holes in doubt."""
    like_on = 0.0
    sound = [h for f, h in holes.items() if f not in doubted]
    for name, usual in doubted.items():
        places = holes[name].places
        every, beside = there(history, places), there(sound, places)
        if every or beside:
            like_on += more_like_on(holes[name], usual, every or beside, beside, places)
    order = BOTH if like_on < 0 else BOTH[::-1]
    c = scene.columns
    for written, meant in (order, order[::-1]):
        at = [i for i in ours if c["state"][i] == written and c["feature"][i] in doubted]
        if at:
            yield mixed((*key[1:5], written), (*key[1:5], meant), sorted(at))
            return
