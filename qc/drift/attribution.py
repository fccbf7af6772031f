"""Whether a shift is the gauge's: common to what it inspects on all machines, and not to what it sizes.

An operator hones until his own gauge says "on size": a wrong sizing gauge makes wrong bores and right
records. A gauge's shift is seen only in readings not used for sizing, and in its master.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtr, stdtrit

from qc.drift.model import model_of
from qc.drift.ownchange import Member, inside, known, moved_by_itself
from qc.drift.series import SeriesBlocks
from qc.drift.trend import whitened
from qc.stats.intervals import Interval
from qc.stats.levels import DEFAULT_LEVEL

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

LEAST_BLOCKS, LEAST_BEFORE, MOST_SHIFTS = 4, 3, 4
MOST_PLACES = 600
"""Where a gauge reads more blocks, neighbours in time share a place that a shift may begin or end at."""
SEEN, UNLIKE, TOUCHED = 0.005, 0.01, 0.001
"""Under these p a machine shows the shift, its amount is another one, and form moved, as no gauge moves it.

Of SEEN see the simulation: with lag-1 0.5 a larger one lays the step of one machine on the gauge.
"""
SHARE, SHARE_STANDING = 0.025, 0.2
"""Part of the level that one interval may have by chance, so that the best of all of them keeps to it.

