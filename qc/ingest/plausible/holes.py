"""Tables whose holes changed places: counted from the other end, banks exchanged, two of them mixed up.

Sizes follow the holes: each hole's own target, or the same hole read in another state. After the right
exchange they fit; the gain has to be convincing.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from math import log
from typing import Final

import numpy as np

from qc.ingest.plausible.blocks import Block, blocks
from qc.ingest.plausible.fit import middle
from qc.ingest.plausible.scene import Scene, Suspicion
from qc.ingest.plausible.together import Together, together
from qc.ingest.plausible.values import inside
from qc.records import Severity

CODES: Final = ("wrong_holes",)
RIVALS: Final = True
_LEAST: Final = 4  # holes of a table
_GAIN: Final = 18.0  # in squares of the usual spread of bores: far beyond what chance gives 30 exchanges
_ALONE: Final = 28.0  # likewise where no other state of the build is there to agree
_LEFT: Final = 0.35  # of the sum of squares that may be left
_LIKELIER: Final = 8.0  # logarithm of a ratio of likelihoods, that of the number of ways taken off
# likewise beside another state, where a misfit counts twice: what bolts pull differs from block to block
_OTHER_STATE: Final = 20.0
# two holes alone are seldom mixed up and many in number; holes have heavier tails than normal ones, and in
# some 2,000 sound tables two of them reached 8.5 and 23
_TWO: Final = "two of them taken for each other"
_OF_TWO: Final = (12.0, 25.0)
_ALIKE: Final = 0.05  # difference of two such logarithms that decides nothing
_KEYS: Final = ("bore_diameter", "piston_diameter", "tunnel_diameter", "rod_bore_diameter")


@dataclass(frozen=True, slots=True)
class _Exchange:
    """One way in which holes change places: `order[i]` is the hole whose figures stand at hole i."""

    words: str
    order: tuple[int, ...]


def doubts(scene: Scene) -> Iterator[Suspicion]:
    """Yield one suspicion for each table that fits much better with its holes exchanged."""
    tables = [
        b for b in blocks(scene)
        if b.aimed and not b.whole and b.characteristic in _KEYS and len(set(b.features)) >= _LEAST
        # a table whose unit or signs are in doubt tells nothing, nor does its other state beside it
        and not any(key[:4] == b.key[:4] for key in scene.memo.get("explained", ()))
    ]  # fmt: skip
    found = {i: one for i, b in enumerate(tables) if (one := _one(scene, b, tables))}
    for i, one in found.items():
        other = _in_other_state(tables[i], tables)
        k = next((k for k in found if tables[k] is other), None)
        if k is None or _sooner((one, tables[i]), (found[k], tables[k])):
            yield _suspicion(scene, tables[i], one)


def _sooner(one: tuple["_Found", Block], other: tuple["_Found", Block]) -> bool:
    """Whether of two states that contradict each other this is the one to ask about.

    The one that gains more; where both gain alike the one that fits its own targets less.
    """
    apart = one[0].gain - other[0].gain
    return apart > 0 if abs(apart) > _ALIKE else _misfit(one[1]) >= _misfit(other[1])


def _misfit(block: Block) -> float:
    """Sum of squares of the holes about their targets [ticks^2]."""
    return _left(_middles(block, _holes(block), block.fit.about), np.zeros(len(set(block.features))))


def _holes(block: Block) -> list[str]:
    return sorted(set(block.features), key=lambda f: (len(f), f))


def _middles(block: Block, holes: Sequence[str], values: np.ndarray) -> np.ndarray:
    names = np.asarray(block.features, dtype=object)
    return np.array([middle(values[names == h]) for h in holes])


def _in_other_state(block: Block, tables: Sequence[Block]) -> Block | None:
    for other in tables:
        same = all(other.key[i] == block.key[i] for i in (0, 1, 2, 3, 6))
        if same and other is not block and set(other.features) == set(block.features):
            return other
    return None


def _exchanges(n: int) -> Iterator[_Exchange]:
    there = tuple(range(n))
    yield _Exchange("counted from the other end", there[::-1])
    if n % 2 == 0:
        yield _Exchange("one half taken for the other", there[n // 2 :] + there[: n // 2])
    for i, k in combinations(there, 2):
        order = list(there)
        order[i], order[k] = k, i
        yield _Exchange(_TWO, tuple(order))


@dataclass(frozen=True, slots=True)
class _Found:
    """An exchange, the holes by number, what it gains over chance (logarithm), and the misfit."""

    exchange: _Exchange
    holes: list[str]
    gain: float
    before: float
    after: float


def _told(scene: Scene, block: Block, told: Together) -> _Found | None:
    """The exchange after which the readings are likeliest beside their targets and the other state.

    Source: ratio of likelihoods of two normal vectors with the same covariance.
    """
    holes = _holes(block)
    weight = np.linalg.inv(told.cov)
    before = float(told.off @ weight @ told.off)
    found: _Found | None = None
    some = list(_exchanges(len(holes)))
    for one in some:
        moved = told.off.copy()
        values = _exchanged(scene, block, holes, one)
        if values is None:
            continue
        moved[: block.new] += values
        after = float(moved @ weight @ moved)
        gain = (before - after) / 2 - log(len(some))
        if found is None or gain > found.gain:
            found = _Found(one, holes, gain, before, after)
    return found


def _exchanged(scene: Scene, block: Block, holes: Sequence[str], one: _Exchange) -> np.ndarray | None:
    """How far each reading moves when the figures go back [ticks]; None where the holes' places differ."""
    c, mine = scene.columns, block.at.tolist()
    station, clock = (np.nan_to_num(c[n], nan=-1.0).tolist() for n in ("station", "clock"))
    place = {i: (station[i], clock[i], int(c["trial"][i])) for i in mine}
    there = {(c["feature"][i], *place[i]): i for i in mine}
    column = c["deviation"] if _written_as_distances(scene, block) else c["size"]
    from_hole = {holes[k]: holes[i] for i, k in enumerate(one.order)}
    moved = []
    for i in mine:
        source = there.get((from_hole[c["feature"][i]], *place[i]))
        if source is None:
            return None
        moved.append(float(column[source] - column[i]))
    return np.array(moved)


