"""Limits of the chart of block means: being learned, or set by a person; two different things, told apart."""

from dataclasses import dataclass
from typing import Any, Final
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from qc.charts.block_means import BlockMeansChart, one_chart, prediction_limits
from qc.charts.first_phase import A_FEW, level_of_all, standing_apart
from qc.charts.learned import learned
from qc.errors import QuestionError, TooLittleData
from qc.history import series_key
from qc.history.zone import iso
from qc.reports.choices import Choice, builds_of
from qc.reports.heads import Key
from qc.reports.lags import own_lag
from qc.reports.words import day_of, listed, number, plain, plural
from qc.stats.lag import effective

FIGURES: Final = ("center", "lower_limit", "upper_limit")
SOURCE: Final = "Hahn and Meeker, Statistical Intervals (1991), prediction interval; lag-1 corrected"
MANY: Final = "Rosner (1983), several outliers at once, NIST/SEMATECH e-Handbook 1.3.5.17.3"


@dataclass(frozen=True, slots=True)
class Ground:
    """What limits of one series rest on: its blocks, their leaning, level, what was set and what left out."""

    blocks: pd.DataFrame
    lag: float
    level: float
    fixed: dict[str, Any] | None
    learn: int | None
    without: Choice | None
    zone: ZoneInfo
    unit: str

    @property
    def left_out(self) -> np.ndarray:
        """Blocks that a person knows the cause of, (m,)."""
        named = builds_of(self.without.value) if self.without else ()
        return self.blocks["build"].isin(named).to_numpy(dtype=bool)


def set_limits(store: Any, as_of: int | None) -> dict[Key, dict[str, Any]]:
    """Limits that a person set for good, the latest of each series."""
    frame = store.records("set_limit", as_of)
    return {series_key(r): r for r in frame.sort_values("seq").to_dict("records")}


def limits(on: Ground) -> tuple[dict[str, Any], np.ndarray, np.ndarray]:
    """Keys of a chart's row about its limits, the blocks beyond them, and those that stand apart together."""
    means = on.blocks["mean"].to_numpy(dtype=float)
    out: dict[str, Any] = {**dict.fromkeys(FIGURES), "not_given": {}, "lag1": on.lag, "methods": {}}
    inside, between = spreads(_learned_blocks(on))
    out["spread_in_block"], out["spread_between_blocks"] = inside, between
    chart: BlockMeansChart | None = None
    try:
        chart = _chart(on, np.where(on.left_out, np.nan, means), inside, between, on.lag)
        out |= {"center": chart.center, "lower_limit": chart.lower_limit, "upper_limit": chart.upper_limit}
        out["methods"] = _methods(chart)
    except (TooLittleData, QuestionError) as reason:
        out["not_given"] = dict.fromkeys(FIGURES, str(reason))
    apart = _apart(on, means, inside, between)
    learned_ones = {name: out[name] for name in FIGURES}
    out["limits"] = {"phase": "being_learned", "set_at": None, "by": None, "reason": None, "revision": None,
                     **_learning(on, chart, apart)}  # fmt: skip
    out["not_given"] |= dict.fromkeys(
        ("limits.set_at", "limits.by", "limits.reason", "limits.revision"), "the limits are being learned"
    )
    if on.fixed:
        _set(out, on.fixed, learned_ones)
        apart = np.zeros(means.size, dtype=bool)
    out["limits"]["words"] = words(out["limits"], on.zone, on.unit)
    return out, _beyond(means, out, chart), apart


def _learned_blocks(on: Ground) -> pd.DataFrame:
    kept = on.blocks[~on.left_out]
    return kept if on.learn is None else kept.iloc[: on.learn]


def _chart(
    on: Ground, means: np.ndarray, inside: float | None, between: float | None, lag: float
) -> BlockMeansChart:
    return prediction_limits(
        means, on.blocks["bores"].to_numpy(dtype=float), spread_in_block=inside,
        spread_between_blocks=between, lag1=lag, level=on.level, learn=on.learn,
    )  # fmt: skip


def _methods(chart: BlockMeansChart) -> dict[str, Any]:
    return {
        "limits": chart.method, "level": chart.level, "blocks_learned": chart.m, "lag1": chart.lag1,
        "effective_blocks": chart.m_eff, "spread_of_a_block_mean": chart.s,
        "typical_bores": chart.typical_bores, "run_length": chart.run_length,
        "one_chart": list(one_chart(chart.level, chart.m, chart.lag1)), "source": SOURCE,
    }  # fmt: skip


def spreads(blocks: pd.DataFrame) -> tuple[float | None, float | None]:
    """Spread in block and between blocks [unit of the values], None where blocks have one bore each."""
    n, s = blocks["bores"].to_numpy(dtype=float), blocks["spread"].to_numpy(dtype=float)
    use = n > 1
    if len(blocks) < 2 or not use.any():
        return None, None
    inside = float(((n[use] - 1) * s[use] ** 2).sum() / (n[use] - 1).sum())
    harmonic = len(n) / (1 / n).sum()
    between = max(0.0, float(blocks["mean"].var(ddof=1)) - inside / harmonic)
    return inside**0.5, between**0.5


