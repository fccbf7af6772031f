"""Whether bores as received can be made to fit: none smaller than their engine ever had, none too large.

Metal can be honed away, not put back. A gauge set to another oversize, or a dial turned over, breaks that.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from qc.ingest.checks import FAR
from qc.ingest.plausible.fit import middle
from qc.ingest.plausible.past import Past, Series, sized
from qc.ingest.plausible.scene import Scene, Suspicion
from qc.units import TICKS_PER_UM

CODES: Final = ("undersize", "no_stock")
RIVALS: Final = True
_TABLE: Final = ("build", "machine", "operation", "characteristic", "method", "state")
_HALF_STEP: Final = 125 * TICKS_PER_UM  # of the smallest oversize, 0.25 mm: less is wear and scatter
_BUILDS: Final = 30  # of an engine that are asked for, where its last blocks are too few
# below the smallest block: three quarters of that step, as blocks of one size differ by their wear
_SMALLER: Final = 190 * TICKS_PER_UM
_OFTEN: Final = 3  # blocks at the smallest size, after which a smaller one is strange
_LEAST_CLEARANCE: Final = 30 * TICKS_PER_UM  # of a piston (common practice, no source)
_MOST_CLEARANCE: Final = 250 * TICKS_PER_UM  # likewise; more is taken by no piston
_MOST: Final = 2 * FAR  # farther off it is a slip of another sort


@dataclass(frozen=True, slots=True)
class _Fits:
    """What bores of a build may be: above `least`, below `most` each and `worn` as a block [ticks].

    smallest : block of the engine so far, inf where only its pistons tell; pistons : middle of the build's
    """

    least: float
    most: float
    worn: float
    smallest: float
    pistons: float


def doubts(scene: Scene) -> Iterator[Suspicion]:
    """Yield one suspicion for the bores of a table that are too small, and one for those too large."""
    for key, at in scene.groups(_TABLE).items():
        if key[0] is None or key[2:4] != ("receive", "bore_diameter"):
            continue
        fits = _fits(scene, key, at)
        size = scene.columns["size"]
        holes = {f: middle(size[some]) for f, some in _holes(scene, at).items()}
        block = middle(np.array(list(holes.values())))
        least = fits.least + (_HALF_STEP if block < fits.least else 0.0)
        small = {f for f, x in holes.items() if fits.least - _MOST < x < least}
        most = fits.worn if block > fits.worn else fits.most
        large = {f for f, x in holes.items() if most < x < fits.most + _MOST}
        for code, names in (("undersize", small), ("no_stock", large)):
            rows = tuple(i for i in at if scene.columns["feature"][i] in names)
            if rows:
                yield _suspicion(scene, code, key, rows, fits)


def _holes(scene: Scene, at: Sequence[int]) -> dict[str, list[int]]:
    found: dict[str, list[int]] = {}
    for i in at:
        found.setdefault(scene.columns["feature"][i], []).append(i)
    return found


def _fits(scene: Scene, key: tuple[Any, ...], at: Sequence[int]) -> _Fits:
    engine, centre = scene.columns["engine"][at[0]], middle(scene.columns["size"][at])
    series, pistons = _pistons(scene, key[0])
    before = _sizes(scene.load([series])[series], engine) if series else []
    known = _sizes(scene.past(key[1:]), engine), before
    least = _least(*known)
    if not np.isfinite(least) and all(centre < min(some, default=np.inf) for some in known):
        known = _older(scene, engine)
        least = _least(*known)
    oversize = pistons > min(known[1], default=np.inf) + _HALF_STEP
    most = pistons + _MOST_CLEARANCE if pistons == pistons else np.inf
    # who buys pistons of an oversize has bores made for it: they are smaller until then
    worn = pistons + _LEAST_CLEARANCE if oversize else most
    return _Fits(least, most, worn, min(known[0], default=np.inf), pistons)


def _least(bores: Sequence[float], pistons: Sequence[float]) -> float:
    """No bore of an engine is smaller, by those that came and by its pistons [ticks]; -inf unknown."""
    told = [(np.array(some), room) for some, room in ((bores, _SMALLER), (pistons, 0.0)) if len(some)]
    often = max((int((some < some.min() + _HALF_STEP).sum()) for some, _ in told), default=0)
    return min(float(some.min()) - room for some, room in told) if often >= _OFTEN else -np.inf


def _sizes(past: Past, engine: str | None) -> list[float]:
    """Middle sizes of past blocks of an engine [ticks]."""
    return [b.size for b in past.blocks if b.readings[0].engine == engine and b.word == "cyl"]


def _older(scene: Scene, engine: str | None) -> tuple[list[float], list[float]]:
    """Middle sizes of bores as received and of pistons, of the last builds of an engine that left [ticks]."""
    builds = [b for b in scene.builds.values() if b.engine == engine and b.shipped_on is not None]
    last = sorted(builds, key=lambda b: b.shipped_on or 0)[-_BUILDS:]
    sizes: dict[str, dict[str, list[float]]] = {"bore_diameter": {}, "piston_diameter": {}}
    for r in scene.of_builds([b.build for b in last]):
        if r.operation == "receive" and r.characteristic in sizes:
            size = sized(r)
            sizes[r.characteristic].setdefault(r.build, []).append(size)
    bores, pistons = ([middle(np.array(x)) for x in some.values()] for some in sizes.values())
    return bores, pistons


def _pistons(scene: Scene, build: str) -> tuple[Series | None, float]:
    """Series and middle size [ticks] of a build's pistons; NaN where none are of their target."""
    for c in scene.everywhere:
        at = np.flatnonzero((c["build"] == build) & (c["characteristic"] == "piston_diameter"))
        if len(at):
            size, off = middle(c["size"][at]), middle(c["deviation"][at])
            series = tuple(c[n][at[0]] for n in _TABLE[1:])
            return series, float("nan") if abs(off) > _HALF_STEP else size
    return None, float("nan")


def _suspicion(
    scene: Scene, code: str, key: tuple[Any, ...], rows: tuple[int, ...], fits: _Fits
) -> Suspicion:
    size = middle(scene.columns["size"][list(rows)])
    if code == "undersize":
        known = np.isfinite(fits.smallest)
        below = (fits.smallest if known else fits.least) - size
        saw = f"{below / TICKS_PER_UM:.0f} um below all {'' if known else 'pistons '}"
        saw += "that ever came of this engine"
        why = "Bores wear and are made larger, never smaller."
    else:
        saw = f"{(size - fits.pistons) / TICKS_PER_UM:.0f} um larger than the pistons of the build"
        why = "Bores so large cannot be made to fit these pistons: nothing is left to take off."
    return Suspicion(
        rows, code, "ask", "|".join(map(str, key)), f"{{who}} {{read}} {saw}.",
        f"{why} A gauge set to another oversize, or a dial turned over, reads so.",
        "Read the gauge's master and look at its dial: correct takes another figure; accept if the bores are "
        "so, and see to the pistons.",
    )  # fmt: skip
