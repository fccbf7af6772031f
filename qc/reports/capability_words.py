"""What each capability figure says, how sure it is, and what not to conclude, in a machinist's words."""

from typing import Any, Final

from qc.catalogue import said
from qc.reports.capability_headline import FEW_BLOCKS
from qc.reports.words import interval, number, plural

Row = dict[str, Any]
Words = dict[str, list[str]]
_NOT_OTHERS: Final = (
    "Do not compare it with an index of another gauge, another way of holding the part, or other limits."
)


def explained(row: Row, unit: str) -> Words:
    """Sentences under each figure of a row: what it says, how sure, what not to conclude.

    Parameters
    ----------
    row : mapping
        A finished row of the capability answer.
    unit : str
        Of its values, in words.
    """
    makers = {
        "ppk": _ppk, "pp": _pp, "cpk": _cpk, "to_prove": _to_prove, "inside_one_block": _inside,
        "gauge_free": _gauge_free, "tolerance_interval": _tolerance, "outside": _outside, "family": _family,
        "reworked": _reworked, "with_excluded": _with_excluded,
    }  # fmt: skip
    out = {name: make(row, unit) for name, make in makers.items()}
    return {name: told for name, told in out.items() if told}


def _size(value: float) -> str:
    """A spread or an uncertainty: texture is a tenth of a size and needs a digit more."""
    return number(value, 3 if abs(value) < 1 else 2)


def _few(row: Row) -> list[str]:
    if row["blocks"] >= FEW_BLOCKS:
        return []
    return [
        f"{plural(row['blocks'], 'block')} are too few for an index: go by the dots and the tolerance "
        "interval."
    ]


def _sure(row: Row, name: str) -> str:
    found = row[f"{name}_interval"]
    return (
        f"How sure: from {plural(row['blocks'], 'block')} it may be anything from "
        f"{interval(found['lower'], found['upper'])} ({100 * found['confidence']:.0f} % sure); blocks are "
        "counted, not "
        "bores, for bores of one block are alike."
    )


def _ppk(row: Row, unit: str) -> list[str]:
    if row["ppk"] is None:
        return []
    return [
        f"The nearer limit stands {number(row['ppk'], 2)} times as far from the middle as the bores reach "
        "on that side: "
        "1 means that one bore in 740 lies beyond it, if the family is right (performance index Ppk, ISO "
        "22514-2).",
        _sure(row, "ppk"), *_few(row), *row["warnings"],
        "It is all bores as they came, drift and all: do not read it as what the machine could do. "
        f"{_NOT_OTHERS}",
    ]  # fmt: skip


def _pp(row: Row, unit: str) -> list[str]:
    if row["pp"] is None:
        return []
    return [
        f"The tolerance is {number(row['pp'], 2)} times as wide as the bores spread: what Ppk would be with "
        "the middle "
        "of the bores in the middle of the tolerance (performance index Pp).",
        _sure(row, "pp"),
        "Do not take it for what leaves the shop: it forgives a wrong level.",
    ]  # fmt: skip


def _cpk(row: Row, unit: str) -> list[str]:
    if row["cpk"] is None:
        return []
    return [
        f"By the spread from one block to the next only, the series being steady, the nearer limit stands "
        f"{number(row['cpk'], 2)} times as far as the bores reach (capability index Cpk"
        + (f"; both limits together Cp {number(row['cp'], 2)})." if row["cp"] is not None else ")."),
        _sure(row, "cpk"),
        "Do not hand it out as what was delivered: slow changes are left out of it, Ppk has them.",
    ]  # fmt: skip


def _to_prove(row: Row, unit: str) -> list[str]:
    found = row["to_prove"]
    if found is None:
        return []
    proved = {True: "is proved", False: "is not proved"}.get(found["proved"], "cannot be proved from these")
    return [
        f"To prove {number(found['wanted'], 2)} from {plural(found['blocks'], 'block')} a Ppk of "
        f"{number(found['needed'], 2)} must be read; {number(row['ppk'], 2)} was read: "
        f"{number(found['wanted'], 2)} {proved} "
        f"(one-sided bound, {100 * found['confidence']:.0f} % sure; wanted: {found['said_by']}).",
        *([] if found["proved"] is not None else [
            f"It cannot be proved here: {row['not_given']['to_prove.proved']}."
        ]),
        *([] if found["proved"] is not False else [
            "Not proved is not disproved: more blocks bring the two figures together, leaving out blocks "
            "does not."
        ]),
    ]  # fmt: skip


