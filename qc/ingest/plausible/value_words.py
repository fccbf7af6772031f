"""What is said of figures that do not fit: seen, doubted, proposed, for each slip."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Final

import numpy as np

from qc import catalogue, units
from qc.ingest.checks import shown
from qc.ingest.plausible.scene import Scene, Suspicion
from qc.ingest.words import texts_said

if TYPE_CHECKING:
    from qc.ingest.plausible.values import Slip

_ACCEPT: Final = "accept takes the figures as they stand."
_SYSTEM: Final = {"small": "divided by 25.4 once too often", "large": "multiplied by 25.4 once too often"}
# seen after "{who} {read} {texts} mm; beside them 96 mm to 96.01 mm is usual", why doubted, what is proposed
_DOUBT: Final[Mapping[str, str]] = {
    "unit_slip": "Read as {cause} they fit: the unit is another one.",
    "deviation_unit": "Read as {cause} the distances from the target fit: their unit is another one.",
    "half_or_double": "{Twice} fits: a radius where a diameter is meant, or the other way round.",
    "nought": "Nothing was measured there, or it is exactly nought: a nought does not tell which.",
    "decimal_slip": "The same digits with the point elsewhere, or with a nought that got lost, fit.",
    "digits_exchanged": "The same digits with two of them exchanged fit.",
    "sign_reversed": "With the other sign they fit their neighbours.",
    "wrong_bore": "They differ by two shell walls: that is the {cause}, not the {mine}.",
    "wrong_characteristic": "That far off the others of the build it is another part or place.",
    "stands_out": "No slip we know of explains it, and no neighbour at the same place reads like it.",
}


def suspicion(scene: Scene, slip: "Slip") -> Suspicion:
    """The suspicion about a slip's readings, in words."""
    first = slip.rows[0]
    unit = scene.columns["unit"][first]
    # beside another cell than the figure's the figures have to be said as well
    texts = "{texts}" if slip.column == "value" else _figures(scene, slip)
    saw = (
        f"{{who}} {{read}} {texts} {unit} ({catalogue.said(slip.characteristic)}); "
        f"{_usual(scene, slip, unit)} would fit beside the others."
    )
    return Suspicion(
        tuple(slip.rows), slip.code, "stop" if slip.verdict else "ask", f"{slip.characteristic}|{slip.cause}",
        saw, _doubt(slip), _proposal(slip, _example(scene, slip)), proposed=dict(slip.proposed),
        column=slip.column,
    )  # fmt: skip


def _figures(scene: Scene, slip: "Slip") -> str:
    return texts_said(scene.columns["text"][slip.rows].tolist()).replace("'", "")


def _usual(scene: Scene, slip: "Slip", unit: str) -> str:
    """What the neighbours say, in the form in which the figures are written."""
    sizes = np.asarray(slip.wanted)
    if units.kind(unit) == "length" and _deviates(scene, slip.rows[0]):
        sizes = sizes - scene.columns["target"][slip.rows]
    least, most = (shown(_rounded(v, unit), unit) for v in (float(sizes.min()), float(sizes.max())))
    return least if least == most else f"{least} to {most}"


def _rounded(value: float, unit: str) -> int:
    """To a digit that a person writes: a um, a tenth; a hundredth of a um where it is little."""
    small = abs(value) < 500_000
    metric, inch = (1_000, 2_540) if small else (10_000, 25_400)
    step = {"mm": 100_000, "in": 254_000, "um": metric, "tenth": inch, "thou": inch, "uin": 2_540}.get(
        unit, 1_000
    )
    return round(value / step) * step


def _deviates(scene: Scene, position: int) -> bool:
    """Whether a length was written as a distance from its target."""
    c = scene.columns
    try:
        typed = units.ticks(units.number(c["text"][position]), c["unit"][position])
    except ValueError:
        return False
    return bool(abs(c["size"][position] - typed) > 1 and c["target"][position] == c["target"][position])


def _example(scene: Scene, slip: "Slip") -> str:
    for i in slip.rows:
        if i in slip.proposed:
            written = scene.columns["text" if slip.column == "value" else slip.column][i]
            return f"{slip.proposed[i]} for {written}"
    return ""


def _doubt(slip: "Slip") -> str:
    if slip.code == "dial_revolution":
        return f"They are {amount(int(slip.cause))}, as after a turn of the dial too many or too few."
    if slip.code == "wrong_nominal":
        off = amount(int(slip.cause))
        return f"All of them are {off}: another oversize, or the gauge or the target set for one."
    if slip.code == "forms_mixed":
        return _forms(slip.cause)
    cause = _SYSTEM.get(slip.cause, slip.cause)
    if slip.code == "unit_slip" and slip.cause in _SYSTEM:
        return f"They fit when that is undone: {cause}."
    return _DOUBT[slip.code].format(
        cause=catalogue.said(cause), mine=catalogue.said(slip.characteristic),
        Twice="Twice the figure" if slip.cause == "half" else "Half the figure",
    )  # fmt: skip


def _forms(cause: str) -> str:
    form, _, unit = cause.partition("|")
    if form == "size":
        return "Read as sizes they fit: these are no distances from the target, as the others are."
    return f"Read as distances from the target in {unit} they fit: the others are sizes."


def amount(um: int) -> str:
    """A signed amount [um] in words, in inches as well where it is one of theirs."""
    inch = f" ({abs(um) / 25400:g} in)" if abs(um) % 254 == 0 else ""
    return f"{abs(um) / 1000:g} mm{inch} too {'large' if um > 0 else 'small'}"


def _proposal(slip: "Slip", example: str) -> str:
    if slip.code == "nought":
        return f"Discard what was not measured; correct takes what was; {_ACCEPT}"
    if slip.code in ("wrong_bore", "wrong_characteristic"):
        return f"Correct the characteristic or the figure; {_ACCEPT}"
    if slip.code == "stands_out" or not example:
        return f"Measure again, or look at the sheet: correct takes another figure, {_ACCEPT}"
    return f"Correct takes {example}; {_ACCEPT}"