def _apart(on: Ground, means: np.ndarray, inside: float | None, between: float | None) -> np.ndarray:
    """Blocks that stand apart when several may, while limits are being learned from all of them."""
    none = np.zeros(means.size, dtype=bool)
    if on.learn is not None:
        return none
    try:
        base = learned(
            np.where(on.left_out, np.nan, means), on.blocks["bores"].to_numpy(dtype=float),
            spread_in_block=inside, spread_between_blocks=between, lag1=on.lag,
        )  # fmt: skip
    except (TooLittleData, QuestionError):
        return none
    found = standing_apart(
        base.deviations, level=level_of_all(on.level, base.m), most=min(A_FEW, base.m // A_FEW),
        shrunk=effective(base.m, base.lag1).variance_factor,
    )  # fmt: skip
    none[list(found.places)] = True
    return none


def _learning(on: Ground, chart: BlockMeansChart | None, apart: np.ndarray) -> dict[str, Any]:
    """What limits are learned from, what is left out with its cause, what they would be without others."""
    names = on.blocks["build"].tolist()
    without = (
        [] if on.without is None else [{"build": b, **on.without.told()} for b in builds_of(on.without.value)]
    )
    for one in without:
        one.pop("value")
    told: dict[str, Any] = {
        "blocks_learned": chart.m if chart else 0, "learned_without": without, "standing_apart": [],
        "if_left_out": None, "learned": None,
    }  # fmt: skip
    builds = [str(names[i]) for i in np.flatnonzero(apart) if isinstance(names[i], str)]
    if not builds:
        return told
    rest = _learned_blocks(on)
    rest = rest[~rest["build"].isin(builds)]
    means = np.where(on.left_out | apart, np.nan, on.blocks["mean"].to_numpy(dtype=float))
    try:
        other = _chart(on, means, *spreads(rest), own_lag(rest, on.lag))
    except (TooLittleData, QuestionError):
        return told
    left = {"center": other.center, "lower_limit": other.lower_limit, "upper_limit": other.upper_limit}
    return {**told, "standing_apart": builds, "if_left_out": left}


def _set(out: dict[str, Any], fixed: dict[str, Any], learned_ones: dict[str, Any]) -> None:
    told = {"center": fixed["center"], "lower_limit": fixed["lower"], "upper_limit": fixed["upper"]}
    out.update(plain({name: float(v) if pd.notna(v) else None for name, v in told.items()}))
    reason = fixed["reason"] if isinstance(fixed["reason"], str) else None
    out["limits"] |= {
        "phase": "set", "set_at": iso(fixed["at_written"]), "by": fixed["by"], "reason": reason,
        "revision": int(fixed["revision"]), "learned": learned_ones, "standing_apart": [],
        "if_left_out": None,
    }  # fmt: skip
    out["not_given"] = {n: "none was set on this side" for n in told if out[n] is None}


def _beyond(means: np.ndarray, row: dict[str, Any], chart: BlockMeansChart | None) -> np.ndarray:
    if row["limits"]["phase"] == "set" or chart is None:
        low = -np.inf if row["lower_limit"] is None else row["lower_limit"]
        high = np.inf if row["upper_limit"] is None else row["upper_limit"]
        return np.asarray((means < low) | (means > high))
    # a block with a known cause is no part of the limits and is still held against them
    return np.asarray((means < chart.lower) | (means > chart.upper))


def words(limits_: dict[str, Any], zone: ZoneInfo, unit: str) -> str:
    """Whether the limits are learned or set, by whom and why, as a sentence."""
    if limits_["phase"] == "set":
        because = f" because {limits_['reason'].rstrip('.')}" if limits_["reason"] else ""
        return (
            f"Limits set on {day_of(limits_['set_at'], zone)} by {limits_['by']}{because} "
            f"(revision {limits_['revision']}): they stay until somebody sets others or lifts them."
        )
    told = (
        f"Limits are being learned from {plural(limits_['blocks_learned'], 'block')} and move with each new "
        "one until somebody sets them."
    )
    if limits_["learned_without"]:
        one = limits_["learned_without"][0]
        named = listed([w["build"] for w in limits_["learned_without"]])
        told += f" Not learned from {named}: {one['reason'].rstrip('.')} ({one['by']})."
    if limits_["standing_apart"]:
        named, left = listed(limits_["standing_apart"]), limits_["if_left_out"]
        several = len(limits_["standing_apart"]) > 1
        told += (
            f" {named} {'stand' if several else 'stands'} apart and {'widen' if several else 'widens'} them: "
            f"without {'these' if several else 'it'} they would be {number(left['lower_limit'], 2)} to "
            f"{number(left['upper_limit'], 2)} {unit}. Find the cause; once it is known, say so and they are "
            "learned "
            "without (`qc choose set learn_without`). Without a cause nothing is left out."
        )
    return told
