"""Why a figure is not given, in words for the shop."""

from qc.capability.general import Limits
from qc.stats.families import Family
from qc.stats.segments import Floats
from qc.stats.spreads import Spreads

BLOCKS_FOR_CP = 20

_CONDITIONS = {
    "drifting": "the series is drifting",
    "stepped": "the series has stepped",
    "scattered": "the spread of the series has grown",
    "thin": "there are too few blocks to tell whether the series is steady",
    None: "whether the series is steady was not asked",
}


def no_interval(values: Floats, plain: Spreads, family: Family) -> str | None:
    """Return why no interval can be had from the bores alone, or None when it can."""
    if values.size == 0:
        return "no bore is left in this row"
    if not family.holds(values):
        lowest = float(plain.lowest[0])
        return f"the {family.label} family takes {family.needs}, and the lowest bore reads {lowest:g}"
    if plain.blocks[0] == 1:
        return "one block: how blocks differ cannot be told from it"
    if plain.spread_all[0] == 0:
        return "every bore reads the same: there is no spread to set against the limits"
    return None


def no_index(values: Floats, plain: Spreads, family: Family, limits: Limits) -> str | None:
    """Return why no index can be given, or None when one can."""
    if values.size and limits.none:
        return "no limits are in force"
    return no_interval(values, plain, family)


def no_capability_index(plain: Spreads, condition: str | None) -> str | None:
    """Return why Cp and Cpk are not given though Pp and Ppk are, or None when they are."""
    if condition != "steady":
        return _CONDITIONS.get(condition, f"the series is {condition}")
    if plain.blocks[0] < BLOCKS_FOR_CP:
        return f"{int(plain.blocks[0])} blocks: Cp needs {BLOCKS_FOR_CP}"
    if plain.moving_ranges[0] == 0:
        return "an event stands between every two blocks: there is no moving range"
    if plain.spread_short[0] == 0:
        return "no block differs from the one before it: there is no short-term spread"
    return None


def reasons_of_spreads(bores: int, blocks: int, moving_ranges: int) -> dict[str, str]:
    """Return the reason for each spread that cannot be given, by its key."""
    reasons = {}
    if bores < 2:
        few = "no bore is left in this row" if bores == 0 else "one bore: a spread needs two"
        reasons["spread_all"] = few
    if bores == blocks:
        few = "one bore a block: a spread within a block needs two"
        reasons |= {"spread_in_block": few, "spread_between_blocks": few}
    if blocks < 2:
        few = "one block: a spread of blocks needs two" if blocks else "no bore is left in this row"
        reasons |= dict.fromkeys(("spread_between_blocks", "spread_of_block_means", "spread_short"), few)
    elif moving_ranges == 0:
        reasons["spread_short"] = "an event stands between every two blocks: there is no moving range"
    if bores == 0:
        reasons |= dict.fromkeys(("mean", "spread_in_block"), "no bore is left in this row")
    return reasons
