"""Which build is done when, on which hone, in which form it is typed, and when tools were renewed."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta

import demo_families as facts
from demo_draws import Draws

QUIET_MONTHS_OF_7 = {(2025, 7), (2025, 10), (2026, 1), (2026, 5)}
FAULT_MONTH = (facts.FAULT_FROM.year, facts.FAULT_FROM.month)
LAG = {"receive": -5, "crank": -4, "line": -3, "rod": -3, "bore": -2, "shells": -1, "hone": 0, "check": 1}
XLSX_BUILDS = (1012, 1057, 1098)


@dataclass(slots=True)
class Build:
    """One engine going through the shop, with the bores made since the tools were renewed."""

    number: int
    day: date
    hone: str
    family: facts.Family
    form: str = "mm"
    hone_bores_before: int = 0
    bore_bores_before: int = 0
    wear_factor: float = 1.0
    tight: bool = False
    mistyped: bool = False

    @property
    def name(self) -> str:
        """Return the build's name, such as B1001."""
        return f"B{self.number}"

    def on(self, step: str) -> date:
        """Return the working day of a step of this build."""
        return working_day(self.day, LAG[step])


@dataclass(slots=True)
class Stretch:
    """Blocks of one machine between two renewals."""

    machine: str
    event: str
    began_at: datetime
    builds: list[Build] = field(default_factory=list)

    @property
    def bores(self) -> int:
        """Return the bores made in this stretch."""
        return sum(build.family.cylinders for build in self.builds)


@dataclass(frozen=True, slots=True)
class Plan:
    """The whole schedule of a seed."""

    builds: list[Build]
    stretches: dict[str, list[Stretch]]


def is_working(day: date) -> bool:
    """Return whether the shop works on this day: Monday to Friday, closed over the turn of the year."""
    closed = (day.month, day.day) >= (12, 24) or (day.month, day.day) <= (1, 2)
    return day.weekday() < 5 and not closed


def working_day(day: date, steps: int) -> date:
    """Return the working day that lies `steps` working days after this one (before it when negative)."""
    one = timedelta(days=1 if steps > 0 else -1)
    for _ in range(abs(steps)):
        day += one
        while not is_working(day):
            day += one
    return day


def working_days(first: date, last: date) -> list[date]:
    """Return the working days from first to last, both included."""
    days = (first + timedelta(days=i) for i in range((last - first).days + 1))
    return [day for day in days if is_working(day)]


