"""What makes a capability figure doubtful: limits at odds, the gauge's steps, blocks that lean on others."""

from typing import Final

import numpy as np
import pandas as pd

from qc.catalogue import Characteristic
from qc.history import History
from qc.reports.gauges import GaugeBook
from qc.reports.windows import Window
from qc.reports.words import number

LEANING: Final = 0.25
"""Lag-1 correlation of block means from which an interval that takes blocks as independent is too short."""
FEW_STEPS: Final = 5  # common practice, no source
COARSE: Final = 0.05  # of the tolerance: ISO 22514-7 (from memory)
_TICKS: Final = 10  # readings that differ by less than 1e-4 of their unit are one: inches leave such traces


def of_window(window: Window) -> str | None:
    """Why no index can be had from these limits, None when one can."""
    low, target, high = window.lower, window.target, window.upper
    if low is not None and high is not None and low >= high:
        return f"the lower limit {low:g} is not below the upper one {high:g}: correct the specification"
    outside = target is not None and (
        (low is not None and target < low) or (high is not None and target > high)
    )
    if outside:
        return (
            f"the target {target:g} lies outside the limits ({_limits(window)}): one of them is wrong, "
            "correct the specification"
        )
    return None


def _limits(window: Window) -> str:
    if window.lower is None:
        return f"at most {window.upper:g}"
    return f"at least {window.lower:g}" if window.upper is None else f"{window.lower:g} to {window.upper:g}"


def steps(entry: Characteristic, values: pd.DataFrame, found: History) -> int | None:
    """Number of different readings behind bore values; None where the values are derived or too few."""
    if entry.value != "mean" or not len(values) or "rows" not in values:
        return None
    rows = np.concatenate([np.asarray(r, dtype=int) for r in values["rows"]])
    told = found.readings.iloc[rows]
    # what the gauge showed: a size brought to 20 degC stands between its steps
    size = told["size_as_read" if "size_as_read" in told else "size"]
    read = pd.to_numeric(size).to_numpy(dtype=float, na_value=np.nan)
    if entry.coded:
        read = read - pd.to_numeric(told["aim"]).to_numpy(dtype=float, na_value=np.nan)
    read = read[~np.isnan(read)]
    return int(np.unique(np.rint(read / _TICKS)).size) if read.size > FEW_STEPS else None


def of_steps(distinct: int | None) -> str | None:
    """Why no index can be had from readings on so few steps of the gauge, None when one can."""
    if distinct is None or distinct != 2:
        return None
    return (
        "all readings stand on two steps of the gauge: their spread is that of the rounding, not of the "
        "bores; read them with a finer gauge"
    )


def warnings(
    values: pd.DataFrame, window: Window, book: GaugeBook, *, lag: float, distinct: int | None, unit: str
) -> list[str]:
    """What makes the figures of a row less sure than their intervals say, a sentence each."""
    found = []
    if lag > LEANING:
        found.append(
            "Each block leans on the one before it (lag-1 correlation of block means about "
            f"{number(lag, 2)}): "
            "the intervals count blocks as independent and are too short."
        )
    if distinct is not None and 2 < distinct < FEW_STEPS:
        found.append(
            f"The readings stand on {distinct} steps of the gauge only: the spread is partly that of the "
            "rounding."
        )
    told = _coarse(values, window, book, unit)
    return [*found, told] if told else found


def _coarse(values: pd.DataFrame, window: Window, book: GaugeBook, unit: str) -> str | None:
    if window.scaled or window.lower is None or window.upper is None or unit != "um":
        return None
    step = max(
        (book.resolution(tuple(g), at) for g, at in zip(values["gauges"], values["made_at"], strict=True)),
        default=0.0,
    )
    share = step / (window.upper - window.lower) if window.upper > window.lower else 0.0
    if share <= COARSE:
        return None
    return (
        f"The gauge's step of {step:g} um is {100 * share:.0f} % of the tolerance; more than 5 % is too "
        "coarse to judge it by (ISO 22514-7, from memory)."
    )
