"""Short runs: few blocks of each engine family on one chart, off their targets or standardised."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtri, stdtr
from scipy.stats import f_oneway, levene

from qc.errors import QuestionError, TooLittleData
from qc.stats.levels import DEFAULT_LEVEL

Floats = NDArray[np.float64]

LEAST_OF_A_FAMILY = 3


@dataclass(frozen=True, slots=True)
class Pooling:
    """Whether families may share one chart: p of equal spreads and of equal levels, and the words."""

    alike: bool
    p_spread: float | None
    p_level: float | None
    words: str


@dataclass(frozen=True, slots=True)
class ShortRunChart:
    """Standard score of each block within its family (m,), limits on both sides, and the signals.

    A score is NaN for a family of under 3 blocks.
    """

    statistic: Floats
    center: float
    lower: Floats
    upper: Floats
    lower_limit: float
    upper_limit: float
    signals: NDArray[np.bool_]
    families: tuple[str, ...]
    left_out: tuple[str, ...]
    m: int
    level: float
    blocks_to_a_false_alarm: float
    run_length: str
    method: str = "standard scores of deviations from target, each within its own family"


def pooling(deviations: ArrayLike, family: Sequence[str], *, level: float = 0.05) -> Pooling:
    """Return whether deviations from target of several families may be pooled on one chart.

    Both tests take blocks as independent: spreads about the family's median (Brown and Forsythe), then means
    (one-way analysis of variance).
    Source: ISO 7870-8:2017, short runs and small mixed batches (from memory); M. B. Brown and A. B. Forsythe
    (1974), Journal of the American Statistical Association 69, 364-367.

    Parameters
    ----------
    deviations : (m,)
        Block means off their own target; NaN is passed over.
    family : (m,)
        Engine family of each block.
    level : float
        At which families count as unlike.
    """
    groups = [x for _, x in _by_family(deviations, family) if x.size >= LEAST_OF_A_FAMILY]
    if len(groups) < 2:
        return Pooling(True, None, None, "one family only has blocks enough: nothing to compare")
    if not all(np.ptp(g) > 0 for g in groups):
        return Pooling(
            False,
            None,
            None,
            "a family's blocks are all equal: the families cannot be compared, so not pooled",
        )
    p_spread, p_level = float(levene(*groups, center="median").pvalue), float(f_oneway(*groups).pvalue)
    if p_spread < level:
        words = "the families differ in spread: a chart of plain deviations would be too wide for one of them"
    elif p_level < level:
        words = "the families stand at different levels off their targets: look at the targets before pooling"
    else:
        words = "the families can't be told apart by these blocks, in spread or in level"
    return Pooling(min(p_spread, p_level) >= level, p_spread, p_level, words)


def short_run(deviations: ArrayLike, family: Sequence[str], *, level: float = DEFAULT_LEVEL) -> ShortRunChart:
    """Return standard scores of blocks within their families, so that unlike families share one chart.

    Each block is held against the other k blocks of its family: (x - mean)/(s sqrt(1 + 1/k)) is t(k - 1),
    turned into the normal score of equal chance.
    Source: ISO 7870-8:2017 (from memory); C. P. Quesenberry (1991), Journal of Quality Technology 23, 213-
    224, Q statistics (from memory), here against all other blocks and not only earlier ones.

    Parameters
    ----------
    deviations : (m,)
        Block means off their own target; NaN is passed over.
    family : (m,)
        Engine family of each block.
    level : float
        Share of quiet blocks that may signal.

    Raises
    ------
    TooLittleData
        No family with 3 blocks that are not all equal.
    """
    x = np.asarray(deviations, dtype=float).ravel()
    scores, used, out = np.full(x.shape, np.nan), [], []
    for name, values in _by_family(x, family):
        place = np.flatnonzero([f == name for f in family])
        place = place[~np.isnan(x[place])]
        if values.size < LEAST_OF_A_FAMILY or not np.ptp(values) > 0:
            out.append(name)
            continue
        used.append(name)
        scores[place] = _scores(values)
    if not used:
        raise TooLittleData(
            f"a short-run chart needs a family with {LEAST_OF_A_FAMILY} blocks that are not all equal: widen "
            "the dates or wait for another build"
        )
    reach = float(-ndtri(level / 2))
    half = np.where(np.isnan(scores), np.nan, reach)
    return ShortRunChart(
        scores, 0.0, -half, half, -reach, reach, np.abs(scores) > reach, tuple(used), tuple(out),
        int((~np.isnan(scores)).sum()), level, 1 / level,
        f"a quiet series gives one false alarm in about {1 / level:,.0f} blocks, however few each family has "
        f"({1 / level:,.0f} if levels and spreads were known)",
    )  # fmt: skip


def _scores(x: Floats) -> Floats:
    k = x.size - 1
    total, squares = x.sum(), ((x - x.mean()) ** 2).sum()
    others = (total - x) / k
    # squares of the others about their own mean
    rest = np.maximum(0.0, squares - (x - others) ** 2 * k / (k + 1))
    with np.errstate(divide="ignore"):
        t = (x - others) / np.sqrt(rest / (k - 1) * (1 + 1 / k))
    chance = stdtr(k - 1, -np.abs(t))
    return np.asarray(np.sign(t) * -ndtri(np.maximum(chance, 1e-300)))


def _by_family(deviations: ArrayLike, family: Sequence[str]) -> list[tuple[str, Floats]]:
    x = np.asarray(deviations, dtype=float).ravel()
    if x.size != len(family):
        raise QuestionError("a short-run chart needs the engine family of each block")
    names = np.array([str(f) for f in family], dtype=object)
    return [(name, x[(names == name) & ~np.isnan(x)]) for name in sorted(set(names.tolist()))]
