"""What each kind of chart says of one series: numbers from `qc.charts`, words for the machinist."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from qc.catalogue import Characteristic
from qc.charts import acceptance, cusum, ewma, regression, shewhart, short_run, spread
from qc.charts.learned import learned
from qc.charts.rules import answers as rule_answers
from qc.errors import QuestionError, TooLittleData

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

NOT_TOLERANCE: Final = (
    "Inside these limits is not inside tolerance, and a signal is a place to look, not a bad bore."
)


@dataclass(frozen=True, slots=True)
class Blocks:
    """Blocks of one series in order of time, (m,) each, and what the chart needs beside them."""

    mean: Floats
    bores: Floats
    spread: Floats
    range: Floats
    stretch: Floats
    joint: Floats
    wear: Floats
    family: list[str]
    spread_in_block: float | None
    spread_between_blocks: float | None
    lag1: float
    window: Mapping[str, Any] | None
    entry: Characteristic
    learn: int | None


@dataclass(frozen=True, slots=True)
class Told:
    """A chart as an answer tells it; arrays (m,), None where a kind has no such thing; ``beside``
    are further figures of each block.
    """

    headline: str
    words: str
    source: str
    center: float | None
    lower_limit: float | None
    upper_limit: float | None
    statistic: Floats
    lower: Floats
    upper: Floats
    signals: Mask
    says: str
    run_length: str
    do_not: str
    methods: dict[str, Any] = field(default_factory=dict)
    assumed: tuple[str, ...] = ()
    beside: dict[str, Any] = field(default_factory=dict)


def _learning(b: Blocks) -> dict[str, Any]:
    return {
        "spread_in_block": b.spread_in_block, "spread_between_blocks": b.spread_between_blocks,
        "lag1": b.lag1, "learn": b.learn,
    }  # fmt: skip


def moving_average(b: Blocks) -> Told:
    """EWMA of block means."""
    c = ewma.chart(b.mean, b.bores, **_learning(b))
    d = c.design
    return Told(
        "a running average of the block means", "the level has moved a little and stayed there",
        "EWMA chart, NIST/SEMATECH e-Handbook 6.3.2.4; Lucas and Saccucci (1990)",
        c.center, c.lower_limit, c.upper_limit, c.statistic, c.lower, c.upper, c.signals,
        f"Each block pulls a running average {d.weight:.3g} of the way to itself (exponentially weighted "
        f"moving "
        f"average, EWMA). A lasting shift of {d.shift:g} spread of a block mean shows after about "
        f"{d.at_shift:.0f} blocks.",
        c.run_length,
        "Do not look for one bad block: this chart is slow for that. It does not tell when the shift began.",
        {"weight": d.weight, "width": d.width, "shift": d.shift, "blocks_to_see_it": d.at_shift,
         "run_length_known": d.run_length, "run_length_here": c.blocks_to_a_false_alarm,
         "blocks_learned": c.m, "lag1": c.lag1, "spread_of_a_block_mean": c.s}, c.assumed,
    )  # fmt: skip


def running_sum(b: Blocks) -> Told:
    """CUSUM of block means."""
    c = cusum.chart(b.mean, b.bores, **_learning(b))
    d = c.design
    return Told(
        "a running sum of what block means are off centre", "the level has moved a little and stayed there",
        "CUSUM chart, NIST/SEMATECH e-Handbook 6.3.2.3; Lucas and Crosier (1982)",
        c.center, c.lower_limit, c.upper_limit, c.statistic, c.lower, c.upper, c.signals,
        f"What each block is off centre, less {d.k:g} of a block mean's spread, is added up on either side "
        f"(cumulative sum, CUSUM). A lasting shift of {d.shift:g} spread shows after about {d.at_shift:.0f} "
        "blocks; the sum began to climb where the shift began.",
        c.run_length,
        "Do not read the sum as a size: its height is not what the level is off by.",
        {"k": d.k, "h": d.h, "head_start": d.head_start, "shift": d.shift, "blocks_to_see_it": d.at_shift,
         "run_length_known": d.run_length, "run_length_here": c.blocks_to_a_false_alarm,
         "blocks_learned": c.m, "lag1": c.lag1, "spread_of_a_block_mean": c.s},
        c.assumed, {"began": [int(i) if i >= 0 else None for i in c.began]},
    )  # fmt: skip


def _three_sigma(c: shewhart.ShewhartChart, says: str, headline: str, do_not: str, m: int) -> Told:
    if not c.sigma > 0:
        raise TooLittleData(
            "all values are equal, so nothing tells how far one may stray: check the gauge's resolution"
        )
    size = c.values.size
    return Told(
        headline, "this block stands apart from the others", "ISO 7870-2:2013 (from memory), three-sigma "
        "limits",
        c.location.center, c.location.lower, c.location.upper, c.values, np.full(size, c.location.lower),
        np.full(size, c.location.upper), c.signals, says,
        f"a quiet series gives one false alarm in about {1 / c.false_alarm_rate:,.0f} blocks with limits "
        f"from "
        f"{m} blocks ({1 / c.stated_rate:,.0f} if centre and spread were known)",
        do_not,
        {"sigma": c.sigma, "spread_center": c.spread.center, "spread_lower_limit": c.spread.lower,
         "spread_upper_limit": c.spread.upper, "false_alarm_rate": c.false_alarm_rate,
         "stated_rate": c.stated_rate},
        (), {"spread_charted": c.spreads, "spread_signal": c.spread_signals},
    )  # fmt: skip


def individuals(b: Blocks) -> Told:
    """Block means as single values with moving ranges."""
    c = shewhart.individuals(b.mean, b.stretch, lag1=b.lag1)
    return _three_sigma(
        c, "Each block mean is one value; the limits come from how much neighbours differ (individuals and "
        "moving "
        "range chart). No difference is taken across a change of stones or tool.",
        "block means as single values",
        "Do not trust the usual one in 370: limits from so few differences alarm more often, as "
        "said.", b.mean.size,
    )  # fmt: skip


def _equal(b: Blocks, what: str) -> int:
    sizes = np.unique(b.bores)
    if sizes.size != 1 or sizes[0] < 2:
        raise QuestionError(
            f"a chart of {what} needs the same number of bores in every block, 2 or more: take kind "
            f"block_means or "
            "spread, or narrow the question"
        )
    return int(sizes[0])


_WITHIN_ONLY: Final = (
    "Do not use it where blocks differ by nature: the limits know the spread inside a block only, so a "
    "normal "
    "difference from block to block alarms again and again."
)


def mean_range(b: Blocks) -> Told:
    """Means and ranges."""
    c = shewhart.means_and_ranges(b.mean, b.range, _equal(b, "means and ranges"))
    return _three_sigma(
        c, "Limits for block means come from the ranges inside the blocks (means and ranges chart).",
        "block means against the ranges inside blocks", _WITHIN_ONLY, b.mean.size,
    )  # fmt: skip


def mean_spread(b: Blocks) -> Told:
    """Means and standard deviations."""
    c = shewhart.means_and_spreads(b.mean, b.spread, _equal(b, "means and standard deviations"))
    return _three_sigma(
        c, "Limits for block means come from the spreads inside the blocks (means and standard deviations "
        "chart).",
        "block means against the spreads inside blocks", _WITHIN_ONLY, b.mean.size,
    )  # fmt: skip


def spread_in_block(b: Blocks) -> Told:
    """Spread in each block."""
    c = spread.spread_chart(b.spread, b.bores, learn=b.learn)
    return Told(
        "the spread from bore to bore in each block", "bores of this block differ more, or less, than usual",
        "F distribution; s chart of ISO 7870-2:2013 (from memory)",
        c.center, c.lower_limit, c.upper_limit, c.statistic, c.lower, c.upper, c.signals,
        "Each block's spread from bore to bore is held against that of the others (s chart with exact "
        "limits, "
        "blocks of any number of bores).",
        c.run_length,
        "Below the lower limit is no praise: look for a stuck gauge or copied numbers first. Bores are "
        "taken as "
        "normal; skewed ones (roughness) alarm upward more often.",
        {"blocks_learned": c.m, "degrees_of_freedom": c.degrees, "level": c.level},
    )  # fmt: skip


def short_runs(b: Blocks) -> Told:
    """Standard scores within engine families."""
    c = short_run.short_run(b.mean, b.family)
    p = short_run.pooling(b.mean, b.family)
    out = f" Left out, too few blocks: {', '.join(c.left_out)}." if c.left_out else ""
    return Told(
        "each block against its own engine family", "this block stands apart from others of its engine "
        "family",
        "ISO 7870-8:2017 (from memory); Quesenberry (1991)",
        c.center, c.lower_limit, c.upper_limit, c.statistic, c.lower, c.upper, c.signals,
        f"Blocks of {', '.join(c.families)} share one chart as scores: how many spreads of its own family a "
        f"block "
        f"stands off (short-run chart).{out} Could they be pooled as they are? {p.words}.",
        c.run_length,
        "A score is not a size. Families with few blocks are judged mildly: a shift must be larger to show.",
        {"families": c.families, "left_out": c.left_out, "level": c.level,
         "pooling": {"alike": p.alike, "p_spread": p.p_spread, "p_level": p.p_level, "words": p.words}},
    )  # fmt: skip


def accepted(b: Blocks) -> Told:
    """Acceptance limits from the tolerance."""
    window = b.window or {"lower": None, "upper": None}
    c = acceptance.acceptance(
        b.mean,
        b.bores,
        lower=window["lower"],
        upper=window["upper"],
        spread_in_block=b.spread_in_block or 0.0,
    )
    middle = None if c.lower_limit is None or c.upper_limit is None else (c.lower_limit + c.upper_limit) / 2
    return Told(
        "block means against limits drawn back from the tolerance",
        "a block at this level has too many bores near or beyond the tolerance",
        "ISO 7870-3:2020 (from memory), acceptance control chart",
        middle, c.lower_limit, c.upper_limit, b.mean, c.lower, c.upper, c.signals,
        "The level may wander inside the tolerance; a block is called when more than "
        f"{c.good:.3%} of the bores at its level would lie outside (acceptance control chart).",
        c.run_length,
        "Do not take quiet as steady: wear and small shifts are allowed here. To refuse a level with "
        f"{c.bad:.1%} outside in {1 - c.risk:.0%} of cases takes {c.bores_needed} bores a block.",
        {"acceptable": c.acceptable, "rejectable": c.rejectable, "good": c.good, "bad": c.bad, "risk": c.risk,
         "bores_needed": c.bores_needed},
        ("bores of a block are taken as normal about its level, with the spread of all blocks together, and "
         "the tolerance is the one in force for the latest block",),
        {"missed": c.missed},
    )  # fmt: skip


def about_the_wear_line(b: Blocks) -> Told:
    """Block means about the wear line."""
    if not b.entry.wears:
        raise QuestionError(
            f"{b.entry.label} is not known to change with tool wear, so there is no wear line to judge by: "
            f"take "
            "kind block_means"
        )
    c = regression.regression(b.mean, b.wear, b.stretch)
    return Told(
        "block means about the wear line", "this block stands off the wear line",
        "Mandel (1969), regression control chart; Cook and Weisberg (1982)",
        None, None, None, c.statistic, c.lower, c.upper, c.signals,
        f"Wear moves the level by {c.slope:+.3g} a {b.entry.wear_unit[:-1]}; each stretch has its own start "
        f"and "
        "all share the slope (regression control chart). A block is called when it stands off its line.",
        c.run_length,
        "Do not take quiet as safe: the line itself may be on its way out of tolerance. `qc drift` says "
        "when.",
        {"slope": c.slope, "slope_error": c.slope_error, "spread_about_the_line": c.s,
         "degrees_of_freedom": c.df, "level": c.level},
        ("blocks are taken as independent about the line; where they lean on each other alarms come more "
        "often",),
        {"line": c.line},
    )  # fmt: skip


SINGLE: Final[Mapping[str, Callable[[Blocks], Told]]] = {
    "ewma": moving_average, "cusum": running_sum, "individuals": individuals, "mean_range": mean_range,
    "mean_spread": mean_spread, "short_run": short_runs, "acceptance": accepted,
    "regression": about_the_wear_line, "spread": spread_in_block,
}  # fmt: skip
ASKED_THE_RULES: Final = ("ewma", "cusum", "individuals")


def questions(b: Blocks, builds: list[str | None]) -> list[dict[str, Any]]:
    """What the run rules say of block means, question by question; none where centre or spread is lacking."""
    try:
        base = learned(b.mean, b.bores, **_learning(b))
        found = rule_answers(b.mean, base, breaks=b.stretch * 10_000 + b.joint, wear_modelled=b.entry.wears)
    except (TooLittleData, QuestionError):
        return []
    return [
        {
            "question": a.question, "words": a.words, "rule": a.rule, "source": a.source, "tie": a.tie,
            "run_length": a.run_length, "off": a.off,
            "blocks": [builds[i] for i in np.flatnonzero(a.signals)],
        }
        for a in found
    ]  # fmt: skip
