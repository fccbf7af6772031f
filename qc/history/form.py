"""Form of bores and tunnels from their diameters: out-of-round, taper, barrel as series of their own."""

from collections.abc import Callable, Sequence

import numpy as np
import pandas as pd

from qc.catalogue import CATALOGUE, Characteristic
from qc.derived import form
from qc.history.plan import Places, grid
from qc.history.readings import by_method, inside
from qc.history.specs import resolve
from qc.history.values import Bores
from qc.records import Spec
from qc.units import TICKS_PER_UM

Computed = dict[str, np.ndarray]


def _out_of_round(sizes: np.ndarray, stations: np.ndarray) -> Computed:
    directions = sizes.shape[2]
    if directions < 2:
        return {}
    return {f"{directions}x{len(stations)}": form.out_of_round(sizes)}


def _taper(sizes: np.ndarray, stations: np.ndarray) -> Computed:
    if len(stations) < 2:
        return {}
    return {"ends": form.taper(sizes), "range": form.taper_range(sizes)}


def _barrel(sizes: np.ndarray, stations: np.ndarray) -> Computed:
    if len(stations) < 3:
        return {}
    return {"ends": form.barrel(sizes, stations / TICKS_PER_UM / 1000)}


_FORMULAS: dict[str, Callable[[np.ndarray, np.ndarray], Computed]] = {
    "out_of_round": _out_of_round, "taper": _taper, "barrel": _barrel,
}  # fmt: skip


def form_values(bores: Bores, values: pd.DataFrame, specs: Sequence[Spec]) -> pd.DataFrame:
    """Bore values of every form characteristic that the complete bores allow.

    Parameters
    ----------
    bores, values
        The measured bores and their `bore_values`.
    specs : sequence of Spec
        In force; a taper window with an upper limit only is a book's maximum and judges the method `range`.

    Returns
    -------
    DataFrame
        Rows like `bore_values`, machine, operation and state those of the diameters.
    """
    frames = []
    for entry in CATALOGUE.values():
        if entry.formula not in _FORMULAS:
            continue
        mine = np.flatnonzero(
            (values["characteristic"] == entry.made_of[0]).to_numpy()
            & values["complete"].to_numpy(dtype=bool)
        )
        without_target = np.flatnonzero(
            (values["characteristic"] == entry.made_of[0]).to_numpy()
            & (values["reason"] == "no target is known").to_numpy()
        )
        for places, group in _by_places(bores, np.concatenate((mine, without_target))):
            frames.extend(_computed(entry, bores, values, places, group))
    made = [f for f in frames if len(f)]
    if not made:
        return values.iloc[:0]
    return judged(pd.concat(made, ignore_index=True), specs)


def _by_places(bores: Bores, rows: np.ndarray) -> list[tuple[Places, np.ndarray]]:
    groups: dict[Places, list[int]] = {}
    for i in rows:
        groups.setdefault(bores.planned[i], []).append(int(i))
    return [(places, np.array(members)) for places, members in groups.items()]


def _computed(
    entry: Characteristic, bores: Bores, values: pd.DataFrame, places: Places, group: np.ndarray
) -> list[pd.DataFrame]:
    """Frames of one form characteristic for the bores that share their planned positions, one a method."""
    square = grid(places)
    if square is None:
        return []
    stations, clocks = square
    sizes = np.array([bores.at_planned("size", i) for i in group]).reshape(
        len(group), len(stations), len(clocks)
    )
    relative = (sizes - sizes[:, :1, :1]) / TICKS_PER_UM
    frames = []
    for method, computed in _FORMULAS[entry.formula](relative, stations).items():
        out = values.iloc[group].copy()
        out["characteristic"], out["method"] = entry.key, method
        out["value"] = out["least"] = out["greatest"] = computed
        out["complete"], out["reason"] = True, None
        frames.append(out)
    return frames


def judged(values: pd.DataFrame, specs: Sequence[Spec]) -> pd.DataFrame:
    """Values of derived characteristics with target, limits and verdict of the specifications in force.

    `value` comes in as it is [um] and goes out as a deviation from its target where the catalogue says coded.
    """
    out = values.reset_index(drop=True).copy()
    asked = out[["build", "engine", "operation", "characteristic", "feature", "state", "made_at"]].copy()
    asked["station"] = asked["clock"] = asked["target"] = pd.array([None] * len(out), dtype="Int64")
    found = resolve(specs, asked)
    coded = out["characteristic"].map(lambda k: CATALOGUE[k].coded).to_numpy(dtype=bool)
    aim = np.where(coded, found.target, 0.0) / TICKS_PER_UM
    for name in ("value", "least", "greatest"):
        out[name] = out[name].to_numpy(dtype=float) - aim
    out["aim"], out["spec"], out["sized"] = found.target, found.spec, found.sized
    lower, upper = found.lower / TICKS_PER_UM, found.upper / TICKS_PER_UM
    out["limit_target"] = np.where(found.spec >= 0, found.offset, np.where(coded, 0.0, np.nan)) / TICKS_PER_UM
    lower, upper, keep = by_method(out, lower, upper)
    out["lower_limit"], out["upper_limit"] = lower, upper
    good = inside(out["value"].to_numpy(), lower, upper)
    limited = ~(np.isnan(lower) & np.isnan(upper)) & ~np.isnan(out["value"].to_numpy())
    told = [bool(g) if has else None for g, has in zip(good, limited, strict=True)]
    out["conforms"] = np.array(told, dtype=object)
    unknown = np.isnan(out["value"].to_numpy())
    had = [r if isinstance(r, str) else None for r in out["reason"]]
    reason = ["no target is known" if u and r is None else r for u, r in zip(unknown, had, strict=True)]
    out["reason"] = np.array(reason, dtype=object)
    out["complete"] = [r is None for r in reason]
    return out[keep].reset_index(drop=True)
