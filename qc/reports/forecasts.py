"""How far a series is from its limit: bores, blocks, the date at the machine's pace, chances by then."""

from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from qc.drift import BoresToLimit, Judgement
from qc.drift.ahead import FRACTION
from qc.history.zone import iso
from qc.reports.words import day_of, interval, number

US_A_DAY = 86_400_000_000
PACE_OVER = 10
"""Blocks over which the recent pace of a machine is taken."""
FARTHEST_DAYS = 3650.0


def forecast(one: Judgement, blocks: pd.DataFrame, within: int | None = None) -> dict[str, Any]:
    """Keys of a drift row about what lies ahead; null with its reason where there is no forecast.

    ``within`` bores (or blocks) are asked for; without it those to the usual change, else the usual block.

    Parameters
    ----------
    one : Judgement
    blocks : DataFrame
        Block table of the series.
    within : int, optional
    """
    left, per_block = one.bores_to_limit, usual_block(one, blocks)
    pace = blocks_a_day(blocks)
    asked, why = _asked(one, blocks, within, per_block)
    out: dict[str, Any] = {
        "blocks_to_limit": _scaled(left, 1 / per_block),
        "pace": {"blocks_a_day": pace, "of_block": per_block},
        "date_at_limit": _dates(left, pace, per_block, int(blocks["at"].iloc[-1])),
        "bores_to_fraction_outside": _fraction(one.to_fraction),
        "chance_within": {"n": asked, "of": _of(one), "why": why, "chance": chance(one, asked)},
        "from_earlier_stretches": one.borrowed,
    }  # fmt: skip
    out["forecast"] = words(one, out)
    return out


def missing(row: dict[str, Any], told: dict[str, str]) -> dict[str, str]:
    """Why keys of a row about what lies ahead, or behind a change, are null."""
    out = {}
    if row["bores_to_limit"] is None:
        for name in ("blocks_to_limit", "date_at_limit", "bores_to_fraction_outside", "forecast"):
            out[name] = told["bores_to_limit"]
    if row["from_earlier_stretches"] is None:
        out["from_earlier_stretches"] = "no finished stretch is behind the forecast"
    if row["evidence"] is None:
        out["evidence"] = "no operator, family, temperature or hour goes with a change"
    return out


def usual_block(one: Judgement, blocks: pd.DataFrame) -> float:
    """What the machine usually makes from block to block, in the count of the forecast."""
    if _of(one) == "blocks":
        return 1.0
    made = blocks["made"].to_numpy(dtype=float)[-PACE_OVER:]
    return float(np.median(made[made > 0])) if (made > 0).any() else 1.0


def blocks_a_day(blocks: pd.DataFrame) -> float | None:
    """Blocks a day of the series over its last ten; None where they tell no time."""
    at = blocks["at"].to_numpy(dtype=float)[-PACE_OVER - 1 :]
    days = (at[-1] - at[0]) / US_A_DAY if at.size > 1 else 0.0
    return (at.size - 1) / days if days > 0 else None


def chance(one: Judgement, ahead: float) -> float | None:
    """Chance that the expected block mean has met the limit by so many more bores (or blocks)."""
    if not one.ahead:
        return None
    return float(np.interp(ahead, one.ahead, one.chance))


def _of(one: Judgement) -> str:
    return one.bores_to_limit.of if one.bores_to_limit is not None else f"{one.slope_per}s"


def _asked(one: Judgement, blocks: pd.DataFrame, within: int | None, per_block: float) -> tuple[int, str]:
    """How far ahead the chance is told, and why so far."""
    if within is not None:
        return within, "asked for"
    if one.usual_stretch is not None:
        last = blocks.iloc[-1]
        done = float(last["wear"]) + (float(last["bores"]) / 2 if _of(one) == "bores" else 0.5)
        if one.usual_stretch - done >= 1:
            return round(one.usual_stretch - done), "to the usual change"
    return max(1, round(per_block)), "the usual block"


def _scaled(left: BoresToLimit | None, factor: float) -> dict[str, Any] | None:
    if left is None:
        return None
    ends = {name: getattr(left, name) for name in ("median", "lower", "upper")}
    return {n: None if v is None else v * factor for n, v in ends.items()} | {"confidence": left.confidence}


def _dates(
    left: BoresToLimit | None, pace: float | None, per_block: float, last: int
) -> dict[str, Any] | None:
    if left is None or pace is None:
        return None
    out: dict[str, Any] = {}
    for name in ("median", "lower", "upper"):
        count = getattr(left, name)
        days = None if count is None else count / per_block / pace
        out[name] = None if days is None or days > FARTHEST_DAYS else iso(last + round(days * US_A_DAY))
    return out | {"confidence": left.confidence}


def _fraction(left: BoresToLimit | None) -> dict[str, Any] | None:
    if left is None:
        return None
    told = {name: getattr(left, name) for name in ("median", "lower", "upper", "confidence", "of")}
    return {"fraction": FRACTION} | told


def words(one: Judgement, told: dict[str, Any]) -> str | None:
    """What lies ahead in one sentence; None without a forecast."""
    left = one.bores_to_limit
    if left is None:
        return None
    if left.median == 0:
        return f"Already beyond the {one.toward} limit."
    parts = [_when(one, told), _some_outside(one), _by_then(told), _borrowed(one)]
    return " ".join(f"{part[0].upper()}{part[1:]}." for part in parts if part)


def _when(one: Judgement, told: dict[str, Any]) -> str:
    left, blocks, at = one.bores_to_limit, told["blocks_to_limit"], told["date_at_limit"]
    assert left is not None
    if left.median is None:
        return f"no crossing of the {one.toward} limit in sight"
    text = f"about {number(left.median, 0)} {left.of} to the {one.toward} limit"
    text += f", {interval(left.lower, left.upper, 0)}"
    if left.of == "bores":
        text += f", {number(blocks['median'], 0)} blocks"
    if at is not None and at["median"] is not None:
        text += f", about {day_of(at['median'], ZoneInfo('UTC'))} at the recent pace"
    return text


def _some_outside(one: Judgement) -> str | None:
    some = one.to_fraction
    if some is None or some.median is None:
        return None
    share = f"1 bore in {round(1 / FRACTION)}"
    if some.median == 0:
        return f"{share} or more is outside already, by the spread of bores"
    return f"{share} outside in about {number(some.median, 0)} {some.of}"


def _by_then(told: dict[str, Any]) -> str | None:
    asked = told["chance_within"]
    if asked["chance"] is None:
        return None
    share = 100 * asked["chance"]
    told_as = "under 1 %" if share < 1 else "over 99 %" if share > 99 else f"{round(share)} %"
    return f"chance {told_as} within {asked['n']} {asked['of']}, {asked['why']}"


def _borrowed(one: Judgement) -> str | None:
    if one.borrowed is None:
        return None
    return f"{round(100 * one.borrowed)} % of the slope comes from earlier stretches"
