"""What a layout says of a centre list: what each axis is, which name is which main, where the line begins."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from qc import units
from qc.errors import FileError, NumberError
from qc.ingest import keys
from qc.ingest.kinds import folded

AXES: Final = (
    "vertical", "-vertical", "horizontal", "-horizontal", "along", "-along", "diameter", "radius", "-",
)  # fmt: skip
NEEDED: Final = ("build", "machine", "operation", "state", "unit", "date")
KEYS: Final = frozenset({"features", "axes", "word", "stations", "start", "fill_down", "tolerances"})
# words that say outright what an axis is, whatever the machine calls it
OUTRIGHT: Final[Mapping[str, str]] = {
    "vertical": "vertical", "horizontal": "horizontal", "along": "along", "diameter": "diameter",
    "dia": "diameter", "diam": "diameter", "radius": "radius", "rad": "radius",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class CentresLayout:
    """A centre list: what holds for all of it, and what its names mean.

    features : main of each name, "-" for one that is left out; word : put before a bare number (main)
    axes : what each axis is, "-vertical" for one that points down, "-" for one that is left out
    stations : place along the line [mm] by main, where the list does not tell it; start : where it counts 0
    fill_down : a blank name means the one above; unsigned : tolerances below are written without their sign
    """

    items: Mapping[str, Any] = field(default_factory=dict)
    features: Mapping[str, str] = field(default_factory=dict)
    word: str = ""
    axes: Mapping[str, str] = field(default_factory=dict)
    stations: Mapping[str, str] = field(default_factory=dict)
    start: str = "0"
    fill_down: bool = False
    unsigned: bool = False

    def axis(self, text: str) -> str | None:
        """What an axis is, None where nothing says it."""
        flat = folded(text).strip(".:")
        return self.axes.get(folded(text)) or OUTRIGHT.get(flat)

    def feature(self, text: str) -> str | None:
        """Which main a name means, None where nothing says it."""
        known = self.features.get(folded(text))
        if known is not None:
            return known
        if self.word and text.isascii() and text.isdigit():
            return keys.feature(f"{self.word}-{text}")
        return keys.feature(text)


def centres(told: Mapping[str, Any], items: Mapping[str, Any]) -> CentresLayout:
    """What one [[centres]] of a layout says; `items` are its keys that hold for the whole list.

    Raises
    ------
    FileError
        When it says what no layout says.
    """
    tolerances = str(told.get("tolerances", "signed"))
    if tolerances not in ("signed", "unsigned"):
        raise FileError("tolerances can be signed or unsigned (the lower one written without its minus)")
    stations = _texts(told, "stations", lambda key, text: _number(text, f"the station of {key}"))
    return CentresLayout(
        items, _texts(told, "features", _main), str(told.get("word", "")),
        _texts(told, "axes", _axis), {keys.feature(k) or k: v for k, v in stations.items()},
        _number(str(told.get("start", "0")), "start"), bool(told.get("fill_down", False)),
        tolerances == "unsigned",
    )  # fmt: skip


def _texts(
    told: Mapping[str, Any], key: str, meaning: Callable[[str, str], str]
) -> Mapping[str, str]:
    said = told.get(key, {})
    if not isinstance(said, dict):
        raise FileError(f'{key} must be pairs: write {key} = {{"MAIN 1" = "..."}}')
    return {folded(str(k)): meaning(str(k), str(v).strip()) for k, v in said.items()}


def _axis(name: str, text: str) -> str:
    if text not in AXES:
        raise FileError(f"the axis {name!r} cannot be {text!r}: write one of {', '.join(AXES)}")
    return text


def _main(name: str, text: str) -> str:
    known = "-" if text == "-" else keys.feature(text)
    if known is None or not (known == "-" or known.startswith(("main-", "cyl-", "rod-"))):
        raise FileError(f"{name!r} cannot mean {text!r}: write main-1, cyl-1, ... or - to leave it out")
    return known


def _number(text: str, what: str) -> str:
    try:
        return f"{units.number(text):f}"
    except NumberError as fault:
        raise FileError(f"{what}: {fault}") from None
