"""Families of distributions that bores are taken to follow. Which one is set by the catalogue, never by the
fit.

Every family is told by two numbers had from the mean and the standard deviation of the values as it sees them
(`seen`): the lognormal sees logarithms. `at` gives the value that stands where `z` stands in a standard
normal, so that z = 0, 3, -3 are the median and the 99.865 % and 0.135 % points of ISO 22514-2.
"""

from abc import ABC, abstractmethod
from functools import lru_cache
from math import pi, sqrt
from typing import Any, ClassVar

import numpy as np
from scipy.special import erf, expit, logit, ndtr

from qc.errors import QuestionError
from qc.stats.segments import Floats

_LARGEST_RATIO = 12.0
"""Location over scale beyond which a folded normal is a normal to the last digit."""

_STEP = 1 / 256


class Family(ABC):
    """A two-parameter family. All arguments may be arrays of one shape."""

    name: ClassVar[str]
    label: ClassVar[str]
    source: ClassVar[str]
    fit: ClassVar[str]
    needs: ClassVar[str]

    def holds(self, values: Floats) -> bool:
        """Return whether every value can come from the family; `needs` says what it asks of them."""
        return True

    def seen(self, values: Any) -> Any:
        """Return the values on the scale on which mean and standard deviation are taken."""
        return values

    def parameters(self, mean: Any, spread: Any) -> tuple[Any, Any]:
        """Return location and scale from mean and standard deviation of what is seen."""
        return mean, spread

    @abstractmethod
    def at(self, z: float, location: Any, scale: Any) -> Any:
        """Return the quantile that z is of the standard normal [unit of values]."""

    def reach(self, z: float, location: Any, scale: Any) -> Any:
        """Return the distance from the median to the quantile at z, above 0 [unit of values]."""
        return abs(self.at(z, location, scale) - self.at(0.0, location, scale))

    @abstractmethod
    def cdf(self, x: Any, location: Any, scale: Any) -> Any:
        """Return the share of values at or below x."""

    @abstractmethod
    def above(self, x: Any, location: Any, scale: Any) -> Any:
        """Return the share of values above x, without loss in the far tail."""


class Normal(Family):
    """Normal: location is the mean, scale the standard deviation."""

    name = "normal"
    label = "normal"
    source = "ISO 22514-2, distribution model A1 (from memory)"
    fit = "mean and standard deviation (divisor N - 1) of all bores"
    needs = "any values"

    def at(self, z: float, location: Any, scale: Any) -> Any:
        """Return location + z scale."""
        return location + z * scale

    def reach(self, z: float, location: Any, scale: Any) -> Any:
        """Return |z| scale, without rounding against a large location."""
        return abs(z) * scale

    def cdf(self, x: Any, location: Any, scale: Any) -> Any:
        """Return Phi((x - location) / scale)."""
        return ndtr((x - location) / scale)

    def above(self, x: Any, location: Any, scale: Any) -> Any:
        """Return Phi((location - x) / scale)."""
        return ndtr((location - x) / scale)


class Lognormal(Family):
    """Lognormal: location and scale are mean and standard deviation of the natural logarithms."""

    name = "lognormal"
    label = "lognormal"
    source = "ISO 22514-2, distribution models of one-sided, positive characteristics (from memory)"
    fit = "mean and standard deviation (divisor N - 1) of the natural logarithms of all bores"
    needs = "values above 0"

    def holds(self, values: Floats) -> bool:
        """Return whether every value is above 0."""
        return bool(np.all(values > 0))

    def seen(self, values: Any) -> Any:
        """Return the natural logarithms."""
        return np.log(values)

    def at(self, z: float, location: Any, scale: Any) -> Any:
        """Return exp(location + z scale)."""
        return np.exp(location + z * scale)

    def cdf(self, x: Any, location: Any, scale: Any) -> Any:
        """Return Phi((ln x - location) / scale), 0 for x at or below zero."""
        return ndtr((_log(x) - location) / scale)

    def above(self, x: Any, location: Any, scale: Any) -> Any:
        """Return Phi((location - ln x) / scale), 1 for x at or below zero."""
        return ndtr((location - _log(x)) / scale)


class FoldedNormal(Family):
    """Folded normal with free location: |Y|, Y normal with mean `location` >= 0 and standard deviation
    `scale`.

    At location 0 it is the half normal (form error of a part that is round but for noise); far from 0 it goes
    over into the normal. The location is free, that is, fitted, not set to 0.
    """

    name = "folded_normal"
    label = "folded normal"
    source = "F. C. Leone, L. S. Nelson, R. B. Nottingham, Technometrics 3 (1961) 543-550 (from memory)"
    fit = "by moments, from mean and standard deviation (divisor N - 1) of all bores; location 0 at the least"
    needs = "values of 0 or more"

    def holds(self, values: Floats) -> bool:
        """Return whether no value is below 0."""
        return bool(np.all(values >= 0))

    def parameters(self, mean: Any, spread: Any) -> tuple[Any, Any]:
        """Return location and scale that give this mean and standard deviation.

        Leone, Nelson, Nottingham, eq. for the moments: E X^2 = location^2 + scale^2, E X = scale m(location /
        scale).
        """
        second = np.square(mean) + np.square(spread)
        ratio = _location_over_scale(np.square(mean) / second)
        scale = np.sqrt(second / (1 + ratio * ratio))
        return ratio * scale, scale

    def at(self, z: float, location: Any, scale: Any) -> Any:
        """Return the root x of cdf(x) = Phi(z)."""
        return scale * folded_quantile(float(ndtr(z)), np.asarray(location / scale))

    def cdf(self, x: Any, location: Any, scale: Any) -> Any:
        """Return Phi((x - location) / scale) - Phi((-x - location) / scale), 0 for x below zero."""
        x = np.maximum(x, 0.0)
        return ndtr((x - location) / scale) - ndtr((-x - location) / scale)

    def above(self, x: Any, location: Any, scale: Any) -> Any:
        """Return Phi((location - x) / scale) + Phi((-x - location) / scale), 1 for x below zero."""
        x = np.maximum(x, 0.0)
        return ndtr((location - x) / scale) + ndtr((-x - location) / scale)


