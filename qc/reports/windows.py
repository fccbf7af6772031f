"""Bore values by window: builds with equal limits about their targets share one; unlike ones never mix."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from qc.catalogue import Characteristic
from qc.records import Spec


@dataclass(frozen=True, slots=True)
class Window:
    """Limits as distances from target, equal to 0.1 um, or plain and equal; `bounded` by what is given."""

    lower: float | None
    target: float | None
    upper: float | None
    bounded: str
    scaled: bool
    sources: tuple[str, ...]


def _given(value: float) -> float | None:
    return None if np.isnan(value) else round(float(value), 6)


def bounded(lower: float | None, upper: float | None) -> str:
    """By which side a window limits: both, above or below."""
    if lower is not None and upper is not None:
        return "both"
    return "above" if upper is not None else "below"


def physical(entry: Characteristic, lower: np.ndarray) -> np.ndarray:
    """Lower limits without those that are a physical zero: such a zero is never a limit."""
    if entry.floor is None:
        return lower
    with np.errstate(invalid="ignore"):
        return np.where(lower <= entry.floor, np.nan, lower)


def split(
    entry: Characteristic, values: pd.DataFrame, specs: Sequence[Spec]
) -> list[tuple[Window, pd.DataFrame]]:
    """Windows of one series' bore values with the values that share each, the one used last first.

    Values without limits are in none of them.
    """
    lower = physical(entry, values["lower_limit"].to_numpy(dtype=float))
    upper = values["upper_limit"].to_numpy(dtype=float)
    digits = 1 if entry.coded else 5
    keys = pd.MultiIndex.from_arrays([np.round(lower, digits), np.round(upper, digits)])
    has = ~(np.isnan(lower) & np.isnan(upper))
    out = []
    number = keys.factorize()[0]
    for n in np.unique(number[has]):
        rows = np.flatnonzero((number == n) & has)
        mine = values.iloc[rows]
        low, high = _given(lower[rows[0]]), _given(upper[rows[0]])
        middle = mine["limit_target"].to_numpy(dtype=float)
        target = _given(middle[0]) if (middle == middle[0]).all() else None
        window = Window(low, target, high, bounded(low, high), False, sources(mine, specs))
        out.append((window, mine))
    return sorted(out, key=lambda item: -item[1]["made_at"].max())


def sources(values: pd.DataFrame, specs: Sequence[Spec]) -> tuple[str, ...]:
    """What the limits of some values rest on, in words; "the row itself" where no specification matched."""
    return tuple(dict.fromkeys(source(int(number), specs) for number in sorted(set(values["spec"]))))


def source(number: int, specs: Sequence[Spec]) -> str:
    """What one window rests on: its row's source and issue; -1 stands for the readings' own limits."""
    if number < 0:
        return "limits written in the readings' own rows"
    issue = f", issue {specs[number].issue}" if specs[number].issue else ""
    return f"{specs[number].said_by or 'source not said'}{issue}"


def scaled(parts: Sequence[tuple[Window, pd.DataFrame]]) -> tuple[Window, pd.DataFrame] | None:
    """The values of several windows as shares of their tolerance, None where that has no meaning.

    Both limits: distance from the middle over half the width; an upper limit only: value over limit; a
    lower limit only cannot be scaled. Windows of another kind than the most frequent stay out.
    """
    kinds = [w.bounded for w, _ in parts]
    for kind in ("both", "above"):
        mine = [(w, v) for w, v in parts if w.bounded == kind]
        if len(mine) >= 2 and kinds.count(kind) >= kinds.count("above" if kind == "both" else "both"):
            frames = [_as_share(w, v) for w, v in mine]
            told = tuple(dict.fromkeys(s for w, _ in mine for s in w.sources))
            lower = -1.0 if kind == "both" else None
            joined = pd.concat(frames).sort_values(["made_at", "order"], kind="stable")
            return Window(lower, 0.0 if kind == "both" else None, 1.0, kind, True, told), joined
    return None


def _as_share(window: Window, values: pd.DataFrame) -> pd.DataFrame:
    out = values.copy()
    if window.lower is None:
        middle, half = 0.0, float(window.upper or np.nan)
    else:
        assert window.upper is not None
        middle, half = (window.lower + window.upper) / 2, (window.upper - window.lower) / 2
    for name in ("value", "least", "greatest"):
        out[name] = (out[name].to_numpy(dtype=float) - middle) / half if half else np.nan
    out["half"] = half
    return out
