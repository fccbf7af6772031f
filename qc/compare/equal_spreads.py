"""Tests that several groups have one spread."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.stats import chi2
from scipy.stats import f as f_distribution

from qc.errors import TooLittleData

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class EqualSpreads:
    """A test that several groups have one spread: statistic, its degrees of freedom, p."""

    statistic: float
    df: tuple[float, ...]
    p: float
    method: str


def values_of(values: ArrayLike, what: str) -> Floats:
    """Values of one group without the missing ones; fewer than 2 are refused in the name of ``what``."""
    v = np.asarray(values, dtype=float).ravel()
    v = v[~np.isnan(v)]
    if v.size < 2:
        raise TooLittleData(f"{what} needs 2 blocks or more in each month; one has {v.size}: widen the dates")
    return np.asarray(v)


def brown_forsythe(*groups: ArrayLike) -> EqualSpreads:
    """Test that several groups have one spread, by absolute deviations from each group's median.

    Source: Brown and Forsythe (1974), JASA 69, 364-367; NIST/SEMATECH e-Handbook 1.3.5.10.

    Parameters
    ----------
    *groups : (m,)
        Values of each group, block means; NaN is left out.

    Raises
    ------
    TooLittleData
        Fewer than 2 groups, or 2 values in a group.
    """
    if len(groups) < 2:
        raise TooLittleData("a comparison of spreads needs 2 groups or more")
    values = [values_of(g, "a comparison of spreads") for g in groups]
    z = [np.abs(v - np.median(v)) for v in values]
    sizes = np.array([v.size for v in z])
    means = np.array([v.mean() for v in z])
    grand = (sizes * means).sum() / sizes.sum()
    df = (float(len(z) - 1), float(sizes.sum() - len(z)))
    between = (sizes * (means - grand) ** 2).sum() / df[0]
    within = sum(((v - m) ** 2).sum() for v, m in zip(z, means, strict=True)) / df[1]
    w = float(between / within) if within > 0 else (0.0 if between == 0 else float("inf"))
    return EqualSpreads(w, df, float(f_distribution.sf(w, *df)), "Brown-Forsythe")


def bartlett(*groups: ArrayLike) -> EqualSpreads:
    """Test that several normal groups have one spread; sensitive to a family that is not normal.

    Source: Bartlett (1937); NIST/SEMATECH e-Handbook 1.3.5.7.

    Parameters
    ----------
    *groups : (m,)
        Values of each group; NaN is left out.

    Raises
    ------
    TooLittleData
        Fewer than 2 groups, or 2 values in a group.
    """
    if len(groups) < 2:
        raise TooLittleData("a comparison of spreads needs 2 groups or more")
    values = [values_of(g, "a comparison of spreads") for g in groups]
    v = np.array([g.size - 1.0 for g in values])
    variances = np.array([g.var(ddof=1) for g in values])
    pooled = (v * variances).sum() / v.sum()
    with np.errstate(divide="ignore"):
        raw = v.sum() * np.log(pooled) - (v * np.log(variances)).sum()
    df = float(len(values) - 1)
    statistic = float(raw / (1 + ((1 / v).sum() - 1 / v.sum()) / (3 * df)))
    return EqualSpreads(statistic, (df,), float(chi2.sf(statistic, df)), "Bartlett")
