"""Whether a table repeats, digit for digit, what another build was found to have."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from math import log, sqrt
from typing import Any, Final

import numpy as np

from qc.ingest.plausible.fit import agree
from qc.ingest.plausible.past import Series
from qc.ingest.plausible.scene import Scene, Suspicion
from qc.ingest.plausible.together import shown_step, together
from qc.store.lookalike import Probe

CODES: Final = ("copied_sheet",)
RIVALS: Final = True
_TABLE: Final = ("build", "machine", "operation", "characteristic", "method", "state")
MANY: Final = 6  # equal readings that make a copy likelier than chance
_LARGE: Final = 12  # readings of a table that is asked about; smaller ones go with it
_PROBES: Final = 10
_ALIKE: Final = 0.7  # of the probes
_OTHERS: Final = 20  # of so many copied readings one may have been put right
_MOST: Final = 0.9  # of one reading: nothing is certain to agree
_WITHIN: Final = 0.3  # least chance that a reading agrees where the bore's others do
_CHANCE: Final = log(1e-8)  # of so many equal figures by chance, over all builds they are held against
_OF_A_TABLE: Final = log(1e-3)  # likewise in one table
_ALONG: Final = log(0.1)  # likewise in a table of a sheet of which others repeat that build

Place = tuple[Any, ...]


def doubts(scene: Scene) -> Iterator[Suspicion]:
    """Yield one suspicion a build and the build it repeats."""
    builds: dict[str, dict[Series, list[int]]] = defaultdict(dict)
    for key, at in scene.groups(_TABLE).items():
        if key[0] is not None:
            builds[key[0]][key[1:]] = at
    for build, mine in builds.items():
        yield from _of_build(scene, build, mine)


def _of_build(scene: Scene, build: str, mine: dict[Series, list[int]]) -> Iterator[Suspicion]:
    others: dict[str, None] = {}
    large = any(len(at) >= _LARGE for at in mine.values())
    for series, at in mine.items():
        if len(at) >= (_LARGE if large else MANY):
            probes = _probes(scene, at)
            least = max(MANY, int(_ALIKE * len(probes)))
            others |= dict.fromkeys(scene.alike(series[1:], probes, least, build)[:2])
    taken: set[int] = set()
    for other in others:
        equal, compared = _repeated(scene, build, mine, _by_place(scene.of_builds([other])), taken)
        if equal:
            taken |= set(equal)
            yield _suspicion(build, other, sorted(equal), compared)


def _repeated(
    scene: Scene, build: str, mine: dict[Series, list[int]], there: dict[Place, list[Any]], taken: set[int]
) -> tuple[list[int], int]:
    """Readings of the tables that repeat another build's, and how many were compared; none by chance."""
    found = []
    for series, at in mine.items():
        same, n = _equal(scene, [i for i in at if i not in taken], there)
        if same and n - len(same) <= n // _OTHERS:
            found.append((_by_chance(scene, (build, *series), at, same), same, n))
    sure = [one for one in found if one[0] < _OF_A_TABLE]
    if sum(len(same) for _, same, _ in sure) < MANY or sum(chance for chance, _, _ in sure) >= _CHANCE:
        return [], 0
    # of a sheet that was copied the small tables came along
    along = [one for one in found if one[0] < _ALONG]
    return [i for _, same, _ in along for i in same], sum(n for _, _, n in along)


def _probes(scene: Scene, at: Sequence[int]) -> list[Probe]:
    """Some readings spread over a table."""
    some = [at[int(k)] for k in np.linspace(0, len(at) - 1, min(len(at), _PROBES))]
    return [
        Probe(r.feature, r.station, r.clock, r.value, None if r.target is None else r.value - r.target)
        for r in (scene.rows[i] for i in some)
    ]


def _place(r: Any) -> Place:
    return (r.operation, r.characteristic, r.method, r.state, r.feature, r.station, r.clock, r.trial)


def _by_place(readings: Sequence[Any]) -> dict[Place, list[Any]]:
    found: dict[Place, list[Any]] = defaultdict(list)
    for r in readings:
        found[_place(r)].append(r)
    return found


def _equal(scene: Scene, at: Sequence[int], there: dict[Place, list[Any]]) -> tuple[list[int], int]:
    """Readings that equal one of the other build at their place, and how many could be compared."""
    same, n = [], 0
    for i in at:
        r = scene.rows[i]
        if others := there.get(_place(r)):
            n += 1
            same += [i] if any(_says_the_same(r, o) for o in others) else []
    return same, n


def _says_the_same(a: Any, b: Any) -> bool:
    if a.value == b.value and bool(a.relative) == bool(b.relative):
        return True
    return a.target is not None and b.target is not None and a.value - a.target == b.value - b.target


def _by_chance(scene: Scene, key: tuple[Any, ...], at: Sequence[int], same: Sequence[int]) -> float:
    """Logarithm of the chance that these readings of a table agree with others."""
    told = together(scene, key, at)
    return _by_bores(scene, key[1:], at, same) if told is None else told.chance(same)


def _by_bores(scene: Scene, series: Series, at: Sequence[int], same: Sequence[int]) -> float:
    """Logarithm of the chance that these readings agree: the first of each bore, then the bore's others."""
    past, c = scene.past(series), scene.columns
    off = c["deviation"][list(at)]
    off = c["size"][list(at)] if np.isnan(off).any() else off
    usual = sqrt(sum(x**2 for x in (past.spread, past.level_spread) if x == x))
    step = shown_step(scene, past, at, 0.0)
    _, times = np.unique(off, return_counts=True)
    own = float(np.sum(times * (times - 1)) / max(1, len(off) * (len(off) - 1)))
    first = max(0.02, own, agree(step, max(float(np.std(off)), usual), _MOST))
    then = max(_WITHIN, first, agree(step, past.reading_spread, _MOST))
    bores = len({c["feature"][i] for i in same})
    return bores * log(min(_MOST, first)) + (len(same) - bores) * log(min(_MOST, then))


def _suspicion(build: str, other: str, equal: list[int], compared: int) -> Suspicion:
    return Suspicion(
        tuple(equal), "copied_sheet", "stop", f"{build}|{other}",
        f"{len(equal)} of {compared} readings of {build} ({{who}}) equal those of {other}, digit for digit.",
        "Two blocks never measure alike to the last digit at so many places.",
        f"Is it the sheet of {other}, or one filled from it? Discard these rows and take in {build}'s own; "
        "accept if they were measured.",
    )  # fmt: skip
