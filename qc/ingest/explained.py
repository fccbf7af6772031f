"""What each column of a file is for, in words, with an example: the text of our empty files."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

_LENGTH: Final = "in the row's unit"
SAID: Final[Mapping[str, tuple[str, str]]] = MappingProxyType({
    "build": ("the engine going through the shop, by its job number", "B-104"),
    "engine": ("its family", "v8-iron-96"),
    "serial": ("its serial number", "0012"),
    "machine": ("the machine that made what is measured; bench for parts not machined here", "hone-1"),
    "operation": ("what was done: the list shows the usual ones, others may be written", "finish_bore"),
    "characteristic": ("what is measured, by its key in the list", "bore_diameter"),
    "feature": (
        "which hole, journal or face, counted from the end the engine's maker calls 1: cyl-3, main-2, rod-5, "
        "main-2-upper, deck-left, whole, master", "cyl-1",
    ),
    "value": ("the figure read, one number; a decimal point or a decimal comma", "96.012"),
    "unit": ("its unit; beside a deviation in um or mm the target is in mm, otherwise in inches", "mm"),
    "measured_at": ("date and time of measuring, the year first; a date alone is noon", "2026-04-03 08:15"),
    "state": ("how it was held; blank means not said", "plate_on"),
    "method": ("definition or filter where one name has several; blank means the first of the catalogue", ""),
    "station_mm": ("depth in mm: from the deck, a housing's front face, a journal's front shoulder", "20"),
    "clock_deg": (
        "direction in degrees; bore: from the deck, 0 to the front, clockwise (or thrust, crank)", "90",
    ),
    "reading": ("size, or deviation from the target in the same row", "size"),
    "target": ("what it should be", "96.010"),
    "lower": ("lower limit: a size, beside a deviation the distance from the target with its sign", "96.000"),
    "upper": ("upper limit, likewise", "96.020"),
    "gauge": ("the gauge by its name in the shop", "bore-gauge-2"),
    "operator": ("who measured", "initials"),
    "made_at": ("when it was machined; blank means when it was measured", ""),
    "order": ("place of this feature in the build's machining order", "1"),
    "trial": ("1, 2, ... for repeats at one place", "1"),
    "pass": ("1 for the first reading at the operation's end, 2, ... after rework", "1"),
    "sized_with": ("the gauge the machinist sized with", ""),
    "master": ("the master the gauge was set on", "ring-96"),
    "torque": ("torque of the plate or caps, as text", ""),
    "material": ("what it is made of", "grey iron"),
    "part_c": ("temperature of the part in degrees Celsius", "21.5"),
    "gauge_c": ("temperature of the gauge in degrees Celsius", "21.0"),
    "note": ("anything else", ""),
    "since": ("valid from this date; blank means always", "2026-01-01"),
    "revision": ("the document's own revision", "C"),
    "source": ("who says so: book, drawing, builder", "builder's sheet"),
    "at": ("when it happened; a date alone is before that day's work", "2026-04-03 07:00"),
    "event": ("what happened, from the list", "stones_changed"),
    "kind": ("what kind it is; a master is a gauge of kind master", "dial bore gauge"),
    "resolution": (f"its smallest step, {_LENGTH}", "0.002"),
    "standard_uncertainty": (f"its standard uncertainty, {_LENGTH}", "0.0015"),
    "common_part": (f"the part of it that all its readings share, {_LENGTH}", "0.001"),
    "calibrated_on": ("date of the calibration", "2026-01-12"),
    "due_on": ("when it is due again", "2027-01-12"),
    "correction": (f"what its certificate adds to its readings, {_LENGTH}; kept, not applied", "0.000"),
    "certificate": ("number of the certificate", "C-2291"),
    "received_on": ("when the engine came", "2026-03-20"),
    "shipped_on": ("when it left", ""),
})  # fmt: skip
# where a column says something else in one kind of file
SPECIAL: Final[Mapping[tuple[str, str], tuple[str, str]]] = MappingProxyType({
    ("specifications", "reading"): (
        "deviation: lower and upper are signed distances from the build's own target; size: they are sizes",
        "deviation",
    ),
    ("specifications", "build"): ("blank for a family's limits; filled for one build's own plan", ""),
    ("specifications", "lower"): ("lower limit, blank for none", "-0.010"),
    ("specifications", "upper"): ("upper limit, blank for none", "0.010"),
    ("specifications", "target"): ("the size aimed at; beside a deviation an offset from the target", ""),
    ("gauges", "value"): ("certified size of a master", ""),
    ("gauges", "master"): ("the master it is set on", "ring-96"),
    ("machines", "kind"): ("what kind of machine it is", "vertical hone"),
    ("builds", "shipped_on"): ("when it left the shop", ""),
})  # fmt: skip


def said(kind: str, column: str) -> tuple[str, str]:
    """What a column of a file kind is for, and an example of it."""
    return SPECIAL.get((kind, column)) or SAID[column]
