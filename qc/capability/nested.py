"""Capability of a series of blocks: the figures an auditor gets with a calculator, and intervals that count
blocks.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from qc.capability.allowed import hull
from qc.capability.fit import fit_warning, index_under, nearest_other
from qc.capability.general import Indices, indices, limits_that_count
from qc.capability.outside import outside_of
from qc.capability.proof import inside_one_block, to_prove
from qc.capability.reasons import no_capability_index, no_index, no_interval, reasons_of_spreads
from qc.capability.result import Capability, FamilyUsed, GaugeFree, InsideOneBlock, PriceOfChoice, ToProve
from qc.capability.row import Estimate, Row, long_run, row_of, short_run
from qc.capability.tolerance import tolerance_interval
from qc.capability.words import methods
from qc.stats.families import family as family_called
from qc.stats.intervals import Interval
from qc.stats.pivotal import DRAWS, SEED, interval
from qc.stats.segments import Floats, column
from qc.stats.spreads import Spreads

WANTED = 1.33
"""Index that is wanted where nobody says otherwise: common practice, no source."""


def capability(
    values: ArrayLike,
    blocks: ArrayLike,
    joined: ArrayLike,
    *,
    lower: float | None,
    upper: float | None,
    bounded: str,
    family: str,
    outside: int | None = None,
    condition: str | None = None,
    gauge_uncertainty: float | None = None,
    wanted: float = WANTED,
    doubt: str | None = None,
    confidence: float = 0.95,
    draws: int = DRAWS,
    seed: int = SEED,
) -> Capability:
    """Return the capability of one series against one window.

    Source: ISO 22514-2 (indices, from memory); Krishnamoorthy and Mathew (2009), ch. 5 (intervals, from
    memory).

    Parameters
    ----------
    values : (N,) array
        Bore values, sorted by block.
    blocks : (m + 1,) array of int
        Offsets of the blocks.
    joined : (m,) array of bool
        True where no event stands between a block and the one before it.
    lower, upper : float or None
        Limits [unit of the values].
    bounded : str
        "both", "above" or "below"; only that side's limit counts.
    family : str
        "normal", "lognormal" or "folded_normal".
    outside : int, optional
        Number of bores beyond their limits where it was counted elsewhere.
    condition : str, optional
        Condition of the series; Cp and Cpk are given for "steady" only.
    gauge_uncertainty : float, optional
        Standard uncertainty of one bore value [unit of the values].
    wanted : float
        Index to be proved [1].
    doubt : str, optional
        Why limits or readings allow no index, whatever the figures are.
    confidence, draws, seed
        Of the intervals.
    """
    chosen = family_called(family)
    row = row_of(
        column(values),
        blocks,
        joined,
        chosen,
        limits_that_count(lower, upper, bounded),
        confidence,
        seed,
        draws,
    )
    why_no_interval = no_interval(row.values, row.plain, chosen)
    why_no_index = doubt or no_index(row.values, row.plain, chosen, row.limits)
    why_no_cp = why_no_index or no_capability_index(row.plain, condition)
    long = long_run(row) if why_no_interval is None else None
    short = short_run(row) if why_no_cp is None else None

    performance = _index_figures(row, long, why_no_index, "pp")
    capable = _index_figures(row, short, why_no_cp, "cp")
    outside_figures, outside_reasons = outside_of(row, outside, long, why_no_index)
    gauge_free, gauge_reasons = _gauge_free(row, gauge_uncertainty, long, why_no_index)
    used, family_reasons = _family_used(row, why_no_index)
    proof, inside, more_reasons = _beside(row, long, why_no_index, performance.nearer, wanted)
    not_given = {
        **_spread_reasons(row.plain),
        **performance.reasons,
        **capable.reasons,
        **outside_reasons,
        **gauge_reasons,
        **family_reasons,
        **more_reasons,
        **({"tolerance_interval": why_no_interval} if why_no_interval else {}),
    }
    return Capability(
        bores=int(row.plain.bores[0]),
        blocks=int(row.plain.blocks[0]),
        mean=_given(row.plain.mean),
        spread_in_block=_given(row.plain.spread_in_block),
        spread_between_blocks=_given(row.plain.spread_between_blocks),
        spread_of_block_means=_given(row.plain.spread_of_block_means),
        spread_short=_given(row.plain.spread_short),
        spread_all=_given(row.plain.spread_all),
        pp=performance.both,
        ppk=performance.nearer,
        pp_interval=performance.both_interval,
        ppk_interval=performance.nearer_interval,
        cp=capable.both,
        cpk=capable.nearer,
        cp_interval=capable.both_interval,
        cpk_interval=capable.nearer_interval,
        outside=outside_figures,
        tolerance_interval=None
        if long is None
        else tolerance_interval(
            long.found, long.members, long.centre, chosen, bounded, confidence=confidence
        ),
        gauge_free=gauge_free,
        to_prove=proof,
        inside_one_block=inside,
        family=used,
        methods=methods(row, bounded, two_sets=_two_sets(long), given_cp=short is not None),
        not_given=not_given,
    )


def _beside(
    row: Row, estimate: Estimate | None, why_none: str | None, ppk: float | None, wanted: float
) -> tuple[ToProve | None, InsideOneBlock | None, dict[str, str]]:
    """Return what must be read to prove the wanted index, performance inside one block, and reasons."""
    if estimate is None or ppk is None or why_none is not None:
        return None, None, dict.fromkeys(("to_prove", "inside_one_block"), why_none or "")
    inside, why = inside_one_block(row)
    return to_prove(row, estimate, wanted, ppk), inside, {"inside_one_block": why} if why else {}


def _two_sets(estimate: Estimate | None) -> bool:
    return estimate is not None and len(estimate.members) > 1


def _given(figure: Floats) -> float | None:
    return float(figure[0]) if np.isfinite(figure[0]) else None


@dataclass(frozen=True, slots=True)
class _IndexFigures:
    both: float | None
    nearer: float | None
    both_interval: Interval | None
    nearer_interval: Interval | None
    reasons: dict[str, str]


def _index_figures(row: Row, estimate: Estimate | None, why_none: str | None, name: str) -> _IndexFigures:
    pair = (name, f"{name}_interval")
    nearer_pair = (f"{name}k", f"{name}k_interval")
    if estimate is None or why_none is not None:
        return _IndexFigures(None, None, None, None, dict.fromkeys(pair + nearer_pair, why_none or ""))
    at_point = row.indices(estimate.mean, estimate.spread)
    at_draws = [indices(row.family, *member, row.limits) for member in estimate.members]
    ends = [_nearer_interval(each, row.confidence) for each in at_draws]
    two_limits = at_point.both is not None
    return _IndexFigures(
        both=float(at_point.both) if two_limits else None,
        nearer=_nearer(at_point),
        both_interval=hull([interval(each.both, row.confidence) for each in at_draws])
        if two_limits
        else None,
        nearer_interval=hull(ends),
        reasons={} if two_limits else dict.fromkeys(pair, f"one limit: {name.title()} needs two"),
    )


def _nearer(found: Indices) -> float:
    return float(min(found.sides))


def _nearer_interval(found: Indices, confidence: float) -> Interval:
    # The points of the smaller index of each draw would cover too little when the process is centred.
    sides = [interval(side, confidence) for side in found.sides]
    return Interval(
        min(side.lower for side in sides if side.lower is not None),
        min(side.upper for side in sides if side.upper is not None),
        confidence,
    )


def _gauge_free(
    row: Row, uncertainty: float | None, estimate: Estimate | None, why_none: str | None
) -> tuple[GaugeFree | None, dict[str, str]]:
    if uncertainty is None:
        return None, {"gauge_free": "no uncertainty of the gauge is known"}
    if estimate is None or why_none is not None:
        return None, {"gauge_free": why_none or ""}
    spread = float(row.plain.spread_all[0])
    if uncertainty >= spread:
        return None, {"gauge_free": "the gauge's uncertainty is as large as the spread: nothing is left"}
    left = float(np.sqrt(spread**2 - uncertainty**2))
    # On logarithms the gauge has, to first order, the same share of the variance.
    at_point = row.indices(estimate.mean, estimate.spread * left / spread)
    pp = None if at_point.both is None else float(at_point.both)
    return GaugeFree(uncertainty, left, pp, _nearer(at_point)), {}


def _family_used(row: Row, why_no_index: str | None) -> tuple[FamilyUsed, dict[str, str]]:
    chosen = row.family
    if why_no_index is not None:
        return FamilyUsed(chosen.name, chosen.source, None, None), {"price_of_choice": why_no_index}
    warning = fit_warning(row.values, chosen, row.worth)
    other = nearest_other(row.values, row.limits, chosen)
    index = index_under(row.values, row.limits, other)
    price = None if index is None else PriceOfChoice(other.name, index)
    return FamilyUsed(chosen.name, chosen.source, warning, price), {}


def _spread_reasons(plain: Spreads) -> dict[str, str]:
    return reasons_of_spreads(
        bores=int(plain.bores[0]), blocks=int(plain.blocks[0]), moving_ranges=int(plain.moving_ranges[0])
    )