def months() -> list[tuple[int, int]]:
    """Return the eighteen months of the scenario."""
    return [(2025 + (m // 12), m % 12 + 1) for m in range(4, 22)]


def month_days(month: tuple[int, int]) -> list[date]:
    """Return the days of a month on which a block can be honed, so that all its steps lie in the scenario."""
    first = date(*month, 1)
    last = (first + timedelta(days=31)).replace(day=1) - timedelta(days=1)
    days = working_days(first, last)
    kept = [d for d in days if working_day(d, LAG["receive"]) >= facts.FIRST_DAY]
    return [d for d in kept if working_day(d, LAG["check"]) <= facts.LAST_DAY]


def spread_days(days: list[date], count: int, draws: Draws) -> list[date]:
    """Return `count` different days, spread evenly, each drawn from its own run of days."""
    edges = [round(i * len(days) / count) for i in range(count + 1)]
    return [days[draws.whole(edges[i], edges[i + 1] - 1)] for i in range(count)]


def month_slots(month: tuple[int, int], odd: bool, draws: Draws) -> list[tuple[date, str]]:
    """Return the honing days of a month with their hone: at least three blocks on each."""
    days = month_days(month)
    if month == FAULT_MONTH:
        inside = [d for d in days if d < facts.FAULT_UNTIL]
        slots = spread_days(inside, 9, draws) + spread_days(days[len(inside) :], 1, draws)
        hones = draws.shuffled(["hone-1"] * 4 + ["hone-2"] * 5) + ["hone-1"]
        return list(zip(slots, hones, strict=True))
    if month in (facts.RA_MONTH, facts.RA_MONTH_BEFORE):
        hones = ["hone-1"] * 3 + ["hone-2"] * 5
    else:
        extra = ["hone-1" if odd else "hone-2"] if month in QUIET_MONTHS_OF_7 else []
        hones = ["hone-1"] * 3 + ["hone-2"] * 3 + extra
    return list(zip(spread_days(days, len(hones), draws), draws.shuffled(hones), strict=True))


def families(draws: Draws, count: int) -> list[facts.Family]:
    """Return the families of the builds, in two halves of equal mix."""
    deck = [family for family in facts.FAMILIES for _ in range(family.share_of_60)]
    return [f for _ in range(count // len(deck)) for f in draws.shuffled(deck)]


def form_of(build: Build, inch_seen: int) -> str:
    """Return the form in which a build's file is typed."""
    if build.family.inch:
        return "inch" if inch_seen % 2 == 0 else "tenth"
    if build.number in XLSX_BUILDS:
        return "xlsx"
    if build.number % 10 == 3:
        return "semicolon"
    if build.number % 15 == 7:
        return "um_deviation"
    return "zoned" if build.number % 30 == 11 else "mm"


def booked_builds(seed: int) -> list[Build]:
    """Return the builds in the order of honing, without wear."""
    draws = Draws(seed, "schedule")
    slots: list[tuple[date, str]] = []
    odd = True
    for month in months():
        slots += month_slots(month, odd, draws)
        odd ^= month in QUIET_MONTHS_OF_7
    chosen = families(Draws(seed, "families"), len(slots))
    builds = [Build(1001 + i, day, hone, chosen[i]) for i, (day, hone) in enumerate(slots)]
    inch_seen = 0
    for build in builds:
        build.form = form_of(build, inch_seen)
        inch_seen += build.family.inch
        build.tight = build.family.name == facts.TIGHT_FAMILY and build.day >= facts.TIGHT_FROM
    _mistype(builds)
    return builds


def _mistype(builds: list[Build]) -> None:
    of_family = [b for b in builds if b.family.name == facts.MISTYPED_FAMILY and b.form == "mm"]
    inside = [b for b in of_family if facts.MISTYPED_FROM <= b.day <= facts.MISTYPED_UNTIL]
    (inside or of_family)[0].mistyped = True


def _renewed(machine: str, event: str, day: date) -> Stretch:
    return Stretch(machine, event, datetime.combine(day, time(7, 10)))


def hone_1_stretches(builds: list[Build], draws: Draws) -> list[Stretch]:
    """Return four usual stretches of about twelve blocks and a last one that is still running."""
    last = builds[-facts.LAST_STRETCH_BLOCKS :]
    while sum(build.family.cylinders for build in last) > facts.LAST_STRETCH_MOST_BORES:
        last = last[1:]
    usual = len(builds) - len(last)
    jitter = [draws.whole(-1, 1) for _ in range(3)]
    starts = [0] + [round(usual * k / 4) + jitter[k - 1] for k in (1, 2, 3)] + [usual, len(builds)]
    stretches = []
    for begin, end in zip(starts, starts[1:], strict=False):
        stretch = _renewed("hone-1", "stones_changed", builds[begin].day)
        stretch.builds = builds[begin:end]
        stretches.append(stretch)
    for build in stretches[-1].builds:
        build.wear_factor = facts.LAST_STRETCH_FACTOR
    return stretches


def usual_stretches(
    machine: str, event: str, builds: list[Build], bores: int, step: str, draws: Draws
) -> list[Stretch]:
    """Return stretches that end once about `bores` bores are made."""
    stretches = [_renewed(machine, event, builds[0].on(step))]
    wanted = bores + draws.whole(-6, 6)
    for build in builds:
        if stretches[-1].bores >= wanted:
            stretches.append(_renewed(machine, event, build.on(step)))
            wanted = bores + draws.whole(-6, 6)
        stretches[-1].builds.append(build)
    return stretches


def plan(seed: int) -> Plan:
    """Return the schedule of a seed: builds in the order of honing, stretches of the machines that wear."""
    builds = booked_builds(seed)
    on_1 = [b for b in builds if b.hone == "hone-1"]
    on_2 = [b for b in builds if b.hone == "hone-2"]
    draws = Draws(seed, "stretches")
    stretches = {
        "hone-1": hone_1_stretches(on_1, draws),
        "hone-2": usual_stretches("hone-2", "stones_changed", on_2, facts.USUAL_STRETCH_BORES, "hone", draws),
        "bore-1": usual_stretches(
            "bore-1", "insert_changed", builds, facts.BORING_STRETCH_BORES, "bore", draws
        ),
    }
    for machine, its in stretches.items():
        name = "bore_bores_before" if machine == "bore-1" else "hone_bores_before"
        for stretch in its:
            made = 0
            for build in stretch.builds:
                setattr(build, name, made)
                made += build.family.cylinders
    return Plan(builds, stretches)
