"""The parts around the bores: tunnel, big ends, crank, shells, pistons, ring gaps, end play."""

from __future__ import annotations

import demo_families as facts
import numpy as np
from demo_bench import ROUND_CLOCKS, Bench, gauge_error, shape
from demo_bores import bored, honed, texture
from demo_schedule import Build

TUNNEL_CLOCKS = (0, 60, 120)
SHAFT_STATIONS = (4, 20)
ROD_STATIONS = (6, 16)
TUNNEL_STATION = 12


def housings(bench: Bench, rods: bool) -> list[float]:
    """Add the main tunnel or the big ends; return the diameter square to the joint of each [um]."""
    build, sizes = bench.build, bench.sizes
    scatter = facts.ROD_BORE if rods else facts.TUNNEL
    gauge, step = ("bg-rod", "rod") if rods else ("bg-tunnel", "line")
    target = (sizes.rod_bore if rods else sizes.housing) * sizes.step
    where = (*(("rod-hone-1", "rod_hone") if rods else ("line-hone-1", "line_hone")), "caps_torqued")
    draws = bench.draws("housings", gauge)
    block = scatter.between * draws.one() + gauge_error(bench.seed, gauge, build.on(step))
    upright = []
    for i in range(1, (build.family.cylinders if rods else build.family.mains) + 1):
        mean = target + block + scatter.hole * draws.one()
        oval = scatter.oval + 0.4 * draws.one()
        read = []
        for station in ROD_STATIONS if rods else (TUNNEL_STATION,):
            for clock in TUNNEL_CLOCKS:
                value = mean - oval / 2 * float(np.cos(np.radians(2 * clock))) + scatter.reading * draws.one()
                read += [value] if clock == 0 else []
                bench.add(
                    where,
                    "rod_bore_diameter" if rods else "tunnel_diameter",
                    f"{'rod' if rods else 'main'}-{i}",
                    (station, clock),
                    value,
                    target,
                    (gauge, "op-5"),
                    bench.at(step, 12 * i),
                )
        upright.append(float(np.mean(read)))
    return upright


def offsets(bench: Bench) -> None:
    """Add typed tunnel offsets: residuals of the centres from their best line, in a third of the builds."""
    mains = bench.build.family.mains
    along = np.arange(mains, dtype=float)
    centres = 2.0 * bench.draws("offsets").normal(mains)
    residuals = centres - np.polyval(np.polyfit(along, centres, 1), along)
    for i, residual in enumerate(residuals, start=1):
        bench.add(
            ("line-hone-1", "line_hone", "caps_torqued"),
            "tunnel_offset",
            f"main-{i}",
            (None, None),
            float(residual),
            None,
            ("dial-2", "op-5"),
            bench.at("line", 120 + i),
            kind="offset",
        )


def shafts(bench: Bench, pins: bool) -> list[float]:
    """Add the main journals or the pins; return the largest diameter of each [um]."""
    build, sizes = bench.build, bench.sizes
    scatter = facts.PIN if pins else facts.JOURNAL
    target = (sizes.pin if pins else sizes.journal) * sizes.step
    draws = bench.draws("shafts", str(pins))
    block = scatter.between * draws.one() + gauge_error(bench.seed, "mic-journal", build.on("crank"))
    block += facts.TIGHT_AMOUNT if build.tight and not pins else 0.0
    largest = []
    for i in range(1, (build.family.cylinders if pins else build.family.mains) + 1):
        mean, taper = target + block + scatter.hole * draws.one(), 0.6 * draws.one()
        oval = scatter.oval + 0.3 * draws.one()
        read = []
        for depth, station in enumerate(SHAFT_STATIONS):
            for clock in ROUND_CLOCKS:
                read.append(mean + shape(taper, 0.0, oval, depth, clock) + scatter.reading * draws.one())
                bench.add(
                    ("crank-grinder-1", "journal_grind", "free"),
                    "pin_diameter" if pins else "journal_diameter",
                    f"{'rod' if pins else 'main'}-{i}",
                    (station, clock),
                    read[-1],
                    target,
                    ("mic-journal", "op-6"),
                    bench.at("crank", (200 if pins else 0) + 10 * i),
                )
        largest.append(max(read))
    return largest


