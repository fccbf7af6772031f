"""What is taken for granted in a capability row: family, wanted index, leaning of blocks; by whom and why."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from qc.capability.fit import index_under
from qc.capability.general import limits_that_count
from qc.capability.nested import WANTED
from qc.catalogue import characteristic
from qc.reports.choices import Choice, wanted_index
from qc.reports.doubts import LEANING
from qc.reports.heads import Key
from qc.reports.windows import Window
from qc.stats.families import FAMILIES
from qc.stats.segments import Floats

COMMON: Final = "common practice, no source"
SETTING: Final = "wanted_index"


@dataclass(frozen=True, slots=True)
class Taken:
    """Family with the catalogue's own beside it, and the index that is wanted, each with who said so."""

    family: str
    usual: str
    family_chosen: Choice | None
    family_source: str
    wanted: float
    wanted_by: str
    lag1: float


def taken_for(
    key: Key, chosen: Mapping[str, Choice], settings: Mapping[str, str], asked: float | None, lag1: float
) -> Taken:
    """What a series' capability is worked out with.

    Parameters
    ----------
    key : tuple of str
        Machine, operation, characteristic, method, state.
    chosen : mapping
        The series' own choices by name.
    settings : mapping
        The shop's.
    asked : float or None
        Index wanted in this very question.
    lag1 : float
        Of its block means.
    """
    entry = characteristic(key[2])
    usual, own = entry.family_of(key[3]), chosen.get("family")
    known = own is not None and own.value in FAMILIES
    wanted, by = _wanted(chosen.get("wanted"), settings.get(SETTING), asked)
    return Taken(
        family=own.value if own is not None and known else usual,
        usual=usual,
        family_chosen=own if known else None,
        family_source=entry.family_source,
        wanted=wanted,
        wanted_by=by,
        lag1=lag1,
    )


def _wanted(chosen: Choice | None, setting: str | None, asked: float | None) -> tuple[float, str]:
    if asked is not None:
        return float(wanted_index(repr(asked))), "asked for in this question"
    if chosen is not None:
        return float(chosen.value), f"chosen by {chosen.by}, because: {chosen.reason.rstrip('.')}"
    return (float(setting), "the shop's setting") if setting else (WANTED, COMMON)


def of_choice(row: dict[str, Any], taken: Taken, values: Floats, window: Window) -> None:
    """Write into a row who chose its family and wanted index, and Ppk under the catalogue's own family."""
    family = row["family"]
    family["chosen"] = None if taken.family_chosen is None else taken.family_chosen.told()
    family["usual"] = None
    if taken.family == taken.usual:
        # the source belongs to the catalogue's choice, not to the family itself
        family["source"] = taken.family_source
    else:
        limits = limits_that_count(window.lower, window.upper, window.bounded)
        found = None if row["ppk"] is None else index_under(values, limits, FAMILIES[taken.usual])
        family["usual"] = {"name": taken.usual, "ppk": found, "source": taken.family_source}
    if row["to_prove"] is not None:
        row["to_prove"]["said_by"] = taken.wanted_by
        if taken.lag1 > LEANING:
            row["to_prove"]["proved"] = None
            row["not_given"]["to_prove.proved"] = (
                "blocks lean on each other, so that the bound is too near to prove anything"
            )