def _inside(row: Row, unit: str) -> list[str]:
    found = row["inside_one_block"]
    if found is None:
        return []
    sure = found["nearer_interval"]
    return [
        f"Performance inside one block: if all blocks were like one block, the nearer limit would stand "
        f"{number(found['nearer'], 2)} times as far as the bores reach (machine performance, ISO 22514-3).",
        f"How sure: {interval(sure['lower'], sure['upper'])} ({100 * sure['confidence']:.0f} % sure), the "
        "middle taken as "
        "it is.",
        "It leaves out how blocks differ: it is no Cp, says nothing of what is delivered, and belongs on no "
        "customer's sheet. Read it as what is left to gain by making blocks alike.",
    ]  # fmt: skip


def _gauge_free(row: Row, unit: str) -> list[str]:
    found = row["gauge_free"]
    if found is None:
        return []
    return [
        f"With the gauge's own part taken out (standard uncertainty of a bore value "
        f"{_size(found['standard_uncertainty'])} {unit}) the spread is {_size(found['spread_all'])} {unit} "
        "instead "
        f"of {_size(row['spread_all'])} {unit}, and Ppk {number(found['ppk'], 2)} instead of "
        f"{number(row['ppk'], 2)}.",
        "It rests on the gauge's uncertainty as registered: if that is too large, this figure looks better "
        "than it is.",
        "Quote the figure as read; this one tells how much the gauge costs.",
    ]  # fmt: skip


def _tolerance(row: Row, unit: str) -> list[str]:
    found = row["tolerance_interval"]
    if found is None:
        return []
    shown = "of the half tolerance" if row["unit"] == "share" else unit
    return [
        f"{100 * found['content']:.0f} % of all bores lie "
        f"{_within(found['lower'], found['upper'])} {shown}, "
        f"{100 * found['confidence']:.0f} % sure from {plural(row['blocks'], 'block')} (tolerance interval, "
        "ISO 16269-6).",
        "With few blocks it is wide because little is known, not because the bores are bad.",
    ]  # fmt: skip


def _within(lower: float | None, upper: float | None) -> str:
    if lower is None:
        return f"at or under {number(upper, 2)}"
    return f"at or over {number(lower, 2)}" if upper is None else f"from {interval(lower, upper)}"


def _outside(row: Row, unit: str) -> list[str]:
    counted, predicted = row["outside"]["counted"], row["outside"]["predicted"]
    told = []
    if counted:
        sure = counted["interval"]
        told.append(
            f"Counted beyond the limits: {counted['n']} of {counted['of']} bore values; in the long run "
            "between "
            f"{number(100 * sure['lower'], 2)} and {number(100 * sure['upper'], 2)} %, blocks counted."
        )
    if predicted:
        sure = predicted["interval"]
        told.append(
            f"Predicted by the family: {number(100 * predicted['fraction'], 2)} % "
            f"({interval(100 * sure['lower'], 100 * sure['upper'])} %). Far out in the tail a family is a "
            "guess: where "
            "counted and predicted differ, trust the count."
        )
    return told


def _family(row: Row, unit: str) -> list[str]:
    found = row["family"]
    if not found or row["ppk"] is None:
        return []
    told = [
        f"The bores are taken as {said(found['name'])} in shape (distribution family; {found['source']})."
    ]
    if found["chosen"]:
        by = found["chosen"]
        told.append(f"That was chosen for this series by {by['by']}, because: {by['reason'].rstrip('.')}.")
    if found["usual"]:
        usual = found["usual"]
        price = "cannot hold these bores" if usual["ppk"] is None else f"gives Ppk {number(usual['ppk'], 2)}"
        told.append(f"The catalogue's own family, {said(usual['name'])}, {price}.")
    if found["price_of_choice"]:
        price = found["price_of_choice"]
        told.append(
            f"Had they been taken as {said(price['family'])}, Ppk would be {number(price['ppk'], 2)} "
            "instead of "
            f"{number(row['ppk'], 2)}: that is what the choice is worth."
        )
    if found["fit_warning"]:
        told.append(f"Doubt: {found['fit_warning']}.")
    return [*told, "The family is never chosen by what fits best: that would flatter the index."]


def _reworked(row: Row, unit: str) -> list[str]:
    if not row["reworked"]:
        return []
    return [
        f"First pass only: {plural(row['reworked'], 'bore')} of these "
        f"{'was' if row['reworked'] == 1 else 'were'} honed "
        "again afterwards and count here as first read. An index of reworked bores would tell of sorting."
    ]


def _with_excluded(row: Row, unit: str) -> list[str]:
    found = row.get("with_excluded")
    if not found:
        return []
    both = "no index" if found["ppk"] is None else f"Ppk {number(found['ppk'], 2)}"
    own = "no index" if row["ppk"] is None else f"Ppk {number(row['ppk'], 2)}"
    return [
        f"{plural(row['left_out']['excluded'], 'reading')} kept out by a person. Without them: {own}, "
        f"{row['bores']} bores. "
        f"With them: {both}, {found['bores']} bores. Quote both."
    ]
