"""A shop that never was, build after build, as tidy files: the ground on which human slips are tried.

Nothing of the product is used. All names and sizes are invented; spreads are of the order that trade texts
give for bores, housings and journals (common practice, no source). Lengths are in um. Every build has a
stream of random numbers of its own, so any build can be made without those before it.
"""

import csv
import io
import math
import random
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from fractions import Fraction

IN_UM = {
    "mm": Fraction(1000), "um": Fraction(1), "in": Fraction(25400), "thou": Fraction(254, 10),
    "tenth": Fraction(254, 100), "uin": Fraction(254, 10000), "min": Fraction(1),
}  # fmt: skip
COLUMNS = (
    "build", "engine", "machine", "operation", "state", "characteristic", "feature", "station_mm",
    "clock_deg", "order", "reading", "value", "unit", "target", "lower", "upper", "gauge", "operator",
    "master", "part_c", "gauge_c", "measured_at",
)  # fmt: skip
FIRST_DAY = date(2024, 9, 2)
SLIPPED = 5000  # numbers of builds from here on are those into which slips go


@dataclass(frozen=True)
class Engine:
    """A family: its holes, its sizes [um], and how its sheets are written."""

    name: str
    material: str
    cylinders: int
    mains: int
    bore: float
    housing: float
    wall: float
    pin: float
    unit: str  # of sizes
    step: float  # of its bore gauges [um]
    coded_in: str = ""  # unit of deviations on the honing sheet; blank: sizes
    stations: tuple[int, ...] = (15, 65, 115)
    clocks: tuple[int, ...] = (0, 90)
    row_targets: bool = True
    row_limits: bool = False
    since: int = 0  # first build in which it may come


ENGINES = (
    Engine("heron-8", "iron", 8, 5, 98000, 70000, 2400, 57000, "mm", 1.0, row_limits=True),
    Engine("otter-6", "aluminium", 6, 4, 89000, 66000, 2200, 53000, "mm", 1.0, "um", (12, 60, 108),
           (0, 45, 90, 135)),
    Engine("plover-4", "iron", 4, 5, 82500, 57000, 2000, 48000, "mm", 1.0, row_targets=False),
    Engine("badger-8", "iron", 8, 5, 101600, 74612.5, 2413, 58420, "in", 1.27, "tenth", (13, 64, 114)),
    Engine("marten-8", "aluminium", 8, 5, 104775, 71120, 2286, 53340, "in", 2.54),
    Engine("wren-4", "iron", 4, 5, 78000, 54000, 1800, 45000, "mm", 1.0, "um", since=150),
)  # fmt: skip
OVER = {"mm": (0, 250, 500, 1000), "in": (0, 508, 762, 1016)}
OVER_WEIGHTS = (35, 20, 30, 15)
MACHINES = ("hone-a", "hone-b", "bore-3", "line-hone-1", "grinder-2", "bench")
# gauge: kind, master, resolution as written, unit
GAUGES = {
    "bg-fin": ("bore gauge", "ring-98"), "bg-mid": ("bore gauge", "ring-98"), "bg-in": ("bore gauge", ""),
    "bg-tun": ("bore gauge", "ring-70"), "mic-crank": ("micrometer", ""), "mic-skirt": ("micrometer", ""),
    "ball-1": ("ball micrometer", ""), "trace-1": ("profile instrument", ""),
    "leaf-1": ("feeler", ""), "dial-7": ("dial indicator", ""),
}  # fmt: skip
# operation, characteristic, state (blank: any), lower and upper distance from the target
WINDOWS = (
    ("finish_bore", "bore_diameter", "", -22, 22), ("plateau_hone", "bore_diameter", "plate_on", -10, 10),
    ("plateau_hone", "bore_diameter", "plate_off", -25, 25), ("line_hone", "tunnel_diameter", "", -10, 10),
    ("journal_grind", "journal_diameter", "", -8, 8), ("journal_grind", "pin_diameter", "", -8, 8),
    ("receive", "piston_diameter", "", -15, 15), ("receive", "shell_wall", "", -5, 5),
    ("fit", "shell_bore", "", -12, 12), ("fit", "ring_gap", "", -60, 120), ("fit", "end_play", "", -60, 60),
)  # fmt: skip
SIZE_WINDOWS = (("ra", None, 0.65), ("rz", None, 5.5), ("rk", None, 1.1), ("rpk", None, 0.36))
OLD_WINDOW = (-15, 15)  # of the honed bore, until the second issue came
TEXTURE = {"ra": 0.40, "rz": 3.2, "rk": 0.65, "rpk": 0.18}


