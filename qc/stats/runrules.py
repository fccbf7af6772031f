"""Average run length of charts with rules about runs of points, by an exact Markov chain."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from qc.errors import QuestionError

_MOST_STATES = 4000
State = tuple[int, ...]


@dataclass(frozen=True, slots=True)
class RunRule:
    """``hits`` of the last ``window`` points lie on one side beyond ``inner``, and short of ``outer``.

    Both are distances from the centre [standard deviations of a point]; ``outer`` None = no end.
    """

    hits: int
    window: int
    inner: float
    outer: float | None = None


def run_length(rules: Sequence[RunRule], shift: float = 0.0) -> float:
    """Return the average run length of a chart with these rules [points]; the first to signal ends the run.

    Points are independent and normal with known centre and spread.
    Source: C. W. Champ and W. H. Woodall (1987), Technometrics 29, 393-399 (from memory).

    Parameters
    ----------
    rules : sequence of RunRule
    shift : float
        Of the level [standard deviations of a point], there from the first point on.
    """
    edges, moves = _chain(tuple(rules))
    shares = np.diff(ndtr(np.concatenate(([-np.inf], edges, [np.inf])) - shift))
    # each class of points leads from every state to one state, or to the end (-1)
    count = moves.shape[0]
    step = np.zeros((count, count))
    for kind, share in enumerate(shares):
        going = moves[:, kind] >= 0
        np.add.at(step, (np.flatnonzero(going), moves[going, kind]), share)
    return float(np.linalg.solve(np.eye(count) - step, np.ones(count))[0])


@lru_cache(maxsize=64)
def _chain(rules: tuple[RunRule, ...]) -> tuple[NDArray[np.float64], NDArray[np.intp]]:
    """Edges between classes of points, and the state each class leads to from each state."""
    if not rules or any(not 0 < r.hits <= r.window for r in rules):
        raise QuestionError("a rule about runs needs at least 1 hit and no more hits than points")
    distances = {d for r in rules for d in (r.inner, r.outer) if d is not None}
    edges = np.array(sorted({s * d for d in distances for s in (-1.0, 1.0)}))
    middles = np.concatenate(([edges[0] - 1], (edges[:-1] + edges[1:]) / 2, [edges[-1] + 1]))
    places: dict[State, int] = {(0,) * (2 * len(rules)): 0}
    found: list[list[int]] = []
    waiting = list(places)
    while waiting:
        state = waiting.pop(0)
        row = []
        for point in middles:
            after = _after(state, float(point), rules)
            if after is not None and after not in places:
                places[after] = len(places)
                waiting.append(after)
            row.append(-1 if after is None else places[after])
        found.append(row)
        if len(places) > _MOST_STATES:
            raise QuestionError("these rules look back too far for an exact run length: simulate it")
    return edges, np.array(found, dtype=np.intp)


def _after(state: State, point: float, rules: tuple[RunRule, ...]) -> State | None:
    """Hits each rule still remembers on each side after one more point; None when a rule signals."""
    out = []
    for i, rule in enumerate(rules):
        for side, seen in zip((1.0, -1.0), state[2 * i : 2 * i + 2], strict=True):
            hit = rule.inner < side * point and (rule.outer is None or side * point < rule.outer)
            now = (seen << 1 | hit) & ((1 << rule.window) - 1)
            if now.bit_count() >= rule.hits:
                return None
            out.append(_useful(now, rule))
    return tuple(out)


def _useful(seen: int, rule: RunRule) -> int:
    """The hits without the oldest ones that no later signal can need."""
    while seen and seen.bit_count() + rule.window - seen.bit_length() < rule.hits:
        seen ^= 1 << (seen.bit_length() - 1)
    return seen & ((1 << (rule.window - 1)) - 1)
