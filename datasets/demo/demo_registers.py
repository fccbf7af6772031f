"""The registers of the demo shop: events, specifications, gauges, builds, machines, measuring plan."""

from __future__ import annotations

from datetime import timedelta

import demo_families as facts
from demo_bench import Bench, Sizes
from demo_schedule import Build, Plan, working_day

EVENTS = ("machine", "gauge", "operation", "at", "event", "note")
SPECIFICATIONS = (
    "build",
    "engine",
    "operation",
    "characteristic",
    "feature",
    "station_mm",
    "clock_deg",
    "state",
    "reading",
    "lower",
    "target",
    "upper",
    "unit",
    "since",
    "revision",
    "source",
)
GAUGE_REGISTER = (
    "gauge",
    "kind",
    "resolution",
    "standard_uncertainty",
    "common_part",
    "unit",
    "calibrated_on",
    "due_on",
    "master",
    "value",
    "correction",
    "certificate",
)
BUILD_REGISTER = ("build", "engine", "serial", "material", "received_on", "shipped_on", "note")
MEASURING_PLAN = (
    "engine",
    "characteristic",
    "feature",
    "station_mm",
    "clock_deg",
    "state",
    "since",
    "revision",
)
MACHINE_REGISTER = ("machine", "kind", "since", "note")
RENEWALS = (
    ("crank-grinder-1", "wheel_dressed", 90, ""),
    ("line-hone-1", "stones_changed", 150, ""),
    ("rod-hone-1", "stones_changed", 140, ""),
)


def event_rows(plan: Plan) -> list[list[str]]:
    """Return the event log; the start of the gauge fault stands nowhere in it."""
    rows = [
        [s.machine, "", "", s.began_at.isoformat(timespec="minutes"), s.event, ""]
        for stretches in plan.stretches.values()
        for s in stretches
    ]
    for machine, event, days, note in RENEWALS:
        day = working_day(facts.FIRST_DAY, 1)
        while day < facts.LAST_DAY - timedelta(days=30):  # not just before the end
            rows.append([machine, "", "", f"{day.isoformat()}T07:00", event, note])
            day = working_day(day + timedelta(days=days), 1)
    rows.append(["hone-2", "", "", "2025-12-08T06:45", "coolant_changed", "oil and filter, yearly"])
    rows.append(
        [
            "",
            facts.FAULT_GAUGE,
            "",
            f"{facts.FAULT_UNTIL.isoformat()}T07:00",
            "gauge_reset",
            "read large on its ring, set anew",
        ]
    )
    return sorted(rows, key=lambda row: (row[3], row[0]))


def window_rows() -> list[list[str]]:
    """Return the windows that hold for every engine, then those of each family."""

    def text(value: float | None) -> str:
        return "" if value is None else f"{value:g}"

    rows = [
        [
            "",
            "",
            op,
            what,
            "",
            "",
            "",
            "",
            reading,
            text(low),
            "",
            text(high),
            "um",
            since,
            issue,
            "Shop sheet, invented for the demo",
        ]
        for op, what, reading, low, high, issue, since in facts.WINDOWS
    ]
    for f in facts.FAMILIES:
        rows.append(
            [
                "",
                f.name,
                "plateau_hone",
                "bore_diameter",
                "",
                "",
                "",
                "plate_on",
                "deviation",
                str(-f.bore_window),
                "",
                str(f.bore_window),
                "um",
                "",
                "1",
                "Engine sheet, owner and machinist, invented for the demo",
            ]
        )
    return rows


def plan_rows(build: Build, sizes: Sizes) -> list[list[str]]:
    """Return a build's planned clearances: in inches, in mm or in um as its sheet has it."""
    unit, scale = "um", "{:g}"
    factor = 1.0
    if build.family.inch:
        unit, scale, factor = "in", "{:.4f}", 1e-4
    elif build.number % 2 == 0:
        unit, scale, factor = "mm", "{:.3f}", 1e-3
    half = facts.CLEARANCE_HALF_WIDTH_TENTHS if build.family.inch else facts.CLEARANCE_HALF_WIDTH
    wanted = [
        ("main_clearance", "", sizes.main_plan),
        ("rod_clearance", "", sizes.rod_plan),
        ("piston_clearance", "", sizes.piston_plan),
    ]
    if build.family.rear_main_extra:
        wanted.append(
            ("main_clearance", f"main-{build.family.mains}", sizes.main_plan + build.family.rear_main_extra)
        )
    return [
        [
            build.name,
            build.family.name,
            "",
            what,
            feature,
            "",
            "",
            "",
            "size",
            *(scale.format(v * factor) for v in (plan - half[what], plan, plan + half[what])),
            unit,
            "",
            "1",
            facts.PLAN_SOURCE,
        ]
        for what, feature, plan in wanted
    ]