def shells(bench: Bench, rods: bool, upright: list[float], largest: list[float]) -> None:
    """Add the shell walls the builder picked, and in two builds of five the bore of the fitted pair.

    Graded shells come in steps of 3 um (one tenth in the inch family); one half of a pair may be a step off.
    """
    build, sizes = bench.build, bench.sizes
    draws = bench.draws("shells", str(rods))
    wall, plan = (sizes.rod_wall, sizes.rod_plan) if rods else (sizes.wall, sizes.main_plan)
    grade = 1 if build.family.inch else 3
    error = gauge_error(bench.seed, "mic-wall", build.on("shells"))
    word = "rod" if rods else "main"
    for i, (housing, shaft) in enumerate(zip(upright, largest, strict=True), start=1):
        extra = 0 if rods or i < build.family.mains else build.family.rear_main_extra
        nominal = wall - extra // 2
        missing = (housing - shaft) / sizes.step - 2 * nominal - plan - extra
        steps = int(np.clip(round(missing / grade), -4, 4)) if build.family.graded_shells else 0
        walls = []
        for half, half_steps in (("upper", steps - steps // 2), ("lower", steps // 2)):
            target = (nominal + grade * half_steps) * sizes.step
            true = target + facts.SHELL.between * draws.one() + facts.SHELL.hole * draws.one()
            walls.append(true)
            bench.add(
                ("bench", "receive", "received"),
                "shell_wall",
                f"{word}-{i}-{half}",
                (None, None),
                true + error + facts.SHELL.reading * draws.one(),
                target,
                ("mic-wall", "op-4"),
                bench.at("shells", (150 if rods else 0) + 8 * i),
            )
        if build.number % 5 in (0, 2):
            fitted = housing - sum(walls) - facts.CRUSH + facts.INSTALLED.hole * draws.one()
            bench.add(
                ("bench", "fit", "caps_torqued"),
                "shell_bore",
                f"{word}-{i}",
                (TUNNEL_STATION, 0),
                fitted + facts.INSTALLED.reading * draws.one(),
                (plan + extra) * sizes.step + (sizes.pin if rods else sizes.journal) * sizes.step,
                ("bg-rod" if rods else "bg-tunnel", "op-4"),
                bench.at("check", (150 if rods else 0) + i),
            )


def small_parts(bench: Bench) -> None:
    """Add pistons as received, ring gaps and the end play."""
    build, sizes = bench.build, bench.sizes
    draws = bench.draws("small")
    target = sizes.piston * sizes.step
    lot = facts.PISTON.between * draws.one() + gauge_error(bench.seed, "mic-piston", build.on("receive"))
    unit = 5 * facts.TENTH if build.family.inch else 10.0
    gap = round(0.0045 * sizes.bore * sizes.step / unit) * unit
    play = round(150 / unit) * unit
    for i in range(1, build.family.cylinders + 1):
        sd = np.hypot(facts.PISTON.hole, facts.PISTON.reading)
        bench.add(
            ("bench", "receive", "received"),
            "piston_diameter",
            f"cyl-{i}",
            (None, None),
            target + lot + sd * draws.one(),
            target,
            ("mic-piston", "op-4"),
            bench.at("receive", 6 * i),
        )
        bench.add(
            ("bench", "fit", "free"),
            "ring_gap",
            f"cyl-{i}",
            (None, None),
            gap + 25 + 14 * draws.one(),
            gap,
            ("feeler-1", "op-4"),
            bench.at("check", 200 + 4 * i),
            kind="coarse",
        )
    bench.add(
        ("bench", "fit", "caps_torqued"),
        "end_play",
        "whole",
        (None, None),
        play + 14 * draws.one(),
        play,
        ("dial-1", "op-4"),
        bench.at("check", 260),
        kind="coarse",
    )


def readings(build: Build, seed: int) -> Bench:
    """Return all readings of a build in the order in which the steps are done.

    Source: invented for the demo.
    """
    bench = Bench(build, seed)
    small_parts(bench)
    journals, pins = shafts(bench, pins=False), shafts(bench, pins=True)
    tunnel = housings(bench, rods=False)
    if build.number % 3 == 0:
        offsets(bench)
    rods = housings(bench, rods=True)
    shells(bench, False, tunnel, journals)
    shells(bench, True, rods, pins)
    bored(bench)
    honed(bench)
    texture(bench)
    bench.rows.sort(key=lambda row: row.at)
    return bench
