"""The audit figures once more by plain arithmetic: nothing here uses any other calculation of this product.

Source: `mean`, `spread_all` and the indices as an auditor has them with a calculator (ISO 22514-2, from
memory):
Pp = (U - L) / (6 s), Ppk = the smaller of (U - mean) / (3 s) and (mean - L) / (3 s), s with divisor N - 1;
lognormal by the mean and s of the logarithms: points exp(mean), exp(mean +- 3 s).
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Window:
    """Limits that an index counts with; None where that side is open."""

    lower: float | None
    upper: float | None


def mean(values: Sequence[float]) -> float:
    """Arithmetic mean."""
    return math.fsum(values) / len(values)


def spread(values: Sequence[float]) -> float | None:
    """Standard deviation with divisor N - 1, None for fewer than two values."""
    if len(values) < 2:
        return None
    middle = mean(values)
    return math.sqrt(math.fsum((value - middle) ** 2 for value in values) / (len(values) - 1))


def figures(bores: Sequence[float], window: Window, family: str) -> dict[str, float | None]:
    """Mean, spread of all bores and the indices; an index not computed here is left out.

    Parameters
    ----------
    bores : sequence of float
        One value a bore [um or the characteristic's own unit].
    family : str
        "normal" or "lognormal"; of others only mean and spread are given.
    """
    s = spread(bores)
    found: dict[str, float | None] = {"mean": mean(bores), "spread_all": s}
    if family == "normal" and s:
        return found | indices(mean(bores), s, window, logarithms=False)
    if family == "lognormal" and min(bores) > 0:
        logarithms = [math.log(value) for value in bores]
        over = spread(logarithms)
        if over:
            return found | indices(mean(logarithms), over, window, logarithms=True)
    return found


def indices(middle: float, s: float, window: Window, *, logarithms: bool) -> dict[str, float | None]:
    """Pp and Ppk from a mean and a spread."""
    low, mid, high = middle - 3 * s, middle, middle + 3 * s
    if logarithms:
        low, mid, high = math.exp(low), math.exp(mid), math.exp(high)
    sides = []
    if window.upper is not None:
        sides.append((window.upper - mid) / (high - mid))
    if window.lower is not None:
        sides.append((mid - window.lower) / (mid - low))
    both = window.lower is not None and window.upper is not None
    return {
        "pp": (window.upper - window.lower) / (high - low) if both else None,  # type: ignore[operator]
        "ppk": min(sides) if sides else None,
    }


def bore_value(readings: Sequence[Mapping[str, str]], column: str) -> float | None:
    """Mean over the positions of a bore, repeats averaged first; None where a reading has no value.

    Parameters
    ----------
    readings : sequence of mapping
        Rows of readings.csv.
    column : str
        Which of their columns holds the value.
    """
    places: dict[tuple[str, str], list[float]] = {}
    for row in readings:
        if not row[column]:
            return None
        places.setdefault((row["station_mm"], row["clock_deg"]), []).append(float(row[column]))
    return mean([mean(repeats) for repeats in places.values()]) if places else None


def agree(one: float | None, other: float | None, relative: float = 1e-9) -> bool:
    """Whether two figures are the same to a relative 1e-9; near nought, to far less than is kept."""
    if one is None or other is None:
        return one is other
    return math.isclose(one, other, rel_tol=relative, abs_tol=1e-6 * relative + 1e-12)
