"""Sizes brought to 20 degC, where part and gauge were read at another temperature and the metal is known."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from qc.derived.materials import MASTER, expansion
from qc.derived.temperature import REFERENCE_C, at_20
from qc.records import Build, Gauge

OF_THE_BLOCK: Final = frozenset({"bore_diameter", "tunnel_diameter", "shell_bore"})
DIAMETERS: Final = OF_THE_BLOCK | {
    "rod_bore_diameter", "journal_diameter", "pin_diameter", "piston_diameter", "shell_wall",
}  # fmt: skip
NEAR: Final = 1.0  # K: nearer to 20 degC a size that stays as read needs no word
NO_MATERIAL: Final = "the part's material is not said"
NO_COEFFICIENT: Final = "how much {material} grows is not in our table"
NO_MASTER_TEMPERATURE: Final = "the gauge was set on {master}, whose temperature (gauge_c) is blank"


@dataclass(frozen=True, slots=True)
class Brought:
    """Sizes at 20 degC [ticks], which were moved, and why one read away from it was not (else None)."""

    size: np.ndarray
    moved: np.ndarray
    why_not: np.ndarray


def brought(
    frame: pd.DataFrame, size: np.ndarray, builds: Mapping[str, Build], gauges: Sequence[Gauge]
) -> Brought:
    """Diameters and walls at 20 degC; others, and those without a temperature, stay as read.

    A gauge whose temperature stands in `gauge_c` was set on a master of steel at that temperature, or is of
    steel itself: only the difference counts. With `gauge_c` blank and no master named the instrument's own
    scale holds at 20 degC. Rounded to whole ticks, so that equal readings stay equal.
    Source: `qc.derived.temperature.at_20`.

    Parameters
    ----------
    frame : DataFrame
        Readings as the store gives them.
    size : (n,) array
        As read [ticks], NaN where it is not known.
    """
    out, moved = size.copy(), np.zeros(len(frame), dtype=bool)
    why_not = np.full(len(frame), None, dtype=object)
    part = pd.to_numeric(frame["part_c"]).to_numpy(dtype=float, na_value=np.nan)
    diameter = frame["characteristic"].isin(DIAMETERS).to_numpy()
    with np.errstate(invalid="ignore"):
        away = np.flatnonzero(diameter & ~np.isnan(size) & _away(frame, part))
    if not len(away):
        return Brought(out, moved, why_not)
    some = frame.iloc[away]
    gauge_c = pd.to_numeric(some["gauge_c"]).to_numpy(dtype=float, na_value=np.nan)
    alpha, reason = _coefficients(some, builds)
    reason = _set_on_a_master(some, gauge_c, gauges, reason)
    can = np.array([r is None for r in reason], dtype=bool)
    # an absolute instrument is one whose master stood at 20 degC
    at = np.where(np.isnan(gauge_c), REFERENCE_C, gauge_c)
    moved_size = at_20(size[away], np.where(can, alpha, 0.0), part[away], np.full(len(away), MASTER), at)
    out[away[can]] = np.rint(moved_size[can])
    moved[away[can]] = True
    far = np.abs(part[away] - REFERENCE_C) > NEAR
    why_not[away[far]] = reason[far]
    return Brought(out, moved, why_not)


def _away(frame: pd.DataFrame, part: np.ndarray) -> np.ndarray:
    gauge = pd.to_numeric(frame["gauge_c"]).to_numpy(dtype=float, na_value=np.nan)
    elsewhere = (part != REFERENCE_C) | (~np.isnan(gauge) & (gauge != REFERENCE_C))
    away: np.ndarray = ~np.isnan(part) & elsewhere
    return away


def _coefficients(some: pd.DataFrame, builds: Mapping[str, Build]) -> tuple[np.ndarray, np.ndarray]:
    """Coefficient of each reading's part, and why there is none."""
    alpha, reason = np.full(len(some), np.nan), np.full(len(some), None, dtype=object)
    columns = [some[name].astype(object) for name in ("material", "build", "characteristic")]
    for i, (own, build, key) in enumerate(zip(*columns, strict=True)):
        material = own if isinstance(own, str) else None
        if material is None and key in OF_THE_BLOCK and build in builds:
            material = builds[build].material
        found = expansion(material)
        if found is None:
            reason[i] = NO_MATERIAL if material is None else NO_COEFFICIENT.format(material=material)
        else:
            alpha[i] = found
    return alpha, reason


def _set_on_a_master(
    some: pd.DataFrame, gauge_c: np.ndarray, gauges: Sequence[Gauge], reason: np.ndarray
) -> np.ndarray:
    """Add the reason of those whose gauge was set on a master of unknown temperature."""
    masters: dict[str, str] = {g.gauge: g.master for g in gauges if g.master}
    out = reason.copy()
    columns = [some[name].astype(object) for name in ("master", "gauge")]
    for i, (own, gauge) in enumerate(zip(*columns, strict=True)):
        master = own if isinstance(own, str) else masters.get(gauge) if isinstance(gauge, str) else None
        if out[i] is None and master is not None and np.isnan(gauge_c[i]):
            out[i] = NO_MASTER_TEMPERATURE.format(master=master)
    return out