An interval that reaches to the last reading has one place to choose, not two: so there are fewer of them.
Simulated in tests/simulations/drift_gauges.py.
"""

_EQUAL = 1e-9


@dataclass(frozen=True, slots=True)
class GaugeEvidence:
    """What is read with one gauge, and the readings of its master where there are any."""

    gauge: str
    members: tuple[Member, ...]
    master: SeriesBlocks | None = None


@dataclass(frozen=True, slots=True)
class GaugeShift:
    """A shift of what one gauge reads [um], from and to block times (``to_at`` None: it still stands).

    ``cause`` is unknown where one machine alone is read with it and no master was.
    """

    gauge: str
    cause: Literal["gauge", "unknown"]
    from_at: float
    to_at: float | None
    amount_um: float
    interval: Interval
    machines: tuple[str, ...]
    master_seen: bool
    words: str


@dataclass(slots=True)
class _Own:
    """What the blocks of one member tell of a shift: d = c'score / c'information c for a column c of it.

    ``since`` is how many blocks of the same declared level lie before each.
    """

    score: Floats
    information: Floats
    kept: NDArray[np.int_]
    since: NDArray[np.int_]
    df: int


@dataclass(slots=True)
class _Pool:
    """The same of all members together, in order of time; neighbours are put together where they are many.

    ``last`` is the time of the last block of each, ``least`` how many of them make 4 blocks, ``usual`` the
    information of 4 blocks in a row on one machine.
    """

    at: Floats
    last: Floats
    score: Floats
    information: Floats
    since: NDArray[np.int_]
    df: int
    least: int
    usual: float


def attribute(
    evidence: Sequence[GaugeEvidence], *, level: float = DEFAULT_LEVEL, lag1: float = 0.0
) -> list[GaugeShift]:
    """Shifts that are put down to gauges, present and past.

    For each gauge every interval of its blocks in order of time, across machines and with its master, is
    tried as one common amount; the best is kept when its p is far enough below the level for all that
    were tried. It is the gauge's when two machines or the master show it alike and form does not.
    Source: own rule, feedback and gauges; scan over intervals by likelihood ratio.

    Parameters
    ----------
    evidence : sequence of GaugeEvidence
        A re-setting of the gauge must be a joint in its series.
    level : float
        Alarm level per block.
    lag1 : float
        Lag-1 correlation of block means.
    """
    found = []
    for one in evidence:
        found += _of_one(one, level, lag1)
    return found


def _of_one(one: GaugeEvidence, level: float, lag1: float) -> list[GaugeShift]:
    size = [m for m in one.members if not m.sized_with_it and not m.form and m.read.any()]
    if one.master is not None:
        everywhere = np.ones(len(one.master.means), dtype=bool)
        size.append(Member(one.master, one.gauge, everywhere))
    taken: list[tuple[float, float]] = []
    found: list[GaugeShift] = []
    while size and len(taken) < MOST_SHIFTS:
        pool = _pool(size, taken, lag1)
        best = _best(pool, level) if pool is not None else None
        if pool is None or best is None:
            break
        first, last = best
        span = (float(pool.at[first]), float(pool.last[last]))
        taken.append(span)
        shift = _named(one, size, taken, pool, first, last, lag1)
        if shift is not None:
            found.append(shift)
    return sorted(found, key=lambda s: s.from_at)


def _projection(member: Member, taken: Sequence[tuple[float, float]], lag1: float) -> _Own:
    """Score and information of each block of a member: levels, wear and known shifts taken out."""
    model = model_of(member.series, lag1)
    base = known(member, model, taken)
    y = model.whitened_y
    rest = y - base @ (base.T @ y)
    df = y.size - base.shape[1]
    variance = float(rest @ rest) / df if df > 3 else 0.0
    if variance <= 0:
        return _Own(np.zeros(0), np.zeros((0, 0)), model.kept[:0], model.kept[:0], 0)
    w = whitened(np.eye(y.size), model.sd, lag1)
    through = w - base @ (base.T @ w)
    since = np.arange(y.size) - model.segment_start
    return _Own(w.T @ rest / variance, w.T @ through / variance, model.kept, since, df)


def _pool(size: Sequence[Member], taken: Sequence[tuple[float, float]], lag1: float) -> _Pool | None:
    """Scores and information of all members by place in time.

    The information of a place is the sum over its blocks, so that no table grows beyond the places.
    """
    owns = [_projection(member, taken, lag1) for member in size]
    uses = [member.read[own.kept] for member, own in zip(size, owns, strict=True)]
    at = [
        np.asarray(member.series.at, dtype=float)[own.kept][use]
        for member, own, use in zip(size, owns, uses, strict=True)
    ]
    times = np.concatenate(at)
    if times.size < 2 * LEAST_BLOCKS:
        return None
    places = min(times.size, MOST_PLACES)
    order = np.argsort(times, kind="stable")
    place = np.empty(times.size, dtype=int)
    place[order] = np.arange(times.size) * places // times.size
    score, information = np.zeros(places), np.zeros((places, places))
    since, usual = np.full(places, times.size), []
    begin = 0
    for own, use in zip(owns, uses, strict=True):
        mine = place[begin : begin + int(use.sum())]
        begin += mine.size
        np.add.at(score, mine, own.score[use])
        told = own.information[np.ix_(use, use)]
        np.add.at(information, (mine[:, None], mine[None, :]), told)
        np.minimum.at(since, mine, own.since[use])
        usual.append(_in_a_row(told))
    first = np.searchsorted(place[order], np.arange(places))
    last = np.searchsorted(place[order], np.arange(places), side="right") - 1
    return _Pool(
        times[order][first], times[order][last], score, information, since, sum(own.df for own in owns),
        max(1, LEAST_BLOCKS * places // times.size), float(np.median(np.concatenate(usual))),
    )  # fmt: skip


def _in_a_row(information: Floats) -> Floats:
    """Information of each run of 4 blocks; of all where there are fewer."""
    n = min(LEAST_BLOCKS, len(information))
    windows = np.lib.stride_tricks.sliding_window_view(information, (n, n))
    return np.asarray(np.einsum("iijk->i", windows))


def _best(pool: _Pool, level: float) -> tuple[int, int] | None:
    """First and last reading of the interval that `_choose` takes, None where none stands out."""
    n = pool.at.size
    sums = np.concatenate([[0.0], np.cumsum(pool.score)])
    prefix = np.zeros((n + 1, n + 1))
    prefix[1:, 1:] = pool.information.cumsum(axis=0).cumsum(axis=1)
    own = np.diag(prefix)
    # One column that is 1 from reading i to reading j - 1: all of them at once by differences of sums.
    information = own[None, :] - prefix - prefix.T + own[:, None]
    score = sums[None, :] - sums[:, None]
    i, j = np.triu_indices(n + 1, pool.least)
    # With a free level a shift of the first part is the opposite shift of the rest: the level that the
    # declared event left is the right one.
    i, j = i[pool.since[i] >= LEAST_BEFORE], j[pool.since[i] >= LEAST_BEFORE]
    enough = information[i, j] > 0.5 * pool.usual
    i, j = i[enough], j[enough]
    if i.size == 0:
        return None
    t = np.abs(score[i, j]) / np.sqrt(information[i, j])
    # The shift itself is in the spread it was held against: out of it, t grows.
    alone = t * np.sqrt((pool.df - 1) / np.maximum(pool.df - t**2, 1.0))
    p = 2 * stdtr(pool.df - 1, -alone)
    sure = p < np.where(j == n, SHARE_STANDING, SHARE) * level
    ends = np.append(pool.since == 0, True)[j]
    chosen = _choose(t, j - i, sure, (j == n, ends), pool.df)
    return None if chosen is None else (int(i[chosen]), int(j[chosen]) - 1)


def _choose(
    strength: Floats, blocks: NDArray[np.int_], sure: Bools, rather: Sequence[Bools], df: int
) -> int | None:
    """Best interval that is sure; one that ends where nothing says so pays for the place of its end.

    A shift stands until the last reading or ends with an event, unless it plainly went back by itself.
    """
    if not sure.any():
        return None
    best = _shortest(strength, blocks, sure)
    gain = -df * np.log1p(-np.minimum(strength**2 / df, 1 - 1e-12))
    price = 2 * np.log(max(int(blocks.max()), 2))
    for kind in rather:
        if not (sure & kind).any():
            continue
        other = _shortest(strength, blocks, sure & kind)
        # Blocks of a level that the shift covers whole tell nothing of it: the shortest of equals is meant.
        tells = blocks[other] < blocks[best] or strength[other] < strength[best] * (1 - _EQUAL)
        if tells and gain[other] >= gain[best] - price:
            return other
    return best


def _shortest(strength: Floats, blocks: NDArray[np.int_], use: Bools) -> int:
    """Strongest of some intervals, of equals the shortest."""
    top = np.flatnonzero(use & (strength >= strength[use].max() * (1 - _EQUAL)))
    return int(top[np.argmin(blocks[top])])


def _effect(
    member: Member, taken: Sequence[tuple[float, float]], lag1: float
) -> tuple[float, float, int] | None:
    """Amount of the last of ``taken`` in one member, its error and df; None where it tells nothing."""
    own = _projection(member, taken[:-1], lag1)
    column = inside(member, taken[-1])[own.kept]
    told = float(column @ own.information @ column)
    if own.df < 4 or told <= 1e-9:
        return None
    amount = float(column @ own.score) / told
    # The shift is in the spread it was held against: the spread without it gives its error.
    shrink = max(own.df - amount**2 * told, 0.05 * own.df) / (own.df - 1)
    return amount, float(np.sqrt(shrink / told)), own.df - 1


def _named(
    one: GaugeEvidence,
    size: Sequence[Member],
    taken: Sequence[tuple[float, float]],
    pool: _Pool,
    first: int,
    last: int,
    lag1: float,
) -> GaugeShift | None:
    by_machine: dict[str, list[tuple[float, float, int]]] = {}
    for member in size:
        effect = _effect(member, taken, lag1)
        if effect is not None and not moved_by_itself(member, taken, lag1):
            by_machine.setdefault(member.machine, []).append(effect)
    if not by_machine:
        return None
    pooled = {machine: _mean(effects) for machine, effects in by_machine.items()}
    amount, error, df = _mean([e for effects in by_machine.values() for e in effects])
    seen = [m for m, (a, s, d) in pooled.items() if a * amount > 0 and 2 * stdtr(d, -abs(a) / s) < SEEN]
    master = pooled.get(one.gauge) if one.master is not None else None
    machines = tuple(m for m in seen if m != one.gauge)
    master_seen = one.gauge in seen and master is not None
    alike = all(2 * stdtr(d, -abs(a - amount) / np.hypot(s, error)) >= UNLIKE for a, s, d in pooled.values())
    form = [e for m in one.members if m.form and (e := _effect(m, taken, lag1)) is not None]
    if any(2 * stdtr(d, -abs(a) / s) < TOUCHED for a, s, d in form) or not alike:
        return None
    cause: Literal["gauge", "unknown"] = "gauge"
    if len(machines) < 2 and not master_seen:
        alone = {m.machine for m in size if m.machine != one.gauge} == set(machines)
        if not alone or master is not None:
            return None
        cause = "unknown"
    half = float(stdtrit(df, 0.975)) * error
    still = last == pool.at.size - 1
    return GaugeShift(
        gauge=one.gauge,
        cause=cause,
        from_at=taken[-1][0],
        to_at=None if still else taken[-1][1],
        amount_um=amount,
        interval=Interval(amount - half, amount + half, 0.95),
        machines=machines,
        master_seen=master_seen,
        words=_words(one.gauge, cause, amount, machines, master_seen),
    )


def _mean(effects: Sequence[tuple[float, float, int]]) -> tuple[float, float, int]:
    a, s, d = (np.array(v, dtype=float) for v in zip(*effects, strict=True))
    w = 1 / np.maximum(s, 1e-300) ** 2
    return float((w * a).sum() / w.sum()), float(1 / np.sqrt(w.sum())), int(d.sum())


def _words(gauge: str, cause: str, amount: float, machines: Sequence[str], master_seen: bool) -> str:
    if cause == "unknown":
        return f"gauge or machine: read the master of {gauge}"
    seen = [*(f"on {m}" for m in machines), *(["by its master"] if master_seen else [])]
    return (
        f"{gauge} reads {amount:+.1f} um off, alike {' and '.join(seen)}: re-set it, and doubt what it passed"
    )
