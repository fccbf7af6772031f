"""Several characteristics of the same blocks on one chart (Hotelling's T2)."""

from typing import Any, Final

import numpy as np

from qc.catalogue import CATALOGUE, said
from qc.charts.multivariate import BLOCKS_A_VARIABLE, multivariate
from qc.errors import QcError, QuestionError, TooLittleData
from qc.reports.chart_told import Told
from qc.reports.words import listed

TAKEN: Final = ("bore_diameter", "bore_taper", "bore_out_of_round", "ra")
Row = dict[str, Any]
_OF_EACH: Final = ("window", "spread_in_block", "spread_between_blocks")


def together(rows: list[Row], learn: int | None, level: float) -> list[tuple[Row, Told | QcError]]:
    """One row a machine, operation and state that has two or more of the characteristics.

    Parameters
    ----------
    rows : list
        Series of the default chart.
    learn : int, optional
        Number of first complete blocks that centre and covariance are learned from.
    level : float
        Share of quiet blocks that may signal.
    """
    groups: dict[tuple[str, ...], dict[str, Row]] = {}
    for row in rows:
        if row["characteristic"] in TAKEN:
            group = groups.setdefault((row["machine"], row["operation"], row["state"]), {})
            # of several methods of one characteristic the one with the most blocks speaks
            before = group.get(row["characteristic"])
            if before is None or len(row["blocks"]) > len(before["blocks"]):
                group[row["characteristic"]] = row
    return [_one(key, group, learn, level) for key, group in sorted(groups.items()) if len(group) > 1]


def _one(
    key: tuple[str, ...], group: dict[str, Row], learn: int | None, level: float
) -> tuple[Row, Told | QcError]:
    names: list[str] = [name for name in TAKEN if name in group]
    blocks: dict[str, Row] = {}
    for name in names:
        blocks |= {b["build"]: b for b in group[name]["blocks"] if b["build"] and b["build"] not in blocks}
    order = sorted(blocks.values(), key=lambda b: b["at"])
    columns: dict[str, np.ndarray] = {name: _column(name, group[name], order) for name in names}
    dropped = []
    while len(names) > 2 and _complete(columns, names) < BLOCKS_A_VARIABLE * len(names):
        dropped.append(names.pop())
    row = _head(key, [group[n] for n in names], order)
    labels = [said(n) for n in names]
    try:
        values = np.column_stack([columns[n] for n in names])
        found = multivariate(values, labels, level=level, learn=learn, lag1=row["lag1"])
    except (TooLittleData, QuestionError) as reason:
        return row, reason
    for i, block in enumerate(row["blocks"]):
        block["contributions"] = dict(zip(names, found.contributions[i], strict=True))
        adds = found.contributions[i]
        block["most_from"] = None if np.isnan(adds).any() else f"from {labels[int(np.argmax(adds))]}"
    left = f" {listed([said(n) for n in dropped])} left out: too few blocks for so many." if dropped else ""
    told = Told(
        f"{listed(labels)} together", "this block's characteristics do not fit together as they usually do",
        "Hotelling's T2, NIST/SEMATECH e-Handbook 6.5.4.3 (from memory)",
        None, None, found.upper_limit, found.statistic, np.full(len(order), np.nan), found.upper,
        found.signals,
        f"In each block {listed(labels)} are judged together by how they usually go together (Hotelling's "
        f"T2).{left} "
        "The contributions say which one is behind a signal: what T2 loses without it.",
        found.run_length,
        "Do not conclude which part is bad from T2 alone: look at the chart of the one that contributes "
        "most.",
        {"characteristics": names, "left_out": dropped, "blocks_learned": found.m, "level": found.level,
         "center_of_each": found.center, "covariance": found.covariance,
         "scale": {n: _scale(n, group[n])[0] for n in names}, "method": found.method},
    )  # fmt: skip
    return row, told


def _scale(name: str, row: Row) -> tuple[str, Any]:
    """How a characteristic enters: bounded by nought as logarithm or root, else as it is."""
    family = CATALOGUE[name].family_of(row["method"])
    if family == "lognormal":
        return "logarithm", np.log
    return ("square root", np.sqrt) if family == "folded_normal" else ("as it is", np.asarray)


def _column(name: str, row: Row, order: list[Row]) -> np.ndarray:
    means = {b["build"]: b["mean"] for b in row["blocks"] if b["mean"] is not None}
    x = np.array([means.get(b["build"], np.nan) for b in order], dtype=float)
    word, scaled = _scale(name, row)
    if word != "as it is":
        x = np.where(x > 0, x, np.nan)
    return np.asarray(scaled(x), dtype=float)


def _complete(columns: dict[str, np.ndarray], names: list[str]) -> int:
    return int((~np.isnan([columns[n] for n in names]).any(axis=0)).sum())


def _head(key: tuple[str, ...], rows: list[Row], order: list[Row]) -> Row:
    machine, operation, state = key
    first = rows[0]
    return {
        **{k: v for k, v in first.items() if k not in ("questions", "sentence")},
        "id": f"{machine}/{operation}/several/t2/{state}", "characteristic": "several", "method": "t2",
        "unit": "", "coded": False, "lag1": max(r["lag1"] or 0.0 for r in rows),
        "readings": sum(r["readings"] for r in rows), "blocks_charted": len(order),
        "gauges": sorted({g for r in rows for g in r["gauges"]}),
        "condition": "several", "why": "each characteristic has a condition of its own",
        **dict.fromkeys(_OF_EACH), "not_given": dict.fromkeys(_OF_EACH, "each characteristic has its own"),
        "blocks": [{**b, "mean": None, "spread": None, "lowest": None, "highest": None} for b in order],
    }  # fmt: skip
