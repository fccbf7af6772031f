"""The shape of a series' bores: the bores themselves, the family they are taken as, and its runner-up."""

from typing import Any, Final

import numpy as np
import pandas as pd
from scipy.special import ndtr

from qc.capability.fit import nearest_other
from qc.capability.general import limits_that_count
from qc.catalogue import characteristic
from qc.history import history, that_count
from qc.records import Asked
from qc.reports.choices import choices
from qc.reports.conditions import conditions
from qc.reports.heads import Heads, Key
from qc.reports.question import head
from qc.reports.windows import Window, split
from qc.reports.words import plain
from qc.stats.families import FAMILIES, Family
from qc.stats.segments import Floats, at_fractions

SCORES: Final = (-3.0, -1.959963984540054, -1.0, 0.0, 1.0, 1.959963984540054, 3.0)
"""Where the rungs stand in a standard normal: 1 in 740, 1 in 40, 1 in 6 from either end, and the middle."""


def answer(store: Any, asked: Asked) -> dict[str, Any]:
    """Bores and quantiles of each series the question is about, first pass, for the limits used last.

    Source: quantiles of the bores by p(N + 1), NIST/SEMATECH e-Handbook 7.2.6.2; of a family by its own.
    """
    found = history(store, asked)
    heads, chosen = Heads(found, conditions(store, asked.as_of)), choices(store, asked.as_of)
    rows = []
    for key in heads.series_keys():
        values = heads.values.get(key)
        if values is None:
            continue
        own = chosen.get(key, {}).get("family")
        usual = characteristic(key[2]).family_of(key[3])
        named = own.value if own is not None and own.value in FAMILIES else usual
        rows.append({**heads.head(key), **_shape(key, values, named, found.specs), "usual_family": usual,
                     "family_chosen": None if own is None else own.told()})  # fmt: skip
    return {**head("shape", found.revision, asked, found.settings), "series": plain(rows)}


def _shape(key: Key, values: pd.DataFrame, named: str, specs: Any) -> dict[str, Any]:
    entry = characteristic(key[2])
    first = that_count(values)
    parts = split(entry, first, specs)
    window: Window | None = parts[0][0] if parts else None
    mine = parts[0][1] if parts else first
    bores = np.sort(mine["value"].dropna().to_numpy(dtype=float))
    out: dict[str, Any] = {
        "window": None if window is None else {"lower": window.lower, "upper": window.upper},
        "values": bores.tolist(), "counted": _counted(bores), "families": [],
        "can_hold": [name for name, one in FAMILIES.items() if bores.size and one.holds(bores)],
    }  # fmt: skip
    if bores.size < 2 or not np.ptp(bores) > 0:
        return out
    limits = limits_that_count(
        window.lower if window else None,
        window.upper if window else None,
        window.bounded if window else "both",
    )
    family = FAMILIES[named]
    taken = [family] if family.holds(bores) else []
    families = [*taken, nearest_other(bores, limits, family)]
    return {**out, "families": [_rungs(one, bores, one is family) for one in families]}


def _counted(bores: Floats) -> list[dict[str, float]]:
    """Quantiles of the bores themselves, as far out as so many bores reach."""
    shares = np.array([float(ndtr(z)) for z in SCORES])
    known = (shares * (bores.size + 1) >= 1) & (shares * (bores.size + 1) <= bores.size)
    if not known.any():
        return []
    at = at_fractions(bores, shares[known])
    return [{"share": float(s), "at": float(x)} for s, x in zip(shares[known], at, strict=True)]


def _rungs(family: Family, bores: Floats, taken: bool) -> dict[str, Any]:
    seen = family.seen(bores)
    member = family.parameters(float(seen.mean()), float(seen.std(ddof=1)))
    return {
        "name": family.name, "taken": taken,
        "points": [{"share": float(ndtr(z)), "at": float(family.at(z, *member))} for z in SCORES],
    }  # fmt: skip