def gauge_rows() -> list[list[str]]:
    """Return the gauges and masters with two yearly calibrations, the final gauge when it was reset."""

    def dates(gauge: str) -> list[tuple[str, str]]:
        kept = [("2025-04-14", "2026-04-30"), ("2026-04-13", "2027-04-30")]
        if gauge == facts.FAULT_GAUGE:
            kept.insert(1, (facts.FAULT_UNTIL.isoformat(), "2027-02-28"))
            kept.pop()
        return kept

    rows = []
    for k, g in enumerate(facts.GAUGES, start=1):
        for n, (done, due) in enumerate(dates(g.name), start=1):
            rows.append(
                [
                    g.name,
                    g.kind,
                    f"{g.resolution:g}",
                    f"{g.uncertainty:g}",
                    f"{g.common:g}",
                    "um",
                    done,
                    due,
                    g.master,
                    "",
                    "0",
                    f"demo-{k:02d}-{n}",
                ]
            )
    for k, g in enumerate((g for g in facts.GAUGES if g.master), start=1):
        rows.append(
            [
                g.master,
                "master",
                "",
                "0.0003",
                "0.0003",
                "mm",
                "2025-03-10",
                "2027-03-31",
                "",
                f"{g.master_mm:.4f}",
                "0",
                f"demo-m{k:02d}",
            ]
        )
    return rows


def build_rows(plan: Plan, benches: list[Bench]) -> list[list[str]]:
    """Return the register of builds."""
    rows = []
    for build, bench in zip(plan.builds, benches, strict=True):
        received = (
            working_day(bench.rows[0].at.date(), -2) if build.number > 1002 else bench.rows[0].at.date()
        )
        shipped = working_day(build.on("check"), 2)
        rows.append(
            [
                build.name,
                build.family.name,
                f"S{build.number * 7:05d}",
                build.family.material,
                received.isoformat(),
                shipped.isoformat() if shipped <= facts.LAST_DAY else "",
                "",
            ]
        )
    return rows


def plan_places(f: facts.Family) -> list[tuple[str, list[str], list[str], list[str], str]]:
    """Return what is measured on an engine: characteristic, features, stations, directions, state."""

    def texts(numbers: tuple[int, ...]) -> list[str]:
        return [str(n) for n in numbers]

    bores = [f"cyl-{i + 1}" for i in range(f.cylinders)]
    rods = [f"rod-{i + 1}" for i in range(f.cylinders)]
    mains = [f"main-{i + 1}" for i in range(f.mains)]
    halves_of = [f"{hole}-{half}" for hole in mains + rods for half in ("upper", "lower")]
    ends = texts((f.stations_mm[0], f.stations_mm[-1]))
    return [
        ("bore_diameter", bores, ends, ["0", "90"], "plate_off"),
        ("bore_diameter", bores, texts(f.stations_mm), texts(f.clocks_deg), "plate_on"),
        *((what, bores, [""], [""], "plate_on") for what in ("ra", "rk", "rpk", "rvk")),
        ("tunnel_diameter", mains, ["12"], ["0", "60", "120"], "caps_torqued"),
        ("rod_bore_diameter", rods, ["6", "16"], ["0", "60", "120"], "caps_torqued"),
        ("journal_diameter", mains, ["4", "20"], ["0", "90"], "free"),
        ("pin_diameter", rods, ["4", "20"], ["0", "90"], "free"),
        ("shell_wall", halves_of, [""], [""], "received"),
        ("piston_diameter", bores, [""], [""], "received"),
        ("ring_gap", bores, [""], [""], "free"),
        ("end_play", ["whole"], [""], [""], "caps_torqued"),
    ]


def measuring_plan_rows() -> list[list[str]]:
    """Return the measuring plan of every family, one row a place."""
    return [
        [f.name, what, feature, station, clock, state, "", "1"]
        for f in facts.FAMILIES
        for what, features, stations, clocks, state in plan_places(f)
        for feature in features
        for station in stations
        for clock in clocks
    ]


def registers(plan: Plan, benches: list[Bench]) -> dict[str, tuple[tuple[str, ...], list[list[str]]]]:
    """Return header and rows of every register by file name.

    Source: invented for the demo; columns as the file contract names them.
    """
    specifications = window_rows() + [r for b in benches for r in plan_rows(b.build, b.sizes)]
    return {
        "events.csv": (EVENTS, event_rows(plan)),
        "specifications.csv": (SPECIFICATIONS, specifications),
        "gauges.csv": (GAUGE_REGISTER, gauge_rows()),
        "builds.csv": (BUILD_REGISTER, build_rows(plan, benches)),
        "measuring_plan.csv": (MEASURING_PLAN, measuring_plan_rows()),
        "machines.csv": (MACHINE_REGISTER, [list(row) for row in facts.MACHINES]),
    }