def _one(scene: Scene, block: Block, tables: Sequence[Block]) -> _Found | None:
    """The exchange that convinces."""
    told = together(scene, block.key[:6], block.at.tolist())
    other = _in_other_state(block, tables)
    if told is None:
        return _best(scene, block, other)
    one = _told(scene, block, told)
    if one is None:
        return None
    # the spreads of this block may be larger than those before
    left = max(1.0, one.after / len(told.off))
    alone, beside = _OF_TWO if one.exchange.words == _TWO else (_LIKELIER, _OTHER_STATE)
    sure = one.gain > alone * left if other is None else one.gain > beside * left**2
    if sure or one.gain < alone * left:
        return one if sure else None
    best = _best(scene, block, other)
    # of two states that contradict each other the readings together tell which it was
    return best if best is None else replace(best, gain=one.gain)


def _best(scene: Scene, block: Block, other: Block | None) -> _Found | None:
    holes = _holes(block)
    own = _middles(block, holes, block.fit.about)
    base = _middles(block, holes, block.base)
    typed_off = _written_as_distances(scene, block)
    size = own if typed_off else own + base - middle(base)
    spread = max(x for x in (block.past.bore_spread, block.step / 2, 1.0) if x == x)
    if other is not None and _left(size, _aim(base, typed_off) + _middles(other, holes, other.fit.about)) < (
        _GAIN * spread**2
    ):
        return None  # both states agree as they stand
    gain = _ALONE if other is None else _GAIN
    found: _Found | None = None
    for reference in _references(holes, block, other, typed_off):
        before = _left(size, reference)
        if before < gain * spread**2:
            continue
        for one in _exchanges(len(holes)):
            back = np.empty(len(holes))
            back[list(one.order)] = size
            after = _left(back, reference)
            convincing = before - after > gain * spread**2 and after < _LEFT * before
            if convincing and (found is None or after < found.after):
                found = _Found(one, holes, (before - after) / (2 * spread**2), before, after)
    return found


def _references(
    holes: Sequence[str], block: Block, other: Block | None, typed_off: bool
) -> Iterator[np.ndarray]:
    """Yield what the holes should be beside each other: their targets, their sizes in another state."""
    base = _middles(block, holes, block.base)
    aim = _aim(base, typed_off)
    if not typed_off and float(np.ptp(base)) > 0:
        yield aim
    if other is not None and _fits(other, holes):
        yield aim + _middles(other, holes, other.fit.about)


def _aim(base: np.ndarray, typed_off: bool) -> np.ndarray:
    return np.zeros(len(base)) if typed_off else base - middle(base)


def _fits(other: Block, holes: Sequence[str]) -> bool:
    """Whether the other table's own holes fit their targets, so that it can tell about this one."""
    off = _middles(other, holes, other.fit.about)
    usual = other.past.bore_spread
    return bool(usual == usual and middle(np.abs(off)) <= 2 * usual)


def _left(size: np.ndarray, reference: np.ndarray) -> float:
    off = size - reference
    off = off - middle(off)
    return float(np.sum(off**2))


def _written_as_distances(scene: Scene, block: Block) -> bool:
    return scene.columns["unit"][block.at[0]] not in ("mm", "in")


def _suspicion(scene: Scene, block: Block, found: _Found) -> Suspicion:
    one, holes = found.exchange, found.holes
    moved = {holes[i]: holes[k] for i, k in enumerate(one.order) if i != k}
    rows = tuple(int(i) for k, i in enumerate(block.at) if block.features[k] in moved)
    shown = ", ".join(f"{a} for {b}" for a, b in list(moved.items())[:8])
    share = 100 * (1 - found.after / found.before)
    proposed = {i: moved[scene.columns["feature"][i]] for i in rows}
    return Suspicion(
        rows, "wrong_holes", _severity(scene, block, rows, moved), f"{block.key[1:]}",
        "{who} {read} sizes that do not follow their holes.",
        f"With the holes {one.words} ({shown}) {share:.0f} % of the misfit is gone.",
        f"Correct takes {shown}; accept takes the holes as they stand.", proposed=proposed, column="feature",
    )  # fmt: skip


def _severity(scene: Scene, block: Block, rows: Sequence[int], moved: dict[str, str]) -> Severity:
    """Return `stop` where a verdict changes with the holes."""
    c = scene.columns
    target = {block.features[k]: float(block.base[k]) for k in range(len(block.features))}
    for i in rows:
        shift = target[c["feature"][i]] - target[moved[c["feature"][i]]]
        size = float(c["size"][i])
        limits = (c["lower"][i], c["upper"][i])
        if inside(size, *limits) != inside(size + shift, *limits) and not _written_as_distances(scene, block):
            return "stop"
    return "ask"
