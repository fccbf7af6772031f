"""Whether the blocks after a cure stand where they should: counted as they come in, at most five."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

from qc.catalogue import CATALOGUE
from qc.errors import TooLittleData
from qc.reports.alarms import URGENT, rows_of
from qc.reports.conditions import NOT_WORN, Condition
from qc.reports.matters import CALM
from qc.reports.words import number

Floats = NDArray[np.float64]
ERR = 0.05
"""How often blocks that agree are said not to, over all series of a matter."""
LEAST_STRETCHES, LEAST_BLOCKS, LEAST_ON_LINE, MOST_BLOCKS = 3, 5, 8, 50


@dataclass(frozen=True, slots=True)
class Agreement:
    """Blocks in so far of ``of``, how far their mean is off what is expected, and how far it may be.

    In the unit of the series; of a grown spread the ratio. ``agree`` is None while nothing can be said.
    """

    made: int
    of: int
    agree: bool | None
    off: float | None
    allowed: float | None
    words: str


def expected_of_stretches(firsts: Floats, err: float = ERR) -> tuple[float, float]:
    """Expected mean of the first blocks after a renewal, and how far it may be off, from earlier stretches.

    Source: prediction interval for one more value of a normal sample (NIST/SEMATECH e-Handbook 7.2.1 for the
    t interval; prediction from memory), here of stretches.

    Parameters
    ----------
    firsts : (s,) array
        Mean of the first blocks of each earlier stretch, as many blocks as there are now.

    Raises
    ------
    TooLittleData
        With fewer than 3 stretches.
    """
    s = firsts.size
    if s < LEAST_STRETCHES:
        raise TooLittleData(f"{s} stretches tell too little: wait for the {LEAST_STRETCHES}rd")
    half = stdtrit(s - 1, 1 - err / 2) * firsts.std(ddof=1) * np.sqrt(1 + 1 / s)
    return float(firsts.mean()), float(half)


def expected_of_blocks(
    before: Floats, made: int, lag1: float, err: float = ERR
) -> tuple[float, float]:
    """Expected mean of the next ``made`` blocks, and how far it may be off, from the blocks before.

    Source: prediction interval for the mean of further values of a normal sample, each mean's variance that
    of an autoregression of order 1 (from memory).

    Raises
    ------
    TooLittleData
        With fewer than 5 blocks.
    """
    m = before.size
    if m < LEAST_BLOCKS:
        raise TooLittleData(f"{m} blocks tell too little: wait for the {LEAST_BLOCKS}th")
    spread = before.std(ddof=1) * np.sqrt(variance_of_mean(made, lag1) + variance_of_mean(m, lag1))
    return float(before.mean()), float(stdtrit(m - 1, 1 - err / 2) * spread)


def expected_on_line(
    before: Floats, wear: Floats, stretch: NDArray[np.int_], ahead: float, made: int, lag1: float,
    err: float = ERR,
) -> tuple[float, float]:
    """The same where the level walks with wear: a line through the blocks before, one slope for all.

    Source: prediction from simple regression, variance s2 (1/k + 1/m + (x0 - mean x)2 / Sxx)
    (NIST/SEMATECH e-Handbook 4.5.1.2, from memory), the means' variances as in `expected_of_blocks`.

    Parameters
    ----------
    before, wear, stretch : (m,) array
        Block means, their wear count, and the stretch each is in.
    ahead : float
        Mean wear count of the next blocks.
    made : int
        Number of the next blocks.
    lag1 : float

    Raises
    ------
    TooLittleData
        With fewer than 8 blocks, or all at one wear count.
    """
    m, n = before.size, np.unique(stretch).size
    x, y = (_within(v, stretch) for v in (wear, before))
    sxx = float(x @ x)
    if m < LEAST_ON_LINE or sxx == 0 or m - n - 1 < LEAST_BLOCKS:
        raise TooLittleData(f"{m} blocks tell too little of wear: wait for the {LEAST_ON_LINE}th")
    slope = float(x @ y) / sxx
    rest = y - slope * x
    freedom = m - n - 1
    s2 = float(rest @ rest) / freedom
    away = ahead - float(wear.mean())
    spread = np.sqrt(s2 * (variance_of_mean(made, lag1) + variance_of_mean(m, lag1) + away**2 / sxx))
    return float(before.mean()) + slope * away, float(stdtrit(freedom, 1 - err / 2) * spread)


def _within(values: Floats, stretch: NDArray[np.int_]) -> Floats:
    """Values off the mean of their stretch."""
    _, number = np.unique(stretch, return_inverse=True)
    means = np.bincount(number, weights=values) / np.bincount(number)
    off: Floats = values - means[number]
    return off


def variance_of_mean(n: int, lag1: float) -> float:
    """Variance of the mean of n neighbouring values of variance 1 with this lag-1 correlation.

    Source: sum over lags of (1 - j/n) rho^j, autoregression of order 1 (from memory).
    """
    j = np.arange(1, n)
    return float((1 + 2 * ((1 - j / n) * lag1**j).sum()) / n)


def after(one: Condition, condition: str, onset: int, at: int, *, among: int = 1) -> Agreement:
    """How the blocks after a time stand against what is expected of the series.

    Parameters
    ----------
    one : Condition
        Of the series.
    condition : str
        What was wrong with it: of `scattered` the spreads in the blocks are held against those before.
    onset : int
        Number of the block with which it began.
    at : int
        When something was done about it [us].
    among : int
        Number of series of the matter, which share the chance of being wrongly said not to agree.
    """
    blocks = one.blocks
    new = np.flatnonzero(blocks["at"].to_numpy() > at)[:CALM]
    if not new.size:
        return Agreement(0, CALM, None, None, None, f"the next {CALM} blocks will tell")
    y = _values(one, condition)
    told = y[new]
    if np.isnan(told).any():
        return _unknown(new.size, "no spread in a block of one bore")
    try:
        level, allowed = _expected(one, y, onset, new, walks=_walks(one, condition), err=ERR / among)
    except TooLittleData as few:
        return _unknown(new.size, str(few).partition(":")[0])
    off = float(told.mean()) - level
    return _judged(new.size, off, allowed, ratio=condition == "scattered", unit=_unit(one))


def _unit(one: Condition) -> str:
    return CATALOGUE[one.judgement.key[2]].unit


def _values(one: Condition, condition: str) -> Floats:
    """What is held against what was before: block means, or logarithms of spreads."""
    blocks = one.blocks
    if condition == "scattered":
        spread = blocks["spread"].to_numpy(dtype=float)
        logs: Floats = np.log(np.where(spread > 0, spread, np.nan))
        return logs
    means: Floats = blocks["mean"].to_numpy(dtype=float)
    return means


def _walks(one: Condition, condition: str) -> bool:
    """Whether the level is expected to walk with wear."""
    key = one.judgement.key
    return CATALOGUE[key[2]].wears and key[1] not in NOT_WORN and condition != "scattered"


def _expected(
    one: Condition, y: Floats, onset: int, new: NDArray[np.int_], *, walks: bool, err: float
) -> tuple[float, float]:
    quiet = np.zeros(len(y), dtype=bool)
    conditions = one.judgement.conditions
    quiet[rows_of(one)] = [word not in URGENT for word in conditions]
    quiet &= (np.arange(len(y)) < onset) & ~np.isnan(y)
    stretch = one.blocks["stretch"].to_numpy()
    if stretch[new[0]] != stretch[max(onset, 0)]:
        numbers = [np.flatnonzero(stretch == s)[: new.size] for s in np.unique(stretch[: new[0]])]
        whole = [rows for rows in numbers if rows.size == new.size and quiet[rows].all()]
        if len(whole) >= LEAST_STRETCHES:
            return expected_of_stretches(np.array([y[rows].mean() for rows in whole]), err)
    rows, lag1 = np.flatnonzero(quiet)[-MOST_BLOCKS:], one.judgement.lag1
    wear = one.blocks["wear"].to_numpy(dtype=float)
    if walks and rows.size >= LEAST_ON_LINE:
        ahead = float(wear[new].mean())
        return expected_on_line(y[rows], wear[rows], stretch[rows], ahead, new.size, lag1, err)
    return expected_of_blocks(y[rows], new.size, lag1, err)


def _unknown(made: int, why: str) -> Agreement:
    words = f"{so_far(made)}; what to expect is not known: {why}"
    return Agreement(made, CALM, None, None, None, words)


def so_far(made: int) -> str:
    """`the 5 blocks after it` once all are made, else `2 of the next 5 blocks are in`."""
    if made >= CALM:
        return f"the {CALM} blocks after it"
    return f"{made} of the next {CALM} blocks {'is' if made == 1 else 'are'} in"


def that_agree(made: int, agree: bool) -> str:
    """The same with whether they agree."""
    one = made == 1
    verb = ("agrees" if one else "agree") if agree else f"{'does' if one else 'do'} not agree"
    return f"{so_far(made)} {verb}" if made >= CALM else f"{so_far(made)} and {verb}"


def _judged(made: int, off: float, allowed: float, *, ratio: bool, unit: str) -> Agreement:
    agree = abs(off) <= allowed
    if ratio:
        off, allowed = float(np.exp(off)), float(np.exp(allowed))
        told = f"{number(off, 2)} times the spread expected, {number(allowed, 2)} times would be in order"
    else:
        digits = 3 if allowed < 1 else 1
        told = f"{number(off, digits, sign=True)} {unit} off what is expected, "
        told += f"{number(allowed, digits)} would be in order"
    words = f"{that_agree(made, agree)}: {told}"
    return Agreement(made, CALM, bool(agree), off, allowed, words)


