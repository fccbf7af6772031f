"""The invented engine families, machines and gauges of the demo shop, and its true parameters.

Every length is in um unless its name ends in its unit. Source of all values: invented for the demo.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

TENTH = 2.54
FIRST_DAY = date(2025, 5, 1)
LAST_DAY = date(2026, 10, 31)
ZONE = "Europe/Berlin"


@dataclass(frozen=True, slots=True)
class Family:
    """One engine family: how many holes it has, its sizes, its planned clearances."""

    name: str
    material: str
    cylinders: int
    mains: int
    bore: int
    housing: int
    wall: int
    rod_bore: int
    rod_wall: int
    main_plan: int
    rod_plan: int
    piston_plan: int
    bore_window: int
    stations_mm: tuple[int, int, int]
    clocks_deg: tuple[int, ...] = (0, 90)
    inch: bool = False
    graded_shells: bool = True
    rear_main_extra: int = 0
    share_of_60: int = 0


FAMILIES = (
    Family(
        "v8-iron-96",
        "iron",
        8,
        5,
        96_000,
        66_500,
        2_400,
        56_500,
        1_500,
        48,
        46,
        60,
        10,
        (12, 62, 112),
        share_of_60=11,
    ),
    Family(
        "v8-alu-103",
        "aluminium",
        8,
        5,
        103_250,
        68_900,
        2_500,
        58_200,
        1_600,
        44,
        48,
        92,
        8,
        (15, 65, 115),
        clocks_deg=(0, 45, 90, 135),
        share_of_60=6,
    ),
    Family(
        "i4-alu-86",
        "aluminium",
        4,
        5,
        86_000,
        59_000,
        2_000,
        51_000,
        1_500,
        40,
        40,
        45,
        10,
        (10, 60, 110),
        share_of_60=11,
    ),
    Family(
        "i4-iron-81",
        "iron",
        4,
        5,
        81_000,
        54_000,
        2_000,
        47_900,
        1_400,
        38,
        36,
        40,
        10,
        (10, 55, 100),
        share_of_60=6,
    ),
    Family(
        "i6-iron-102",
        "iron",
        6,
        7,
        102_000,
        74_000,
        2_500,
        62_000,
        1_800,
        52,
        50,
        70,
        10,
        (14, 74, 134),
        rear_main_extra=4,
        share_of_60=8,
    ),
    Family(
        "v6-alu-90",
        "aluminium",
        6,
        4,
        90_000,
        67_000,
        2_500,
        56_000,
        1_500,
        42,
        42,
        48,
        10,
        (10, 60, 110),
        graded_shells=False,
        share_of_60=8,
    ),
    Family(
        "i6-alu-84",
        "aluminium",
        6,
        7,
        84_000,
        65_000,
        2_000,
        52_000,
        1_500,
        40,
        42,
        50,
        8,
        (12, 62, 112),
        share_of_60=4,
    ),
    # Sizes of the inch family are whole tenths: 4.0000, 2.9375, 0.0950, 2.3250 and 0.0620 in.
    Family(
        "v8-iron-102",
        "iron",
        8,
        5,
        40_000,
        29_375,
        950,
        23_250,
        620,
        19,
        19,
        30,
        10,
        (13, 64, 115),
        inch=True,
        share_of_60=6,
    ),
)
TIGHT_FAMILY = "v6-alu-90"
MISTYPED_FAMILY = "v8-iron-96"


@dataclass(frozen=True, slots=True)
class Wear:
    """A mean that moves in a straight line with the bores made since the last renewal."""

    start: float
    slope: float
    in_block: float
    between: float
    relative: bool = False


@dataclass(frozen=True, slots=True)
class Scatter:
    """Standard deviations of a size: between blocks, of a hole inside the block, of one reading."""

    between: float
    hole: float
    reading: float
    oval: float = 0.0


HONE_WEAR = {
    "bore_taper": Wear(1.0, 0.04, 0.7, 0.3),
    "rk": Wear(0.50, 0.0016, 0.08, 0.03, relative=True),
    "rpk": Wear(0.14, 0.00070, 0.08, 0.03, relative=True),
    "minutes_per_bore": Wear(6.0, 0.012, 0.06, 0.03, relative=True),
}
HONE_WEAR_FACTOR = {"hone-1": 1.0, "hone-2": 0.9}
LAST_STRETCH_FACTOR = 2.4
LAST_STRETCH_BLOCKS = 10
LAST_STRETCH_MOST_BORES = 66
HONE_STEADY = {
    "ra": Wear(0.38, 0.0, 0.08, 0.03, relative=True),
    "rvk": Wear(1.35, 0.0, 0.09, 0.03, relative=True),
}
HONE_OFFSET = {"hone-1": 0.4, "hone-2": -0.4}
USUAL_STRETCH_BORES = 75
BORING = Wear(6.0, -0.12, 1.8, 1.5)
BORING_STRETCH_BORES = 105
BORING_STOCK = {False: 60, True: 24}

HONED_BORE = Scatter(1.2, 1.5, 0.6, oval=2.0)
TUNNEL = Scatter(1.0, 1.2, 0.7, oval=1.2)
ROD_BORE = Scatter(0.8, 1.4, 0.7, oval=1.0)
JOURNAL = Scatter(0.8, 1.0, 0.5, oval=0.8)
PIN = Scatter(0.8, 1.0, 0.5, oval=0.8)
SHELL = Scatter(0.3, 0.7, 0.5)
PISTON = Scatter(0.8, 1.0, 0.5)
INSTALLED = Scatter(0.0, 0.8, 0.7)
CRUSH = 0.5
GAUGE_DAY = 0.3

FAULT_GAUGE = "bg-final"
FAULT_AMOUNT = 6.0
FAULT_FROM = date(2026, 2, 2)
FAULT_UNTIL = date(2026, 2, 23)
RA_MONTH = (2026, 10)
RA_MONTH_BEFORE = (2026, 9)
RA_HONE = "hone-2"
RA_FACTOR = 2.5
TIGHT_AMOUNT = 13.0
TIGHT_FROM = date(2025, 11, 1)
MISTYPED_FROM, MISTYPED_UNTIL = date(2026, 3, 15), date(2026, 7, 20)

MACHINES = (
    ("bore-1", "boring machine", "2014-03-01", "single insert, finish pass leaves stock for the hone"),
    ("hone-1", "vertical hone", "2016-09-01", "stones then plateau stones, plate on"),
    ("hone-2", "vertical hone", "2019-05-01", "stones then plateau stones, plate on"),
    ("line-hone-1", "line hone", "2012-01-01", "main bearing tunnel"),
    ("rod-hone-1", "rod hone", "2012-01-01", "big ends"),
    ("crank-grinder-1", "crank grinder", "2009-06-01", "mains and pins"),
    ("bench", "bench", "2009-06-01", "parts received, last checks before the engine is put together"),
)


@dataclass(frozen=True, slots=True)
class GaugeFacts:
    """A gauge of the demo shop with its master and its standard uncertainty."""

    name: str
    kind: str
    resolution: float
    uncertainty: float
    common: float
    master: str = ""
    master_mm: float = 0.0


GAUGES = (
    GaugeFacts("bg-final", "bore gauge", 1.0, 1.0, 0.7, "ring-96", 96.0004),
    GaugeFacts("bg-hone-1", "bore gauge", 1.0, 1.2, 0.8, "ring-95", 94.9996),
    GaugeFacts("bg-hone-2", "bore gauge", 1.0, 1.2, 0.8, "ring-97", 97.0003),
    GaugeFacts("bg-bore-1", "bore gauge", 1.0, 1.5, 0.9, "ring-100", 99.9998),
    GaugeFacts("bg-tunnel", "bore gauge", 1.0, 1.0, 0.7, "ring-66", 66.0002),
    GaugeFacts("bg-rod", "bore gauge", 1.0, 1.0, 0.7, "ring-56", 56.0001),
    GaugeFacts("mic-journal", "micrometer", 1.0, 0.9, 0.6, "bar-60", 59.9997),
    GaugeFacts("mic-piston", "micrometer", 1.0, 0.9, 0.6, "bar-90", 90.0003),
    GaugeFacts("mic-wall", "ball micrometer", 1.0, 0.8, 0.5, "block-2", 2.0001),
    GaugeFacts("prof-1", "profile instrument", 0.001, 0.01, 0.005),
    GaugeFacts("feeler-1", "feeler", 10.0, 6.0, 3.0),
    GaugeFacts("dial-1", "dial indicator", 10.0, 4.0, 2.0),
    GaugeFacts("dial-2", "dial indicator", 1.0, 1.5, 0.8),
)

# operation, characteristic, reading, lower, upper, issue, since
WINDOWS = (
    ("finish_bore", "bore_diameter", "deviation", -20, 20, "1", ""),
    ("plateau_hone", "bore_taper", "size", -12, 12, "1", ""),
    ("plateau_hone", "bore_barrel", "size", -8, 8, "1", ""),
    ("plateau_hone", "bore_out_of_round", "size", None, 8, "1", ""),
    ("plateau_hone", "ra", "size", None, 0.60, "1", ""),
    ("plateau_hone", "rk", "size", None, 0.90, "1", ""),
    ("plateau_hone", "rpk", "size", None, 0.32, "1", ""),
    ("plateau_hone", "rvk", "size", 0.8, 2.2, "1", ""),
    ("line_hone", "tunnel_diameter", "deviation", -8, 8, "1", ""),
    ("line_hone", "tunnel_out_of_round", "size", None, 6, "1", ""),
    ("line_hone", "tunnel_offset", "size", -13, 13, "1", ""),
    ("rod_hone", "rod_bore_diameter", "deviation", -8, 8, "1", ""),
    ("rod_hone", "rod_bore_diameter", "deviation", -7, 7, "2", "2026-01-01"),
    ("journal_grind", "journal_diameter", "deviation", -6, 6, "1", ""),
    ("journal_grind", "pin_diameter", "deviation", -6, 6, "1", ""),
    ("receive", "shell_wall", "deviation", -4, 4, "1", ""),
    ("receive", "piston_diameter", "deviation", -5, 5, "1", ""),
    ("fit", "ring_gap", "deviation", -50, 100, "1", ""),
    ("fit", "end_play", "deviation", -60, 60, "1", ""),
    ("check", "master_check", "deviation", -3, 3, "1", ""),
)
CLEARANCE_HALF_WIDTH = {"main_clearance": 10, "rod_clearance": 10, "piston_clearance": 12}
CLEARANCE_HALF_WIDTH_TENTHS = {"main_clearance": 4, "rod_clearance": 4, "piston_clearance": 5}
PLAN_SOURCE = "Build plan, owner and machinist, invented for the demo"


def upper_limit(characteristic: str) -> float:
    """Return the upper limit of a characteristic that wears with the stones [um].

    Source: the table of windows above, invented for the demo.
    """
    return next(float(row[4]) for row in WINDOWS if row[1] == characteristic and row[0] == "plateau_hone")
