"""Ten blocks of four bores, small enough to slip a single cell by hand. Nothing of the product is used."""

import random
from datetime import date, timedelta

STATIONS, CLOCKS, BORES = (12, 60, 108), (0, 90), 4
FIRST = date(2026, 1, 5)
# what the bolts pull with the plate off: the top, along the crank line [um]
PULL = {(12, 0): -9, (12, 90): -1, (60, 0): -3}
Row = dict[str, str]


def day(build: int) -> date:
    return FIRST + timedelta(days=3 * build)


def bores(build: int, *, aim: float = 86000.0, seed: int = 0) -> list[Row]:
    """Bores of a block honed with the plate on, and read again without it; sizes in whole um."""
    rng = random.Random(100 * build + seed)
    block = rng.gauss(0, 1.2)
    shape = [(rng.gauss(0, 1.5), rng.gauss(2, 0.6), rng.gauss(1.5, 0.5)) for _ in range(BORES)]
    rows = []
    for state, minutes in (("plate_on", 0), ("plate_off", 240)):
        for i, (hole, taper, oval) in enumerate(shape):
            for station in STATIONS:
                for clock in CLOCKS:
                    size = aim + block + hole + taper * (60 - station) / 96
                    size += oval / 2 if clock else -oval / 2
                    size += PULL.get((station, clock), 0) if state == "plate_off" else 0
                    rows.append(row(build, state, "bore_diameter", f"cyl-{i + 1}", station, clock,
                                    size + rng.gauss(0, 0.6), aim, "bg-1", minutes + 10 * i))  # fmt: skip
    return rows


def tunnel(build: int, *, seed: int = 0) -> list[Row]:
    """Five main housings in three directions, caps torqued."""
    rng = random.Random(900 * build + seed)
    block = rng.gauss(0, 1.0)
    rows = []
    for i in range(5):
        hole = rng.gauss(0, 1.2)
        for clock in (0, 60, 120):
            size = 57000 + block + hole - (0.8 if clock == 0 else 0) + rng.gauss(0, 0.7)
            rows.append(row(build, "caps_torqued", "tunnel_diameter", f"main-{i + 1}", 12, clock, size, 57000,
                            "bg-2", 400 + 5 * i))  # fmt: skip
    return rows


def texture(build: int, *, seed: int = 0) -> list[Row]:
    """Ra, Rz and Rk of each bore."""
    rng = random.Random(7000 * build + seed)
    return [
        row(build, "plate_off", key, f"cyl-{i + 1}", None, None, middle * (1 + 0.08 * rng.gauss(0, 1)), None,
            "trace-1", 500 + i)
        for key, middle in (("ra", 0.4), ("rz", 3.2), ("rk", 0.9)) for i in range(BORES)
    ]  # fmt: skip


def row(
    build: int, state: str, key: str, feature: str, station: int | None, clock: int | None, size: float,
    aim: float | None, gauge: str, minutes: int,
) -> Row:  # fmt: skip
    hours, rest = divmod(480 + minutes, 60)
    operation = {"tunnel_diameter": "line_hone"}.get(key, "plateau_hone")
    return {
        "build": f"N{build}", "engine": "finch-4", "operation": operation, "state": state,
        "machine": {"line_hone": "line-1"}.get(operation, "hone-1"), "characteristic": key,
        "feature": feature, "station_mm": "" if station is None else str(station),
        "clock_deg": "" if clock is None else str(clock),
        "value": f"{size:.2f}" if aim is None else f"{round(size) / 1000:.3f}",
        "unit": "um" if aim is None else "mm", "target": "" if aim is None else f"{aim / 1000:.3f}",
        "gauge": gauge, "part_c": "20", "gauge_c": "20",
        "measured_at": f"{day(build)}T{hours:02}:{rest:02}",
    }  # fmt: skip


def sheet(build: int, **more: int) -> list[Row]:
    return [*bores(build, **more), *tunnel(build, **more), *texture(build, **more)]


def builds(last: int) -> list[Row]:
    """List of builds: each arrived the day before it was measured."""
    return [
        {"build": f"N{i}", "engine": "finch-4", "material": "aluminium",
         "received_on": f"{day(i) - timedelta(days=1)}"} for i in range(last + 1)
    ]  # fmt: skip


def gauges() -> list[Row]:
    return [
        {"gauge": name, "kind": kind, "resolution": step, "unit": "um", "calibrated_on": "2025-06-02",
         "due_on": due}
        for name, kind, step, due in (
            ("bg-1", "bore gauge", "1", "2026-06-30"), ("bg-2", "bore gauge", "1", "2026-06-30"),
            ("trace-1", "profile instrument", "0.01", "2026-06-30"),
            ("bg-9", "bore gauge", "1", "2025-12-31"),
        )
    ]  # fmt: skip
