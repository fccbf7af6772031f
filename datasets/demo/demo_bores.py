"""The bores of a build: bored, honed, read again by the final gauge, their texture and honing time."""

from __future__ import annotations

import demo_families as facts
import numpy as np
from demo_bench import ROUND_CLOCKS, Bench, gauge_error, machining_order, shape, worn


def bored(bench: Bench) -> None:
    """Add the boring machine's readings: the size walks down as the insert wears."""
    build, sizes = bench.build, bench.sizes
    draws = bench.draws("bored")
    target = (sizes.bore - facts.BORING_STOCK[build.family.inch]) * sizes.step
    block = facts.BORING.between * draws.one() + gauge_error(bench.seed, "bg-bore-1", build.on("bore"))
    ends = build.family.stations_mm[0], build.family.stations_mm[-1]
    for k, cylinder in enumerate(machining_order(build.family.cylinders), start=1):
        mean = target + worn(facts.BORING, build.bore_bores_before + k) + block
        mean += facts.BORING.in_block * draws.one()
        taper, oval = 1.0 + 0.8 * draws.one(), 2.5 + 0.6 * draws.one()
        for depth, station in enumerate(ends):
            for clock in ROUND_CLOCKS:
                value = mean + shape(taper, 0.0, oval, depth, clock) + 0.8 * draws.one()
                bench.add(
                    ("bore-1", "finish_bore", "plate_off"),
                    "bore_diameter",
                    f"cyl-{cylinder}",
                    (station, clock),
                    value,
                    target,
                    ("bg-bore-1", "op-1"),
                    bench.at("bore", 30 * k),
                    order=k,
                )


def honed(bench: Bench) -> None:
    """Add the final inspection of the honed bores: sized by the operator's own gauge, read by another."""
    build, family = bench.build, bench.build.family
    draws = bench.draws("honed")
    target = bench.sizes.bore * bench.sizes.step
    own = "bg-" + build.hone
    scatter, wear = facts.HONED_BORE, facts.HONE_WEAR["bore_taper"]
    factor = facts.HONE_WEAR_FACTOR[build.hone] * build.wear_factor
    block = (
        facts.HONE_OFFSET[build.hone]
        + scatter.between * draws.one()
        - gauge_error(bench.seed, own, build.day)
    )
    block_taper = wear.between * draws.one()
    block_barrel = -0.5 + 0.3 * draws.one()
    read_too_much = gauge_error(bench.seed, "bg-final", build.day)
    operator = "op-3" if draws.uniform()[0] < 0.2 else f"op-{build.hone[-1]}"
    first, _, last = family.stations_mm
    for k, cylinder in enumerate(machining_order(family.cylinders), start=1):
        mean = target + block + scatter.hole * draws.one()
        taper = worn(wear, build.hone_bores_before + k, factor) + block_taper + wear.in_block * draws.one()
        barrel = block_barrel + 0.6 * draws.one()
        oval = scatter.oval + 0.5 * draws.one()
        for station in family.stations_mm:
            depth = (station - first) / (last - first)
            for clock in family.clocks_deg:
                value = mean + shape(taper, barrel, oval, depth, clock) + read_too_much
                bench.add(
                    (build.hone, "plateau_hone", "plate_on"),
                    "bore_diameter",
                    f"cyl-{cylinder}",
                    (station, clock),
                    value + scatter.reading * draws.one(),
                    target,
                    ("bg-final", operator),
                    bench.at("hone", 35 * k),
                    order=k,
                    sized_with=own,
                )


def texture(bench: Bench) -> None:
    """Add texture and honing time of each bore; both wear and steady figures scatter as logarithms."""
    build = bench.build
    factor = facts.HONE_WEAR_FACTOR[build.hone] * build.wear_factor
    where = (build.hone, "plateau_hone", "plate_on")
    wears = {k: v for k, v in facts.HONE_WEAR.items() if v.relative} | facts.HONE_STEADY
    scattered = build.hone == facts.RA_HONE and (build.day.year, build.day.month) == facts.RA_MONTH
    for characteristic, wear in wears.items():
        draws = bench.draws("texture", characteristic)
        block = wear.between * draws.one()
        inside = wear.in_block * (facts.RA_FACTOR if scattered and characteristic == "ra" else 1.0)
        bias = (wear.between**2 + inside**2) / 2
        timed = characteristic == "minutes_per_bore"
        for k, cylinder in enumerate(machining_order(build.family.cylinders), start=1):
            mean = worn(wear, build.hone_bores_before + k, factor)
            value = mean * float(np.exp(block + inside * draws.one() - bias))
            bench.add(
                where,
                characteristic,
                f"cyl-{cylinder}",
                (None, None),
                value,
                None,
                ("", f"op-{build.hone[-1]}") if timed else ("prof-1", "op-4"),
                bench.at("hone", 35 * k if timed else 330 + 5 * k),
                order=k,
                kind="minutes" if timed else "texture",
            )
