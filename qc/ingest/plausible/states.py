"""Whether bores were read in another state than is written: without the plate, or with loose caps.

A bore honed round under a plate is tight and out of round at the top once the plate is off; a housing with
loose caps reads large square to the joint. Both show in the pattern by depth and direction, not in the size.
Bores that were read with the plate on and off are held against themselves, see `plates`.
"""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from typing import Any, Final

import numpy as np

from qc.catalogue import said
from qc.ingest.plausible.blocks import Block
from qc.ingest.plausible.fit import Place, spots_of
from qc.ingest.plausible.fit import middle as middle_of
from qc.ingest.plausible.pairs import OTHER
from qc.ingest.plausible.past import Past, Series
from qc.ingest.plausible.scene import Scene, Suspicion
from qc.units import TICKS_PER_UM

CODES: Final = ("states_mixed", "caps_loose")
RIVALS: Final = True
_TABLE: Final = ("build", "machine", "operation", "characteristic", "method", "state", "pass")
_BLOCKS: Final = 4  # past ones that make a usual pattern
_FITS: Final = 10.0  # noise variances a place that the other state may leave: bores differ in shape
_BORES: Final = 3  # of one block that tell its pattern
_PLACES: Final = 4  # of one bore
_LIKELIER: Final = 25.0  # logarithm of how much likelier the other state must be
_BETTER: Final = 0.5  # part of the misfit that the other state may leave
_LOOSE: Final = 6.0  # spreads by which the direction square to the joint must be large
_LOOSE_LEAST: Final = 6 * TICKS_PER_UM
# more is a slip of figures: a cap stands off by some hundredths of a mm (common practice, no source)
_LOOSE_MOST: Final = 150 * TICKS_PER_UM
_SMALL: Final = 2.0  # spreads of bores by which the other directions must be small
_HOUSED: Final = frozenset({"tunnel_diameter", "rod_bore_diameter"})


def doubts(scene: Scene) -> Iterator[Suspicion]:
    """Yield one suspicion a table."""
    groups: dict[tuple[Any, ...], list[int]] = defaultdict(list)
    c = scene.columns
    names = [c[n].tolist() for n in _TABLE[:-1]] + [np.nan_to_num(c["pass"], nan=1.0).tolist()]
    for i, key in enumerate(zip(*names, strict=True)):
        groups[key].append(i)
    for key, at in groups.items():
        series: Series = key[1:6]
        if key[5] in OTHER:
            yield from _plate(scene, series, at)
        elif key[5] == "caps_torqued" and key[3] in _HOUSED:
            yield from _caps(scene, series, at)


def _by_feature(scene: Scene, at: Sequence[int]) -> dict[str, list[int]]:
    found: dict[str, list[int]] = defaultdict(list)
    for i in at:
        found[scene.columns["feature"][i]].append(i)
    return {f: some for f, some in found.items() if len(some) >= 2}


def _profile(scene: Scene, at: Sequence[int]) -> tuple[list[Place], np.ndarray]:
    """Places of a bore's readings, and how far each is from the bore's middle [ticks]."""
    c = scene.columns
    places = spots_of(c["station"][list(at)], c["clock"][list(at)])
    size = c["size"][list(at)]
    off: np.ndarray = size - middle_of(size)
    return places, off


def _usual(past: Past, places: Sequence[Place]) -> np.ndarray | None:
    if len(past.blocks) < _BLOCKS or any(p not in past.pattern for p in places):
        return None
    told = np.array([past.pattern[p] for p in places])
    middle: np.ndarray = told - middle_of(told)
    return middle


def _noise(past: Past) -> float:
    told = [x for x in (past.reading_spread, past.step / 2) if x == x]
    return max(told, default=float("nan"))


def _here(scene: Scene, build: str, series: Series) -> dict[Place, list[float]]:
    """How far readings of the build in a series are from their bore's middle, by place [ticks]."""
    found: dict[Place, list[float]] = defaultdict(list)
    for c in scene.everywhere:
        there = c["build"] == build
        for name, value in zip(_TABLE[1:6], series, strict=True):
            there &= c[name] == value
        for feature in dict.fromkeys(c["feature"][there].tolist()):
            at = np.flatnonzero(there & (c["feature"] == feature))
            size = c["size"][at]
            places = spots_of(c["station"][at], c["clock"][at])
            for place, off in zip(places, (size - middle_of(size)).tolist(), strict=True):
                found[place].append(off)
    return found


def _in_block(here: dict[Place, list[float]], places: Sequence[Place]) -> np.ndarray | None:
    """Pattern of the build's own bores, where three tell it or more: one in doubt does not bend a median."""
    if any(len(here.get(p, ())) < _BORES for p in places):
        return None
    told = np.array([middle_of(np.array(here[p])) for p in places])
    middle: np.ndarray = told - middle_of(told)
    return middle


