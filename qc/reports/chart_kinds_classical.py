"""The classical three-sigma charts of block means, with what they really give at this number of blocks."""

from typing import Final

import numpy as np

from qc.charts import shewhart
from qc.errors import QuestionError, TooLittleData
from qc.reports.chart_told import Blocks, Told


def _three_sigma(
    c: shewhart.ShewhartChart, says: str, headline: str, do_not: str, m: int, leaning: str
) -> Told:
    if not c.sigma > 0:
        raise TooLittleData(
            "all values are equal, so nothing tells how far one may stray: check the gauge's resolution"
        )
    size = c.values.size
    return Told(
        headline, "this block stands apart from the others",
        "ISO 7870-2:2013 (from memory), three-sigma limits",
        c.location.center, c.location.lower, c.location.upper, c.values, np.full(size, c.location.lower),
        np.full(size, c.location.upper), c.signals, says,
        f"a quiet series gives one false alarm in about {1 / c.false_alarm_rate:,.0f} blocks with limits "
        f"from {m} blocks ({1 / c.stated_rate:,.0f} if centre and spread were known)",
        do_not,
        {"sigma": c.sigma, "spread_center": c.spread.center, "spread_lower_limit": c.spread.lower,
         "spread_upper_limit": c.spread.upper, "false_alarm_rate": c.false_alarm_rate,
         "stated_rate": c.stated_rate},
        (), leaning, {"spread_charted": c.spreads, "spread_signal": c.spread_signals},
    )  # fmt: skip


def individuals(b: Blocks) -> Told:
    """Block means as single values with moving ranges."""
    c = shewhart.individuals(b.mean, b.stretch, lag1=b.lag1)
    return _three_sigma(
        c, "Each block mean is one value; the limits come from how much neighbours differ (individuals and "
        "moving range chart). No difference is taken across a change of stones or tool.",
        "block means as single values",
        "Do not trust the usual one in 370: limits from so few differences alarm more often, as said.",
        b.mean.size,
        "the limits know nothing of it and are too near; the false alarms are counted with it",
    )  # fmt: skip


def _equal(b: Blocks, what: str) -> int:
    sizes = np.unique(b.bores)
    if sizes.size != 1 or sizes[0] < 2:
        raise QuestionError(
            f"a chart of {what} needs the same number of bores in every block, 2 or more: take kind "
            "block_means or spread, or narrow the question"
        )
    return int(sizes[0])


_WITHIN_ONLY: Final = (
    "Do not use it where blocks differ by nature: the limits know the spread inside a block only, so a "
    "normal difference from block to block alarms again and again."
)
_UNAWARE: Final = (
    "the limits know nothing of it, nor does the count of false alarms: there are more in groups"
)


def _unlike(b: Blocks) -> float:
    """How much more a block mean varies than its bores would let it: variance over that of equal blocks."""
    if not b.spread_in_block or b.spread_between_blocks is None:
        return 1.0
    return 1.0 + float(b.bores[0]) * (b.spread_between_blocks / b.spread_in_block) ** 2


def mean_range(b: Blocks) -> Told:
    """Means and ranges."""
    c = shewhart.means_and_ranges(b.mean, b.range, _equal(b, "means and ranges"), unlike=_unlike(b))
    return _three_sigma(
        c, "Limits for block means come from the ranges inside the blocks (means and ranges chart).",
        "block means against the ranges inside blocks", _WITHIN_ONLY, b.mean.size, _UNAWARE,
    )  # fmt: skip


def mean_spread(b: Blocks) -> Told:
    """Means and standard deviations."""
    c = shewhart.means_and_spreads(
        b.mean, b.spread, _equal(b, "means and standard deviations"), unlike=_unlike(b)
    )
    return _three_sigma(
        c,
        "Limits for block means come from the spreads inside the blocks (means and standard deviations "
        "chart).",
        "block means against the spreads inside blocks", _WITHIN_ONLY, b.mean.size, _UNAWARE,
    )  # fmt: skip
