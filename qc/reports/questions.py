"""What is asked of a chart of blocks, question by question: the rule that answers, how often it errs."""

from typing import Any, Final

import numpy as np

from qc.charts import spread
from qc.charts.learned import learned
from qc.charts.rules import answers, simulation_error
from qc.errors import QuestionError, TooLittleData
from qc.reports.chart_told import Blocks

Rows = list[dict[str, Any]]
_RULES: Final = ("lasting_shift", "slow_walk", "too_quiet")
_CHARTS: Final = {
    "one_block_off": ("block_means", "short_run"), "lasting_shift": ("ewma", "cusum"),
    "slow_walk": ("regression",), "too_quiet": ("spread",), "spread_grown": ("spread",),
}  # fmt: skip
_LACKING: Final = {
    "lasting_shift": "the level has moved a little and stays there",
    "slow_walk": "the level walks one way",
    "too_quiet": "blocks lie too close to the centre to be true",
}


def questions(b: Blocks, row: dict[str, Any]) -> Rows:
    """The five questions asked of every series, each with its answer, source and run length in words.

    Parameters
    ----------
    b : Blocks
    row : mapping
        Of the chart of block means: its signals answer the first question.
    """
    builds = [block["build"] or block["at"] for block in row["blocks"]]
    found = [_one_block_off(row, builds), *_by_rules(b, builds), _spread_grown(b, builds)]
    return [{**one, "charts": list(_CHARTS[one["question"]])} for one in found]


def _one_block_off(row: dict[str, Any], builds: list[str]) -> dict[str, Any]:
    off = [any(s["signal"] == "one_block_off" for s in block["signals"]) for block in row["blocks"]]
    lacking = None if row["center"] is not None else str(row["not_given"].get("center"))
    is_set = row["limits"]["phase"] == "set"
    return {
        "question": "one_block_off", "words": "one block stands far off the others",
        "rule": "a block mean beyond the limits that were set" if is_set else (
            "a block mean beyond the prediction limits, or apart with others (several outliers at once)"
        ),
        "source": "Hahn and Meeker, Statistical Intervals (1991); Rosner (1983); both as in `methods`",
        "tie": "a block on the limit is inside",
        "run_length": "the limits were set by a person: how often they alarm is not known" if is_set else (
            row["methods"].get("run_length", "no limits, no alarms")
        ),
        "off": lacking, "blocks": [name for name, out in zip(builds, off, strict=True) if out],
    }  # fmt: skip


def _by_rules(b: Blocks, builds: list[str]) -> Rows:
    try:
        base = learned(b.mean, b.bores, **b.learning)
        found = answers(b.mean, base, breaks=b.stretch * 10_000 + b.joint, wear_modelled=b.entry.wears)
    except (TooLittleData, QuestionError) as reason:
        return [
            {"question": name, "words": _LACKING[name], "rule": None, "source": None, "tie": None,
             "run_length": None, "off": str(reason), "blocks": []}
            for name in _RULES
        ]  # fmt: skip
    return [
        {
            "question": a.question, "words": a.words, "rule": a.rule, "source": a.source, "tie": a.tie,
            "run_length": a.run_length + _error(a.question, base.lag1), "off": a.off,
            "blocks": [builds[i] for i in np.flatnonzero(a.signals)],
        }
        for a in found
    ]  # fmt: skip


def _error(question: str, lag1: float) -> str:
    error = simulation_error(question, round(lag1, 1))
    return "" if error is None else f"; simulated, to within {error:.0%}"


def _spread_grown(b: Blocks, builds: list[str]) -> dict[str, Any]:
    told: dict[str, Any] = {
        "question": "spread_grown", "words": "bores of a block differ more from each other than they did",
        "rule": "a block's spread above the upper limit that the other blocks give it (F distribution)",
        "source": "by the definition of F; s chart of ISO 7870-2:2013 (from memory)",
        "tie": "a spread on the limit is inside", "run_length": None, "off": None, "blocks": [],
    }  # fmt: skip
    try:
        c = spread.spread_chart(b.spread, b.bores, level=b.level, learn=b.learn)
    except (TooLittleData, QuestionError) as reason:
        return {**told, "off": str(reason)}
    grown = np.flatnonzero(c.statistic > c.upper)
    return {
        **told, "blocks": [builds[i] for i in grown],
        "run_length": (
            f"a quiet series gives one false alarm in about {2 / b.level:,.0f} blocks with limits from {c.m} "
            f"blocks ({2 / b.level:,.0f} if the spread were known)"
        ),
    }  # fmt: skip