@dataclass
class Row:
    """One reading as written, and what is true of it [um]: its size, spread in the block, gauge step."""

    cells: dict[str, str]
    spread: float
    step: float
    window: tuple[float | None, float | None] = (None, None)
    block: tuple[str, str, str] = ("", "", "")

    def copy(self) -> "Row":
        return Row(dict(self.cells), self.spread, self.step, self.window, self.block)


@dataclass
class Plan:
    """What is settled of a build before anything is measured."""

    number: int
    engine: Engine
    received: date
    over: int
    hone: str
    bores_since: int
    pistons: list[float]
    drift: dict[str, float] = field(default_factory=dict)

    @property
    def name(self) -> str:
        return f"K{2000 + self.number}"

    def day(self, after: int) -> date:
        return self.received + timedelta(days=after)


def text_of(um: float, unit: str, step: float) -> str:
    """A size as the gauge shows it: a whole number of its steps, with the digits that needs."""
    shown = round(um / step) * Fraction(step).limit_denominator(10000) / IN_UM[unit]
    finest = Fraction(step).limit_denominator(10000) / IN_UM[unit]
    digits = next(d for d in range(8) if (finest * 10**d).denominator == 1)
    return f"{float(shown):.{digits}f}"


def heavy(rng: random.Random) -> float:
    """A draw from Student's t with 5 degrees of freedom, brought to a standard deviation of 1."""
    chi = sum(rng.gauss(0, 1) ** 2 for _ in range(5))
    return rng.gauss(0, 1) / math.sqrt(chi / 5) * math.sqrt(3 / 5)


