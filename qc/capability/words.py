"""How each figure was had, in words that stand beside it."""

from typing import Any

from qc.capability.row import Row

_SIDES = {
    "both": "Pp = (U - L) / (X99.865 - X0.135); Ppk the smaller of the two sides",
    "above": "Ppk = (U - X50) / (X99.865 - X50); Pp needs two limits",
    "below": "Ppk = (X50 - L) / (X50 - X0.135); Pp needs two limits",
}

_ENDS = {
    "both": "centre +- c, c the least with which that share of the draws hold the content",
    "above": "upper end: that point of the draws' own content points",
    "below": "lower end: that point of the draws' own content points",
}


_COVERAGE = (
    "the draws of mean and spread are turned into location and scale by moments, beside those of the half "
    "normal where the bores do not rule it out. Simulated from 5 blocks on, the 95 % interval of Ppk covers "
    "91 to 99 % and its lower end errs in up to 7 %; the tolerance interval covers 89 to 100 %; the least of "
    "these near the half normal"
)


def methods(row: Row, bounded: str, *, two_sets: bool, given_cp: bool) -> dict[str, Any]:
    """Return for each figure how it was had; `draws` and `seed` are numbers, all else sentences.

    Parameters
    ----------
    row : Row
    bounded : str
        "both", "above" or "below".
    two_sets : bool
        Whether the draws of the half normal stand beside those of the folded normal.
    given_cp : bool
        Whether Cp and Cpk are given.
    """
    family = row.family
    said: dict[str, Any] = {
        "index": f"ISO 22514-2 general method by spread_all, of all bores: {_SIDES[bounded]}",
        "family": f"{family.label}; {family.fit}; {family.source}",
        "interval": (
            f"{row.confidence:.0%}, generalised pivotal quantities of the one-way random model: blocks are "
            "the sample. It is the interval of the long-run index; the printed index uses all bores "
            "and need not stand in its middle"
        ),
        "nearer_interval": "the smaller of the two sides' lower ends to the smaller of their upper ends",
        "draws": row.draws,
        "seed": row.seed,
        "generator": (
            "top 53 bits of PCG64, halfway points, through inverse distribution functions, in the order "
            "between, within, mean"
        ),
        "outside_counted": (
            "Clopper-Pearson with N / (1 + (N/m - 1) r) equivalent bores, at least m; r is the share of the "
            "variance between blocks"
        ),
        "outside_predicted": "the family at spread_all; interval from the draws",
        "tolerance_interval": f"from the draws; {_ENDS[bounded]}",
        "spread_short": (
            "mean moving range of block means over 1.1284, none across an event, and the spread in block"
        ),
        "fit": (
            "largest gap to the fitted family against its 5 % point for the equivalent bores; warns, never "
            "chooses"
        ),
    }
    if row.plain.negative_between[0]:
        said["spread_between_blocks"] = "the estimate of its square was below zero and is given as 0"
    if given_cp:
        said["cp"] = (
            "Cp and Cpk by spread_short; interval as for Pp, with the moving ranges as a spread of "
            "equivalent degrees of freedom"
        )
    if family.name == "folded_normal":
        said["folded_normal"] = _COVERAGE
        said["half_normal"] = "ruled in" if two_sets else "ruled out"
    return said