def _plate(scene: Scene, series: Series, at: Sequence[int]) -> Iterator[Suspicion]:
    other: Series = (*series[:4], OTHER[series[4]])
    build = scene.columns["build"][at[0]]
    features = {
        f: some
        for f, some in _by_feature(scene, at).items()
        if len(some) >= _PLACES and not _in_both(scene, build, other, f)
    }
    if not features:
        return
    pasts = scene.past(series), scene.load([other])[other]
    here: list[dict[Place, list[float]]] = []
    noise = _noise(pasts[0])
    if noise != noise:
        return
    likelier: dict[str, float] = {}
    for feature, some in features.items():
        places, off = _profile(scene, some)
        own, theirs = (_usual(past, places) for past in pasts)
        if own is None or theirs is None:
            here = here or [_here(scene, build, s) for s in (series, other)]
            own, theirs = (_in_block(h, places) for h in here)
        if own is None or theirs is None:
            continue
        misfit, instead = float(np.sum((off - own) ** 2)), float(np.sum((off - theirs) ** 2))
        if instead < _BETTER * misfit and instead < _FITS * noise**2 * len(some):
            likelier[feature] = (misfit - instead) / (2 * noise**2) / _LIKELIER
    if any(x > 1 for x in likelier.values()):
        # where one bore was surely read so, another that looks like it needs less
        doubted = [i for f, x in likelier.items() if x > 1 / 2 for i in features[f]]
        yield mixed(series, other, sorted(doubted))


def _in_both(scene: Scene, build: str, series: Series, feature: str) -> bool:
    """Whether the same bore was read in another state too, see `plates`."""
    read = 0
    for c in scene.everywhere:
        there = (c["build"] == build) & (c["feature"] == feature)
        for name, value in zip(_TABLE[1:6], series, strict=True):
            there &= c[name] == value
        read += int(there.sum())
    return read >= _PLACES


def mixed(series: Series, other: Series, at: list[int]) -> Suspicion:
    """The doubt about readings of a series that were taken in another state."""
    written, meant = said(series[4]), said(other[4])
    return Suspicion(
        tuple(at), "states_mixed", "ask", "|".join(series),
        f"{{who}} {{read}} the way bores do with the {meant}, but {written} is written.",
        "Depth and direction show the pattern that the other state usually leaves; the sizes may look alike.",
        f"Were these read with the {meant}? Then correct the state; accept if {written} is right.",
        "The readings count with those of the state that is written: states are never mixed.",
        dict.fromkeys(at, other[4]), "state",
    )  # fmt: skip


def stands_off(scene: Scene, block: Block, k: int) -> bool:
    """Whether a reading in doubt is large square to the joint as under a loose cap.

    A housing that is pulled out of round keeps its length around: its other directions are small then; one
    figure mistyped leaves them alone. Two housings large so in one table are no two figures mistyped.
    """
    c, i = scene.columns, int(block.at[k])
    if block.characteristic not in _HOUSED or c["clock"][i] != 0:
        return False
    over = c["size"][block.at] - block.wanted[: block.new]
    large = (c["clock"][block.at] == 0) & (over > 0) & (over < _LOOSE_MOST)
    mates = [j for j in range(block.new) if block.features[j] == block.features[k] and j != k]
    if not large[k] or not mates:
        return False
    at = block.at[mates]
    usual = np.array([block.past.pattern.get(p, 0.0) for p in spots_of(c["station"][at], c["clock"][at])])
    low = float(np.mean(block.off[mates] - block.level - usual))
    return int((large & block.suspect).sum()) > 1 or low < -_SMALL * block.past.bore_spread


def _caps(scene: Scene, series: Series, at: Sequence[int]) -> Iterator[Suspicion]:
    past = scene.past(series)
    noise, clock = _noise(past), scene.columns["clock"]
    doubted: list[int] = []
    largest = 0.0
    for some in _by_feature(scene, at).values():
        places, off = _profile(scene, some)
        own = _usual(past, places)
        upright = clock[list(some)] == 0
        if scene.memo.get("lone", set()) & set(some):
            continue  # a single figure explains it
        if own is None or noise != noise or not upright.any() or upright.all():
            continue
        left = off - own
        apart = float(np.mean(left[upright]) - np.mean(left[~upright]))
        if max(_LOOSE * noise, _LOOSE_LEAST) < apart < _LOOSE_MOST:
            doubted += some
            largest = max(largest, apart)
    if doubted:
        yield Suspicion(
            tuple(sorted(doubted)), "caps_loose", "ask", "|".join(series),
            f"{{who}} {{read}} up to {largest / TICKS_PER_UM:.0f} um more square to the joint than is usual "
            "beside the other directions.",
            "A cap that is loose, or not torqued, stands off the saddle and opens the housing just so.",
            "Were the caps torqued? If not, correct the state to free or measure again; accept if they were.",
            "The readings count as with caps torqued.", dict.fromkeys(sorted(doubted), "free"), "state",
        )  # fmt: skip
