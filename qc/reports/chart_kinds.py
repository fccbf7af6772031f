"""What each kind of chart says of one series: numbers from `qc.charts`, words for the machinist."""

from collections.abc import Callable, Mapping
from typing import Any, Final

from qc.charts import acceptance, cusum, ewma, regression, short_run, spread
from qc.errors import QuestionError
from qc.reports.chart_kinds_classical import individuals, mean_range, mean_spread
from qc.reports.chart_told import Blocks, Told
from qc.reports.words import whole


def _designed(c: ewma.EwmaChart | cusum.CusumChart) -> dict[str, Any]:
    """What a running average and a running sum are built for, and what became of it here."""
    d = c.design
    return {
        "shift": d.shift, "blocks_to_see_it": d.at_shift, "run_length_known": d.run_length,
        "run_length_here": c.blocks_to_a_false_alarm, "blocks_learned": c.m, "lag1": c.lag1,
        "spread_of_a_block_mean": c.s,
    }  # fmt: skip


def moving_average(b: Blocks) -> Told:
    """EWMA of block means."""
    design = ewma.design(b.shift, b.wanted_run_length)
    c = ewma.chart(b.mean, b.bores, **b.learning, wanted=design)
    d = c.design
    return Told(
        "a running average of the block means", "the level has moved a little and stayed there",
        "EWMA chart, NIST/SEMATECH e-Handbook 6.3.2.4; Lucas and Saccucci (1990)",
        c.center, c.lower_limit, c.upper_limit, c.statistic, c.lower, c.upper, c.signals,
        f"Each block pulls a running average {d.weight:.3g} of the way to itself (exponentially weighted "
        f"moving average, EWMA). A lasting shift of {d.shift:g} spread of a block mean shows after about "
        f"{d.at_shift:.0f} blocks.",
        c.run_length,
        "Do not look for one bad block: this chart is slow for that. It does not tell when the shift began.",
        {"weight": d.weight, "width": d.width, **_designed(c)}, c.assumed,
        "the limits are wider for it, as the running average itself then strays further",
    )  # fmt: skip


def running_sum(b: Blocks) -> Told:
    """CUSUM of block means."""
    design = cusum.design(b.shift, b.wanted_run_length)
    c = cusum.chart(b.mean, b.bores, **b.learning, wanted=design)
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
        {"k": d.k, "h": d.h, "head_start": d.head_start, **_designed(c)},
        c.assumed, "the limit is higher for it and errs to fewer false alarms than said",
        {"began": [int(i) if i >= 0 else None for i in c.began]},
    )  # fmt: skip


def spread_in_block(b: Blocks) -> Told:
    """Spread in each block."""
    c = spread.spread_chart(b.spread, b.bores, level=b.level, learn=b.learn)
    return Told(
        "the spread from bore to bore in each block", "bores of this block differ more, or less, than usual",
        "F distribution; s chart of ISO 7870-2:2013 (from memory)",
        c.center, c.lower_limit, c.upper_limit, c.statistic, c.lower, c.upper, c.signals,
        "Each block's spread from bore to bore is held against that of the others (s chart with exact "
        "limits, blocks of any number of bores).",
        c.run_length,
        "Below the lower limit is no praise: look for a stuck gauge or copied numbers first. Bores are "
        "taken as normal; skewed ones (roughness) alarm upward more often.",
        {"blocks_learned": c.m, "degrees_of_freedom": c.degrees, "level": c.level},
        leaning="it concerns block means and leaves the spread inside a block alone",
    )  # fmt: skip


def short_runs(b: Blocks) -> Told:
    """Standard scores within engine families."""
    c = short_run.short_run(b.mean, b.family, level=b.level)
    p = short_run.pooling(b.mean, b.family)
    out = f" Left out, too few blocks: {', '.join(c.left_out)}." if c.left_out else ""
    return Told(
        "each block against its own engine family",
        "this block stands apart from others of its engine family",
        "ISO 7870-8:2017 (from memory); Quesenberry (1991)",
        c.center, c.lower_limit, c.upper_limit, c.statistic, c.lower, c.upper, c.signals,
        f"Blocks of {', '.join(c.families)} share one chart as scores: how many spreads of its own family a "
        f"block stands off (short-run chart).{out} Could they be pooled as they are? "
        + whole(p.words),
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
        "a level that wanders is allowed here, so that leaning blocks are no trouble to it",
        {"missed": c.missed},
    )  # fmt: skip


def about_the_wear_line(b: Blocks) -> Told:
    """Block means about the wear line."""
    if not b.entry.wears:
        raise QuestionError(
            f"{b.entry.label} is not known to change with tool wear, so there is no wear line to judge by: "
            "take kind block_means"
        )
    c = regression.regression(b.mean, b.wear, b.stretch, level=b.level)
    return Told(
        "block means about the wear line", "this block stands off the wear line",
        "Mandel (1969), regression control chart; Cook and Weisberg (1982)",
        None, None, None, c.statistic, c.lower, c.upper, c.signals,
        f"Wear moves the level by {c.slope:+.3g} {b.entry.unit} a {b.entry.wear_unit[:-1]}; each stretch "
        "has its own start and all share the slope (regression control chart). A block is "
        "called when it stands off its line.",
        c.run_length,
        "Do not take quiet as safe: the line itself may be on its way out of tolerance. "
        "`qc drift` says when.",
        {"slope": c.slope, "slope_error": c.slope_error, "spread_about_the_line": c.s,
         "degrees_of_freedom": c.df, "level": c.level},
        ("blocks are taken as independent about the line; where they lean on each other alarms come more "
        "often",),
        "blocks are taken as independent about the line, so that alarms come in groups and more often than "
        "said",
        {"line": c.line},
    )  # fmt: skip


SINGLE: Final[Mapping[str, Callable[[Blocks], Told]]] = {
    "ewma": moving_average, "cusum": running_sum, "individuals": individuals, "mean_range": mean_range,
    "mean_spread": mean_spread, "short_run": short_runs, "acceptance": accepted,
    "regression": about_the_wear_line, "spread": spread_in_block,
}  # fmt: skip
