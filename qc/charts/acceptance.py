"""Acceptance chart: the level may wander inside the tolerance as long as few bores can lie outside it."""

from dataclasses import dataclass
from math import ceil

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr, ndtri

from qc.errors import QuestionError, TooLittleData

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class AcceptanceChart:
    """Limits of block means, (m,) each [unit of the means], and the process levels they tell apart.

    ``acceptable`` and ``rejectable`` are the levels at which shares ``good`` and ``bad`` of the bores lie
    outside, (lower, upper) each. ``missed`` (m,) is the chance that a block at the rejectable level is
    accepted, ``bores_needed`` the bores that bring it down to ``risk``.
    """

    lower: Floats
    upper: Floats
    lower_limit: float | None
    upper_limit: float | None
    signals: NDArray[np.bool_]
    acceptable: tuple[float | None, float | None]
    rejectable: tuple[float | None, float | None]
    missed: Floats
    bores_needed: int
    good: float
    bad: float
    risk: float
    run_length: str
    method: str = "acceptance control chart"


def acceptance(
    means: ArrayLike, bores: ArrayLike, *, lower: float | None, upper: float | None, spread_in_block: float,
    good: float = 0.00135, bad: float = 0.025, risk: float = 0.05,
) -> AcceptanceChart:  # fmt: skip
    """Return acceptance limits for block means [unit of the means].

    Upper: U - (z(1 - good) - z(1 - risk)/sqrt(n)) spread_in_block; lower mirrored. A block at the acceptable
    level or better is refused in ``risk`` of all cases at most.
    Source: ISO 7870-3:2020, acceptance control charts (from memory).

    Parameters
    ----------
    means, bores : (m,)
        Block means, NaN is passed over, and the bores behind each.
    lower, upper : float or None
        Tolerance limits.
    spread_in_block : float
        Of single bores about their block's level; taken as known and normal.
    good, bad : float
        Shares outside at the acceptable and at the rejectable level.
    risk : float
        Chance of refusing an acceptable block, and of accepting a rejectable one with bores enough.

    Raises
    ------
    QuestionError
        No limit, or limits too near for the spread.
    TooLittleData
        No spread in block.
    """
    _sensible(lower, upper, spread_in_block, good, bad, risk)
    x, n = np.asarray(means, dtype=float).ravel(), np.asarray(bores, dtype=float).ravel()
    z_good, z_bad, z_risk = -ndtri(good), -ndtri(bad), -ndtri(risk)
    near, far = z_good * spread_in_block, z_bad * spread_in_block
    back = (z_good - z_risk / np.sqrt(n)) * spread_in_block
    typical = (z_good - z_risk / np.sqrt(float(np.median(n)))) * spread_in_block
    if lower is not None and upper is not None and upper - lower < 2 * near:
        raise QuestionError(
            "the tolerance is too narrow for an acceptance chart: even a centred block would have more than "
            f"{good:.2%} of its bores outside; take block means, and lessen the spread in a block first"
        )
    low = np.full(x.shape, -np.inf) if lower is None else lower + back
    high = np.full(x.shape, np.inf) if upper is None else upper - back
    chance = ndtr((z_bad - z_good) * np.sqrt(n) + z_risk)
    return AcceptanceChart(
        low, high,
        None if lower is None else lower + typical, None if upper is None else upper - typical,
        (x < low) | (x > high),
        (None if lower is None else lower + near, None if upper is None else upper - near),
        (None if lower is None else lower + far, None if upper is None else upper - far),
        chance, ceil(((2 * z_risk) / (z_good - z_bad)) ** 2 - 1e-9), good, bad, risk,
        f"a block at the acceptable level is refused once in {1 / risk:,.0f} blocks, one nearer the middle "
        "almost never; the spread in block is taken as known, from few blocks both are less sure",
    )  # fmt: skip


def _sensible(
    lower: float | None, upper: float | None, spread: float, good: float, bad: float, risk: float
) -> None:
    if lower is None and upper is None:
        raise QuestionError(
            "an acceptance chart judges by the tolerance: add limits with `qc spec add` first"
        )
    if not (0 < good < bad < 0.5 and 0 < risk < 0.5):
        raise QuestionError(
            "the share outside at the acceptable level must be below that at the rejectable one"
        )
    if not spread > 0:
        raise TooLittleData(
            "an acceptance chart needs the spread from bore to bore, and these blocks show none: "
            "measure more bores a block, or check the gauge's resolution"
        )
