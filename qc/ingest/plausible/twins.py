"""Whether a hole reads, place by place, what another hole of the same table reads: one copied onto the other.

How seldom that is follows from the table itself and the blocks before: how often two holes agree at a place,
and at the next one when they agreed so far. A coarse gauge or a narrow process agrees often, and passes.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import combinations
from math import log
from typing import Any, Final

from qc.ingest.plausible.fit import agree
from qc.ingest.plausible.scene import Scene, Suspicion

CODES: Final = ("hole_copied",)
RIVALS: Final = True
LEAST: Final = 6  # readings of a hole
_TABLE: Final = ("build", "machine", "operation", "characteristic", "method", "state")
_RATE: Final = log(3e-5)  # share of all cells that chance may put under this doubt
_MET: Final = 20  # places that tell how often holes agree
_RUN: Final = 5  # places that agreed, after which more change nothing
_BLOCKS: Final = 12  # past blocks that are looked at
_MOST: Final = 0.95  # nothing is certain to agree

Place = tuple[float, float, int]
Hole = Mapping[Place, float]


def doubts(scene: Scene) -> Iterator[Suspicion]:
    """Yield one suspicion a hole that was copied, with all that repeat it."""
    c = scene.columns
    for key, at in scene.groups(_TABLE).items():
        if key[0] is None or len(at) < 2 * LEAST:
            continue
        rows: dict[str, dict[Place, int]] = defaultdict(dict)
        for i, place in zip(at, _places(c["station"][at], c["clock"][at], c["trial"][at]), strict=True):
            rows[c["feature"][i]][place] = i
        table = {name: {p: float(c["size"][i]) for p, i in hole.items()} for name, hole in rows.items()}
        groups = same(table)
        if not groups:
            continue
        past = scene.past(key[1:])
        step = past.step if past.step == past.step else 0.0
        known = [_past_table(b.readings) for b in past.blocks[-_BLOCKS:]]
        for group in unlikely(table, groups, known, step, past.reading_spread):
            yield _suspicion(scene, key, group, [i for name in group[1:] for i in rows[name].values()])


def same(table: Mapping[str, Hole]) -> list[list[str]]:
    """Holes that agree at every one of their places, those of one figure together, in the table's order."""
    found: dict[tuple[Any, ...], list[str]] = defaultdict(list)
    for name, hole in table.items():
        if len(hole) >= LEAST and all(v == v for v in hole.values()):
            found[tuple(sorted(hole.items()))].append(name)
    return [names for names in found.values() if len(names) > 1]


def unlikely(
    table: Mapping[str, Hole], groups: Sequence[Sequence[str]], known: Iterable[Mapping[str, Hole]],
    step: float, reading_spread: float,
) -> list[list[str]]:
    """Those of the groups that chance makes too seldom.

    Source: chance rule of products; `fit.agree` for two figures.

    Parameters
    ----------
    table : holes of the table that is doubted, by name, in order
    groups : as `same` gives them
    known : tables of blocks before
    step : of the gauge [ticks], 0 where it is not known
    reading_spread : of readings about their own hole [ticks], NaN where it is not known
    """  # fmt: skip
    before = Agreed()
    for one in known:
        before.learn(one)
    order = list(table)
    cells = sum(map(len, table.values()))
    found = []
    for group in groups:
        # a block whose level lies on a step of the gauge agrees more often than blocks usually do
        here = Agreed()
        here.learn({name: hole for name, hole in table.items() if name not in group[1:]})
        often = [max(pair) for pair in zip(here.told(), before.told(), strict=True)]
        if not often[0]:  # too few holes tell how often any two agree
            continue
        n = len(table[group[0]])
        at = [order.index(name) for name in group]
        beside = at[-1] - at[0] == len(at) - 1
        pairs = len(order) - 1 if beside else len(order) * (len(order) - 1) // 2
        # one copy must be unbelievable by itself: where all holes of a block agree, agreeing is common
        chance = _all_agree(often, n, agree(step, reading_spread, 0.0)) + log(pairs * n / cells)
        if chance < _RATE:
            found.append(list(group))
    return found


class Agreed:
    """How often two holes of a block agreed at a place, after none, one, two, ... places that agreed."""

    def __init__(self) -> None:
        self.met, self.alike = [0] * _RUN, [0] * _RUN

    def learn(self, table: Mapping[str, Hole]) -> None:
        """Count the pairs of holes of one block."""
        for a, b in combinations(table.values(), 2):
            run = 0
            for place in sorted(a.keys() & b.keys()):
                now = min(run, _RUN - 1)
                equal = a[place] == b[place]
                self.met[now] += 1
                self.alike[now] += equal
                run = run + 1 if equal else 0

    def told(self) -> list[float]:
        """Chance of each, 0 where too few were met to tell."""
        pairs = zip(self.alike, self.met, strict=True)
        return [(a + 1) / (m + 2) if m >= _MET else 0.0 for a, m in pairs]


def _all_agree(often: Sequence[float], n: int, least: float) -> float:
    """Logarithm of the chance that two holes agree at n places; `least` for each after the first."""
    total, p = 0.0, often[0]
    for k in range(n):
        # the more agreed, the nearer are the holes: never less likely than before
        p = max(p, often[min(k, _RUN - 1)], least if k else 0.0)
        total += log(min(_MOST, p))
    return total


def _places(station: Any, clock: Any, trial: Any) -> list[Place]:
    return [
        (-1.0 if s != s else s, -1.0 if k != k else k, int(t))
        for s, k, t in zip(station.tolist(), clock.tolist(), trial.tolist(), strict=True)
    ]


def _past_table(readings: Sequence[Any]) -> dict[str, dict[Place, float]]:
    found: dict[str, dict[Place, float]] = defaultdict(dict)
    for r in readings:
        place = (-1.0 if r.station is None else r.station, -1.0 if r.clock is None else r.clock, r.trial)
        found[r.feature][place] = r.value
    return found


def _suspicion(scene: Scene, key: tuple[Any, ...], group: Sequence[str], rows: Sequence[int]) -> Suspicion:
    first, n = group[0], len(rows) // (len(group) - 1)
    return Suspicion(
        tuple(rows), CODES[0], "ask", "|".join((*map(str, key), first)),
        f"{{who}} {{read}} what {first} reads, digit for digit, at all {n} places.",
        "Two holes of one block do not agree at so many places here, by this table and the blocks before.",
        f"Was {first} copied? Discard these rows and measure, or accept if each was read.",
    )  # fmt: skip
