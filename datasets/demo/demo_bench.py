"""The bench on which a build's readings are collected, its sizes, what its gauges read too much.

Nothing is rounded here.

A target is a whole number of the build's own step: 1 um, or one tenth of a thou in the inch family.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import NamedTuple

import demo_families as facts
import numpy as np
from demo_draws import Draws
from demo_schedule import Build

ROUND_CLOCKS = (0, 90)


class Row(NamedTuple):
    """One reading before it is rounded: a length in um, or a time in min."""

    machine: str
    operation: str
    state: str
    characteristic: str
    feature: str
    station: int | None
    clock: int | None
    order: int | None
    value: float
    target: float | None
    kind: str
    gauge: str
    operator: str
    sized_with: str
    at: datetime


@dataclass(frozen=True, slots=True)
class Sizes:
    """The targets and planned clearances of one build, in its own steps."""

    step: float
    bore: int
    piston: int
    housing: int
    wall: int
    journal: int
    rod_bore: int
    rod_wall: int
    pin: int
    main_plan: int
    rod_plan: int
    piston_plan: int


def sizes_of(build: Build, seed: int) -> Sizes:
    """Return the targets of a build [steps], each build its own.

    Source: invented for the demo; clearance = housing - two walls - journal, bore - piston.
    """
    draws = Draws(seed, "sizes", build.number)
    f = build.family
    step, wide, oversizes, undersizes = (1.0, 1, (0, 250, 500, 1000), (0, 250, 500))
    if f.inch:
        step, wide, oversizes, undersizes = (facts.TENTH, 0, (0, 200, 300, 400), (0, 100, 200))
    bore = f.bore + oversizes[draws.whole(0, 3)] + draws.whole(0, 40 if wide else 15)
    main = f.main_plan + draws.whole(-4, 4) if wide else f.main_plan + draws.whole(-1, 1)
    rod = f.rod_plan + draws.whole(-4, 4) if wide else f.rod_plan + draws.whole(-1, 1)
    piston = f.piston_plan + draws.whole(-6, 6) if wide else f.piston_plan + draws.whole(-2, 2)
    housing = f.housing + draws.whole(0, 6 if wide else 2)
    rod_bore = f.rod_bore + draws.whole(0, 5 if wide else 2)
    under = undersizes[draws.whole(0, 2)] // 2
    wall, rod_wall = f.wall + under, f.rod_wall + under
    return Sizes(
        step,
        bore,
        bore - piston,
        housing,
        wall,
        housing - 2 * wall - main,
        rod_bore,
        rod_wall,
        rod_bore - 2 * rod_wall - rod,
        main,
        rod,
        piston,
    )


def gauge_error(seed: int, gauge: str, day: date) -> float:
    """Return what a gauge reads too much on this day [um]: its setting of the morning, and the hidden fault.

    Source: invented for the demo.
    """
    error = facts.GAUGE_DAY * Draws(seed, "gauge", gauge, day.isoformat()).one()
    if gauge == facts.FAULT_GAUGE and facts.FAULT_FROM <= day < facts.FAULT_UNTIL:
        error += facts.FAULT_AMOUNT
    return error


def worn(wear: facts.Wear, bores: float, factor: float = 1.0) -> float:
    """Return the expected value after so many bores since the renewal [unit of the characteristic].

    Source: straight line, invented for the demo.
    """
    return wear.start + wear.slope * factor * bores


class Bench:
    """The readings of one build, collected step by step."""

    def __init__(self, build: Build, seed: int) -> None:
        self.build, self.seed = build, seed
        self.sizes = sizes_of(build, seed)
        self.rows: list[Row] = []

    def draws(self, *purpose: str) -> Draws:
        """Return the stream of this build for a purpose."""
        return Draws(self.seed, self.build.number, *purpose)

    def at(self, step: str, minute: int) -> datetime:
        """Return the local time so many minutes after half past eight on the day of a step."""
        return datetime.combine(self.build.on(step), time(8, 30)) + timedelta(minutes=minute)

    def add(
        self,
        where: tuple[str, str, str],
        what: str,
        feature: str,
        place: tuple[int | None, int | None],
        value: float,
        target: float | None,
        by: tuple[str, str],
        at: datetime,
        *,
        order: int | None = None,
        kind: str = "size",
        sized_with: str = "",
    ) -> None:
        """Put down one reading; `by` is the gauge and the operator."""
        self.rows.append(Row(*where, what, feature, *place, order, value, target, kind, *by, sized_with, at))


def machining_order(cylinders: int) -> list[int]:
    """Return the cylinders in the order of honing: no neighbour straight after its neighbour."""
    return [*range(1, cylinders + 1, 2), *range(2, cylinders + 1, 2)]


def shape(taper: float, barrel: float, oval: float, depth: float, clock: int) -> float:
    """Return the departure of a diameter from the mean of its bore [um]; depth 0 at the top, 1 at the bottom.

    Source: invented for the demo; the three stations average nought, so that wear leaves the size alone.
    """
    bulge = 2 * barrel / 3 if 0.25 < depth < 0.75 else -barrel / 3
    return taper * (0.5 - depth) + bulge + oval / 2 * float(np.cos(np.radians(2 * (clock - 90))))