class Shop:
    """Plans of all builds of a shop, and their files."""

    def __init__(self, seed: int, builds: int = 240) -> None:
        self.seed, self.builds = seed, builds
        self.plans: list[Plan] = []
        self.events: list[tuple[str, str, str]] = []
        self._schedule()

    def rng(self, *purpose: object) -> random.Random:
        return random.Random("/".join(map(str, (self.seed, *purpose))))

    def _schedule(self) -> None:
        rng, since, day = self.rng("schedule"), {"hone-a": 0, "hone-b": 40}, FIRST_DAY
        drift = dict.fromkeys(GAUGES, 0.0)
        for i in range(self.builds):
            day += timedelta(days=rng.choice((1, 2, 2, 3, 3, 4)))
            engine = rng.choice([e for e in ENGINES if e.since <= i])
            hone = rng.choice(tuple(since))
            if since[hone] > 72:
                since[hone] = 0
                self.events.append((hone, f"{day + timedelta(days=6)}T06:30", "stones_changed"))
            for gauge in drift:
                drift[gauge] = 0.93 * drift[gauge] + rng.gauss(0, 0.25)
            self.plans.append(self._plan(rng, i, engine, day, hone, since[hone], drift))
            since[hone] += engine.cylinders

    def _plan(
        self, rng: random.Random, i: int, engine: Engine, day: date, hone: str, since: int,
        drift: dict[str, float],
    ) -> Plan:  # fmt: skip
        over = rng.choices(OVER[engine.unit], OVER_WEIGHTS)[0]
        # half the engines come with pistons that were sorted, the rest as they were made
        spread = rng.choice((1.0, 6.0))
        pistons = [rng.gauss(0, spread) for _ in range(engine.cylinders)]
        return Plan(i, engine, day, over, hone, since, pistons, dict(drift))

    def next(self, after: int, number: int, fitting: Callable[[Engine], bool] = lambda e: True) -> Plan:
        """Another build, of an engine that fits, that comes in after so many others."""
        rng, last = self.rng("next", number), self.plans[after - 1]
        engine = rng.choice([e for e in ENGINES if fitting(e) and (e.since + 30 <= after or not e.since)])
        day = last.received + timedelta(days=rng.choice((1, 2, 3, 4, 5)))
        plan = self._plan(rng, after, engine, day, last.hone, (last.bores_since + 8) % 75, last.drift)
        return replace(plan, number=SLIPPED + number)

    def files(self, plan: Plan, tag: str = "") -> tuple[list[Row], list[Row]]:
        """Rows of the sheet on arrival and of the sheet of the work done."""
        from tests.generate.slip_sheets import Sheet

        sheet = Sheet(plan, self.rng("rows", plan.number, tag))
        return sheet.arrival(), sheet.work()

    def masters(self, plan: Plan) -> list[Row]:
        """Two bore gauges' readings of their masters in the morning of a build's honing."""
        from tests.generate.slip_sheets import masters

        return masters(plan, self.rng("masters", plan.number))

    def registers(self, more: list[Plan]) -> dict[str, str]:
        """Texts of the files of record: builds, specifications, gauges, events, machines."""
        return {
            "builds.csv": self._builds(more), "gauges.csv": self._gauges(),
            "specifications.csv": self._specifications(more), "events.csv": self._events(),
            "machines.csv": as_csv(("machine", "since"), [(name, "2020-01-01") for name in MACHINES]),
        }  # fmt: skip

    def _builds(self, more: list[Plan]) -> str:
        rows = [
            (p.name, p.engine.name, p.engine.material, str(p.received),
             str(p.day(10)) if p.number < SLIPPED else "")
            for p in [*self.plans, *more]
        ]  # fmt: skip
        return as_csv(("build", "engine", "material", "received_on", "shipped_on"), rows)

    def _gauges(self) -> str:
        rows = []
        for name, (kind, master) in GAUGES.items():
            step = {"trace-1": "0.01", "leaf-1": "10", "dial-7": "10"}.get(name, "1")
            for year in (2024, 2025, 2026, 2027):
                rows.append((name, kind, step, "um", f"{year}-08-20", f"{year + 1}-08-31", master))
        for name, kind in (("bg-old", "bore gauge"), ("mic-old", "micrometer")):
            rows.append((name, kind, "1", "um", "2023-10-10", "2024-10-15", ""))
        return as_csv(("gauge", "kind", "resolution", "unit", "calibrated_on", "due_on", "master"), rows)

    def _events(self) -> str:
        return as_csv(("machine", "at", "event"), self.events)

    def _specifications(self, more: list[Plan]) -> str:
        head = (
            "build", "engine", "operation", "characteristic", "feature", "state", "reading", "lower",
            "target", "upper", "unit", "since", "revision", "source",
        )  # fmt: skip
        book = "Shop book, invented"
        rows: list[tuple[str, ...]] = []
        low, high = OLD_WINDOW
        rows.append(("", "", "plateau_hone", "bore_diameter", "", "plate_on", "deviation", str(low), "",
                     str(high), "um", "", "1", book))  # fmt: skip
        for operation, characteristic, state, low, high in WINDOWS:
            since = "2024-09-01" if (operation, state) == ("plateau_hone", "plate_on") else ""
            rows.append(("", "", operation, characteristic, "", state, "deviation", str(low), "", str(high),
                         "um", since, "2" if since else "1", book))  # fmt: skip
        for characteristic, _, upper in SIZE_WINDOWS:
            rows.append(("", "", "plateau_hone", characteristic, "", "", "size", "", "", str(upper), "um", "",
                         "1", book))  # fmt: skip
        for plan in [*self.plans, *more]:
            if not plan.engine.row_targets:
                rows += self._planned(plan)
        return as_csv(head, rows)

    @staticmethod
    def _planned(plan: Plan) -> list[tuple[str, ...]]:
        from tests.generate.slip_sheets import bore_target

        rows = []
        for i in range(plan.engine.cylinders):
            size = text_of(bore_target(plan, i), "mm", 1.0)
            rows.append((plan.name, "", "", "bore_diameter", f"cyl-{i + 1}", "", "size", "", size, "", "mm",
                         "", "1", "Build plan, invented"))  # fmt: skip
        return rows


def as_csv(head: tuple[str, ...], rows: list[tuple[str, ...]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(head)
    writer.writerows(rows)
    return out.getvalue()


def sheet_text(rows: list[Row]) -> str:
    """A readings file; row 2 of the file is the first of the rows."""
    return as_csv(COLUMNS, [tuple(r.cells.get(c, "") for c in COLUMNS) for r in rows])


def at(day: date, minutes: float) -> str:
    point = datetime.combine(day, time(7, 30)) + timedelta(minutes=round(minutes))
    return f"{point:%Y-%m-%dT%H:%M}+01:00"