class Logistic(Family):
    """Logistic: even like the normal, with heavier tails; location is the mean, scale sd sqrt(3) / pi."""

    name = "logistic"
    label = "logistic (even, with heavier tails)"
    source = "N. Balakrishnan, Handbook of the Logistic Distribution (1992), ch. 1 (from memory)"
    fit = "by moments, from mean and standard deviation (divisor N - 1) of all bores"
    needs = "any values"

    def parameters(self, mean: Any, spread: Any) -> tuple[Any, Any]:
        """Return location and scale that give this mean and standard deviation."""
        return mean, spread * sqrt(3) / pi

    def at(self, z: float, location: Any, scale: Any) -> Any:
        """Return location + scale ln(p / (1 - p)), p = Phi(z)."""
        return location + scale * float(logit(ndtr(z)))

    def reach(self, z: float, location: Any, scale: Any) -> Any:
        """Return scale |ln(p / (1 - p))|, without rounding against a large location."""
        return scale * abs(float(logit(ndtr(z))))

    def cdf(self, x: Any, location: Any, scale: Any) -> Any:
        """Return 1 / (1 + exp(-(x - location) / scale))."""
        return expit((x - location) / scale)

    def above(self, x: Any, location: Any, scale: Any) -> Any:
        """Return 1 / (1 + exp((x - location) / scale))."""
        return expit((location - x) / scale)


def _log(x: Any) -> Any:
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.log(np.maximum(x, 0.0))


def _mean_of_folded(ratio: Any) -> Any:
    return sqrt(2 / pi) * np.exp(-ratio * ratio / 2) + ratio * erf(ratio / sqrt(2))


@lru_cache(maxsize=1)
def _share_table() -> tuple[Floats, Floats]:
    ratio = np.linspace(0.0, _LARGEST_RATIO, 6001)
    return _mean_of_folded(ratio) ** 2 / (1 + ratio * ratio), ratio


def _location_over_scale(share: Any) -> Any:
    """Return location / scale from mean^2 / E X^2; 0 where the share is below that of the half normal,
    2/pi.
    """
    shares, ratios = _share_table()
    share = np.asarray(share, dtype=np.float64)
    fourth = np.maximum(np.interp(share, shares, ratios**4), 1e-12)
    # In the fourth power the share is all but a straight line near the half normal, where in the ratio itself
    # it is flat and Newton's steps would crawl.
    for _ in range(2):
        ratio = fourth**0.25
        mean = _mean_of_folded(ratio)
        second = 1 + ratio * ratio
        slope = 2 * mean * (erf(ratio / sqrt(2)) * second - mean * ratio) / second**2 / (4 * ratio**3)
        fourth = np.clip(fourth - (mean * mean / second - share) / slope, 1e-12, _LARGEST_RATIO**4)
    straight = np.sqrt(share / np.maximum(1 - share, 1e-300))
    folded = np.where(share <= shares[0], 0.0, fourth**0.25)
    return np.where(share >= shares[-1], straight, folded)


@lru_cache(maxsize=64)
def _quantile_table(content: float) -> tuple[Floats, Floats]:
    ratio = np.arange(0.0, _LARGEST_RATIO + 1.5 * _STEP, _STEP)
    low, high = np.zeros(ratio.size), ratio + 10.0
    for _ in range(80):
        middle = (low + high) / 2
        short = ndtr(middle - ratio) - ndtr(-middle - ratio) < content
        low, high = np.where(short, middle, low), np.where(short, high, middle)
    x = (low + high) / 2
    return x, np.tanh(x * ratio) * _STEP


def folded_quantile(content: float, ratio: Any) -> Any:
    """Return the x within which |Y| lies with probability `content`, Y normal with mean `ratio` and spread 1.

    The same number is the half width about 0 that holds `content` of a normal whose mean is `ratio` off,
    which is what two-sided tolerance intervals need. Since dx/dratio = tanh(x ratio), a cubic through a table
    of values and slopes is right to 1e-11.
    """
    x, slope = _quantile_table(content)
    ratio = np.abs(np.asarray(ratio, dtype=np.float64))
    held = np.minimum(ratio, _LARGEST_RATIO) / _STEP
    k = held.astype(np.intp)
    t = held - k
    left, right = x[k], x[k + 1]
    rise = right - left
    bend, twist = slope[k] - rise, rise - slope[k + 1]
    within = left + t * (rise + (1 - t) * ((1 - t) * bend + t * twist))
    return within + np.maximum(ratio - _LARGEST_RATIO, 0.0)


FAMILIES: dict[str, Family] = {family.name: family for family in (Normal(), Lognormal(), FoldedNormal())}
HEAVIER: Family = Logistic()
"""Compared with where no other family can hold the values; none to choose, its intervals are not made."""


def family(name: str) -> Family:
    """Return the family of that name; refuses one that nobody knows."""
    try:
        return FAMILIES[name]
    except KeyError:
        raise QuestionError(f"no family is called {name!r}: take one of {', '.join(FAMILIES)}") from None
