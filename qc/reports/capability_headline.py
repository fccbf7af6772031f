"""The headline of a capability row: dots and tolerance interval under 20 blocks, the index above."""

from typing import Any

from qc.reports.doubts import LEANING
from qc.reports.words import interval, number, plural, series_name

FEW_BLOCKS = 20


def window_words(row: dict[str, Any]) -> str:
    """Which of several windows a row is about, in words."""
    window = row["window"]
    if window["scaled"]:
        return ", all windows as shares of their tolerance"
    return f", limits {_within(window['lower'], window['upper']).removeprefix('in ')} {row['unit']}"


def _within(lower: float | None, upper: float | None) -> str:
    if lower is None:
        return f"under {number(upper, 2)}"
    return f"over {number(lower, 2)}" if upper is None else f"in {interval(lower, upper)}"


def sentence(row: dict[str, Any], which: str = "") -> str:
    """What the row says, in words: dots and tolerance interval under 20 blocks, the index above.

    `which` tells the row's window where the series has several.
    """
    name, blocks, unit = series_name(row) + which, plural(row["blocks"], "block"), row["unit"]
    shown = "of the half tolerance" if unit == "share" else unit
    held = row["tolerance_interval"]
    if row["blocks"] < FEW_BLOCKS:
        if held is None:
            return f"{name}: {blocks}, too few for an index or a tolerance interval."
        return (
            f"{name}: 95 % of bores lie {_within(held['lower'], held['upper'])} {shown} (95 % sure), "
            f"from {blocks}; too few blocks for an index."
        )
    if row["ppk"] is None:
        return f"{name}: no index, {row['not_given'].get('ppk', 'not given')} ({blocks})."
    sure = row["ppk_interval"]
    told = f", 95 % sure of {interval(sure['lower'], sure['upper'])}" if sure else ""
    short = "; blocks lean on each other, the interval is too short" if row["lag1"] > LEANING else ""
    again = f"; {plural(row['reworked'], 'bore')} reworked since" if row["reworked"] else ""
    beside = f"{short}{again}{_kept_out(row)}"
    return f"{name}: Ppk {number(row['ppk'], 2)}{told}, from {blocks}; {row['condition']}{beside}."


def _kept_out(row: dict[str, Any]) -> str:
    """The same index with what a person kept out, which stands beside it wherever it is told."""
    found = row.get("with_excluded")
    if not found or found["ppk"] is None:
        return ""
    kept = plural(row["left_out"]["excluded"], "reading")
    return f"; {number(found['ppk'], 2)} with the {kept} that a person kept out"
