"""The two sheets of a build: what was read on arrival, and what was read as the work was done."""

import math
import random
from datetime import date

from tests.generate.slip_shop import IN_UM, TEXTURE, WINDOWS, Plan, Row, at, heavy, text_of

OPERATORS = ("ab", "cd", "ef")


def bore_target(plan: Plan, cylinder: int) -> float:
    """What the machinist aims at in one bore: its piston and the clearance."""
    step = 2.54 if plan.engine.unit == "in" else 1.0
    return plan.engine.bore + plan.over + round(plan.pistons[cylinder] / step) * step


def window_of(operation: str, characteristic: str, state: str) -> tuple[float | None, float | None]:
    for op, key, in_state, low, high in WINDOWS:
        if (op, key) == (operation, characteristic) and in_state in ("", state):
            return float(low), float(high)
    return None, None


class Sheet:
    """Rows of one build, drawn from its own stream."""

    def __init__(self, plan: Plan, rng: random.Random) -> None:
        self.plan, self.engine, self.rng = plan, plan.engine, rng
        self.rows: list[Row] = []
        self.operator = rng.choice(OPERATORS)
        self.part_c = round(20 + rng.uniform(-0.6, 0.6), 1)

    def add(
        self, where: tuple[str, str, str], characteristic: str, feature: str, place: tuple[object, object],
        size: float, target: float | None, *, gauge: str, day: date, minute: float, spread: float,
        unit: str = "", step: float = 0.0, coded: bool = False, order: int | None = None,
    ) -> None:  # fmt: skip
        """Add a reading: `size` is what the gauge would show with endless digits."""
        machine, operation, state = where
        unit = unit or self.engine.unit
        step = step or (1.0 if unit == "mm" else 2.54)
        low, high = window_of(operation, characteristic, state)
        cells = {
            "build": self.plan.name, "engine": self.engine.name, "machine": machine, "operation": operation,
            "state": state, "characteristic": characteristic, "feature": feature,
            "station_mm": "" if place[0] is None else str(place[0]),
            "clock_deg": "" if place[1] is None else str(place[1]), "order": str(order or ""),
            "gauge": gauge, "operator": self.operator, "part_c": str(self.part_c),
            "gauge_c": str(self.part_c), "measured_at": at(day, minute),
        }  # fmt: skip
        size += self.plan.drift.get(gauge, 0.0) if target is not None else 0.0
        if coded and target is not None and self.engine.coded_in:
            unit = self.engine.coded_in
            cells |= {"reading": "deviation", "value": text_of(size - target, unit, step), "unit": unit}
        else:
            cells |= {"reading": "", "value": text_of(size, unit, step), "unit": unit}
        if target is not None and (self.engine.row_targets or characteristic != "bore_diameter"):
            unit_of_target = self.engine.unit if cells["reading"] else unit
            cells["target"] = text_of(target, unit_of_target, 1.0 if unit_of_target == "mm" else 2.54)
            if self.engine.row_limits and low is not None and high is not None:
                cells["lower"] = text_of(target + low, unit, step)
                cells["upper"] = text_of(target + high, unit, step)
        self.rows.append(
            Row(cells, max(spread, 0.0), step, (low, high), (operation, state, characteristic))
        )

    def arrival(self) -> list[Row]:
        """Worn bores as received, new pistons and shells, the tunnel as it came."""
        self.rows = []
        self._received_bores()
        plan, engine, rng = self.plan, self.engine, self.rng
        skirt = rng.gauss(0, 0.8)
        for i in range(engine.cylinders):
            target = engine.bore + plan.over - 60 + round(plan.pistons[i] / 2.54) * 2.54
            self.add(("bench", "receive", "received"), "piston_diameter", f"cyl-{i + 1}", (None, None),
                     target + skirt + rng.gauss(0, 1.2), target, gauge="mic-skirt", day=plan.day(1),
                     minute=200 + 3 * i, spread=1.3)  # fmt: skip
        wall = rng.gauss(0, 0.4)
        for i in range(engine.mains):
            for half in ("upper", "lower"):
                self.add(("bench", "receive", "received"), "shell_wall", f"main-{i + 1}-{half}", (None, None),
                         engine.wall + wall + rng.gauss(0, 0.8), engine.wall, gauge="ball-1", day=plan.day(1),
                         minute=260 + 2 * i, spread=0.9)  # fmt: skip
        self._tunnel("bench", "receive", "caps_torqued", 3.5, 2, None)
        return self.rows

    def _received_bores(self) -> None:
        plan, engine, rng = self.plan, self.engine, self.rng
        before = engine.bore + (0 if rng.random() < 0.7 else plan.over / 2)
        worn = rng.uniform(10, 40)
        for i in range(engine.cylinders):
            hole = worn + 7 * heavy(rng)
            oval = rng.gauss(9, 3)
            for station in (engine.stations[0], engine.stations[-1]):
                top = station == engine.stations[0]
                for clock in (0, 90):
                    size = before + hole + (18 if top else 0) + rng.gauss(0, 0.9)
                    size += (oval if top else 0.3 * oval) * (0.5 if clock else -0.5)
                    self.add(("bench", "receive", "received"), "bore_diameter", f"cyl-{i + 1}",
                             (station, clock), size, None, gauge="bg-in", day=plan.day(1),
                             minute=10 + 5 * i, spread=9.0)  # fmt: skip

    def work(self) -> list[Row]:
        """The block bored, honed with the plate on and read again without it, line-honed, then fitted."""
        self.rows = []
        self._bored()
        self._tunnel("line-hone-1", "line_hone", "caps_torqued", 1.3, 5, 0.0)
        self._crank()
        self._honed()
        self._texture()
        self._fitted()
        return self.rows

    def _bored(self) -> None:
        plan, engine, rng = self.plan, self.engine, self.rng
        block = 1.6 * rng.gauss(0, 1) - 0.08 * (plan.number % 13)
        for i in range(engine.cylinders):
            aim = bore_target(plan, i)
            hole, taper, oval = 1.8 * heavy(rng), rng.gauss(1, 0.8), rng.gauss(2.5, 0.7)
            for k, station in enumerate((engine.stations[0], engine.stations[-1])):
                for clock in (0, 90):
                    size = aim - 60.96 + block + hole + taper * (0.5 - k) + 0.8 * rng.gauss(0, 1)
                    size += oval / 2 * math.cos(math.radians(2 * clock))
                    # the boring sheet counts what is left to hone: deviations from the finished size
                    target = aim if engine.coded_in else aim - 60.96
                    self.add(("bore-3", "finish_bore", "plate_off"), "bore_diameter", f"cyl-{i + 1}",
                             (station, clock), size, target, gauge="bg-mid", day=plan.day(4),
                             minute=20 * (i + 1), spread=2.3, coded=True, order=i + 1,
                             step=engine.step)  # fmt: skip

    def _honed(self) -> None:
        plan, engine, rng = self.plan, self.engine, self.rng
        block = 1.2 * rng.gauss(0, 1) + (0.5 if plan.hone == "hone-a" else -0.5)
        worn = 0.5 + 0.045 * plan.bores_since + 0.4 * rng.gauss(0, 1)
        # what the bolts pull: larger at the top, other in the end bores, much the same in every block
        pull = {"iron": 5.0, "aluminium": 9.0}[engine.material] + rng.gauss(0, 0.6)
        holes = []
        for _ in range(engine.cylinders):
            holes.append((1.4 * heavy(rng), worn + 0.8 * rng.gauss(0, 1), rng.gauss(1.8, 0.5),
                          rng.gauss(-0.4, 0.6)))  # fmt: skip
        for state, when in (("plate_on", 6), ("plate_off", 7)):
            shift = -1.5 if state == "plate_off" else 0.0
            for i, (hole, taper, oval, barrel) in enumerate(holes):
                aim = bore_target(plan, i)
                own = pull * (1.25 if i in (0, engine.cylinders - 1) else 1.0) + rng.gauss(0, 0.7)
                for station in engine.stations:
                    down = (station - engine.stations[0]) / (engine.stations[-1] - engine.stations[0])
                    for clock in engine.clocks:
                        wave = math.cos(math.radians(2 * clock))
                        size = aim + block + hole + shift + taper * (0.5 - down) + oval / 2 * wave
                        size += barrel * (1 - (2 * down - 1) ** 2) + 0.6 * rng.gauss(0, 1)
                        if state == "plate_off":
                            size -= own * math.exp(-3 * down) * (wave / 2 + 0.5)
                        self.add((plan.hone, "plateau_hone", state), "bore_diameter", f"cyl-{i + 1}",
                                 (station, clock), size, aim, gauge="bg-fin", day=plan.day(when),
                                 minute=12 * (i + 1), spread=1.8, coded=True, order=i + 1,
                                 step=engine.step)  # fmt: skip

    def _tunnel(
        self, machine: str, operation: str, state: str, scatter: float, minute: int, off: float | None
    ) -> None:
        plan, engine, rng = self.plan, self.engine, self.rng
        block = 1.0 * rng.gauss(0, 1) + (off if off is not None else rng.uniform(-6, 4))
        for i in range(engine.mains):
            hole, oval = scatter * heavy(rng), rng.gauss(1.2, 0.5) + (0 if off is not None else 2.5)
            for clock in (0, 60, 120):
                size = engine.housing + block + hole - oval / 2 * math.cos(math.radians(2 * clock))
                self.add((machine, operation, state), "tunnel_diameter", f"main-{i + 1}", (12, clock),
                         size + 0.7 * rng.gauss(0, 1), engine.housing, gauge="bg-tun",
                         day=plan.day(5 if off is not None else 2), minute=minute + 6 * i,
                         spread=scatter + 0.6)  # fmt: skip

    def _crank(self) -> None:
        plan, engine, rng = self.plan, self.engine, self.rng
        journal = round((engine.housing - 2 * engine.wall - 50) / 2.54) * 2.54
        for key, word, holes, aim in (
            ("journal_diameter", "main", engine.mains, journal if engine.unit == "in" else round(journal)),
            ("pin_diameter", "rod", engine.cylinders // 2, engine.pin),
        ):  # fmt: skip
            block = 0.8 * rng.gauss(0, 1)
            for i in range(holes):
                hole, oval = 1.0 * heavy(rng), rng.gauss(0.8, 0.3)
                for station in (4, 20):
                    for clock in (0, 90):
                        size = aim + block + hole + (oval / 2 if clock else -oval / 2) + 0.5 * rng.gauss(0, 1)
                        self.add(("grinder-2", "journal_grind", "free"), key, f"{word}-{i + 1}",
                                 (station, clock), size, aim, gauge="mic-crank", day=plan.day(3),
                                 minute=20 + 8 * i, spread=1.2)  # fmt: skip

    def _texture(self) -> None:
        plan, engine, rng = self.plan, self.engine, self.rng
        unit, step = ("um", 0.01) if engine.unit == "mm" else ("uin", 0.0254)
        for key, middle in TEXTURE.items():
            block = 0.04 * rng.gauss(0, 1)
            for i in range(engine.cylinders):
                size = middle * math.exp(block + 0.09 * rng.gauss(0, 1) + 0.0012 * plan.bores_since)
                self.add((plan.hone, "plateau_hone", "plate_off"), key, f"cyl-{i + 1}", (None, None), size,
                         None, gauge="trace-1", day=plan.day(7), minute=240 + 6 * i, spread=0.1 * middle,
                         unit=unit, step=step)  # fmt: skip

    def _fitted(self) -> None:
        plan, engine, rng = self.plan, self.engine, self.rng
        inside = engine.housing - 2 * engine.wall
        block = 0.6 * rng.gauss(0, 1)
        for i in range(engine.mains):
            self.add(("bench", "fit", "caps_torqued"), "shell_bore", f"main-{i + 1}", (12, 0),
                     inside + block + 1.5 * heavy(rng), inside, gauge="bg-tun", day=plan.day(8),
                     minute=20 + 5 * i, spread=1.6)  # fmt: skip
        gap = round(engine.bore * 0.0045 / 10) * 10.0 if engine.unit == "mm" else 457.2
        step = 10.0 if engine.unit == "mm" else 25.4
        for i in range(engine.cylinders):
            self.add(("bench", "fit", "plate_off"), "ring_gap", f"cyl-{i + 1}", (None, None),
                     gap + 15 + 12 * rng.gauss(0, 1), gap, gauge="leaf-1", day=plan.day(8), minute=90 + 4 * i,
                     spread=13.0, step=step)  # fmt: skip
        play = 120.0 if engine.unit == "mm" else 127.0
        self.add(("bench", "fit", "caps_torqued"), "end_play", "whole", (None, None),
                 play + 15 * rng.gauss(0, 1), play, gauge="dial-7", day=plan.day(8), minute=150,
                 spread=15.0, step=10.0 if engine.unit == "mm" else 12.7)  # fmt: skip


def masters(plan: Plan, rng: random.Random) -> list[Row]:
    """Morning readings of two masters."""
    rows = []
    for gauge, ring, size in (("bg-fin", "ring-98", 98000.4), ("bg-tun", "ring-70", 69999.8)):
        shown = size + plan.drift[gauge] + 0.5 * rng.gauss(0, 1)
        cells = {
            "machine": gauge, "operation": "check", "characteristic": "master_check", "feature": "master",
            "value": f"{shown / float(IN_UM['mm']):.4f}", "unit": "mm",
            "target": f"{size / float(IN_UM['mm']):.4f}", "gauge": gauge, "operator": "ab",
            "part_c": "20", "gauge_c": "20", "measured_at": at(plan.day(6), -20), "master": ring,
        }  # fmt: skip
        rows.append(Row(cells, 0.6, 0.1, (-3, 3), ("check", "", "master_check")))
    return rows
