"""What is hidden in the demo shop, in the parameters it was simulated with."""

from __future__ import annotations

import demo_families as facts
from demo_bench import Bench
from demo_files import build_file
from demo_schedule import Build, Plan, Stretch


def series(machine: str, operation: str, characteristic: str, state: str) -> dict:
    """Return the words that name a series; the method is the catalogue's first, or `ends` for taper."""
    return {"machine": machine, "operation": operation, "characteristic": characteristic, "state": state}


def _stretch(stretch: Stretch, ended: bool) -> dict:
    return {
        "event": stretch.event,
        "began_at": stretch.began_at.isoformat(timespec="minutes"),
        "blocks": len(stretch.builds),
        "bores": stretch.bores,
        "finished": ended,
        "builds": [b.name for b in stretch.builds],
    }


def _stretches(stretches: list[Stretch]) -> list[dict]:
    return [_stretch(s, s is not stretches[-1]) for s in stretches]


def stone_wear(plan: Plan) -> dict:
    """Return the fast last stretch of hone-1: where each figure stands and when its line meets the limit."""
    its = plan.stretches["hone-1"]
    last = its[-1]
    figures = []
    for characteristic in ("bore_taper", "rpk", "rk"):
        wear, limit = facts.HONE_WEAR[characteristic], facts.upper_limit(characteristic)
        slope = wear.slope * facts.LAST_STRETCH_FACTOR
        crossing = (limit - wear.start) / slope
        left = crossing - last.bores
        figures.append(
            {
                **series("hone-1", "plateau_hone", characteristic, "plate_on"),
                "unit": "um",
                "limit": limit,
                "toward": "upper",
                "start": wear.start,
                "slope_per_bore_usual": wear.slope,
                "slope_per_bore_last_stretch": slope,
                "level_after_last_block": wear.start + slope * last.bores,
                "bores_from_change_to_limit": crossing,
                "bores_to_limit": left,
                "blocks_to_limit": left / (last.bores / len(last.builds)),
            }
        )
    return {
        "what": "stones of the last stretch wear 2.4 times as fast as usual; sizes stay put",
        "machine": "hone-1",
        "condition": "drifting",
        "since": last.began_at.isoformat(timespec="minutes"),
        "figures": figures,
        "also_climbs_without_limit": series("hone-1", "plateau_hone", "minutes_per_bore", "plate_on"),
        "stays": series("hone-1", "plateau_hone", "bore_diameter", "plate_on"),
        "factor": facts.LAST_STRETCH_FACTOR,
        "stretches": _stretches(its),
    }


def insert_wear(plan: Plan) -> dict:
    """Return the walk of the boring machine's size with its insert."""
    return {
        "what": "the finish bore size walks down as the insert wears and jumps back at each insert_changed",
        **series("bore-1", "finish_bore", "bore_diameter", "plate_off"),
        "unit": "um",
        "start": facts.BORING.start,
        "slope_per_bore": facts.BORING.slope,
        "toward": "lower",
        "lower_limit": -20,
        "condition": "steady: wear keeps to its slope and is reset before the limit",
        "stretches": _stretches(plan.stretches["bore-1"]),
    }


def gauge_fault(plan: Plan) -> dict:
    """Return the three weeks in which the final gauge reads large."""
    inside = [b for b in plan.builds if facts.FAULT_FROM <= b.day < facts.FAULT_UNTIL]
    return {
        "what": "the final-inspection gauge reads large; true sizes and the operators' gauges are right",
        "gauge": facts.FAULT_GAUGE,
        "amount": facts.FAULT_AMOUNT,
        "unit": "um",
        "from": facts.FAULT_FROM.isoformat(),
        "until": facts.FAULT_UNTIL.isoformat(),
        "ended_by": {"event": "gauge_reset", "at": f"{facts.FAULT_UNTIL.isoformat()}T07:00"},
        "start_is_logged": False,
        "builds": {h: [b.name for b in inside if b.hone == h] for h in ("hone-1", "hone-2")},
        "shows_in": [
            series("hone-1", "plateau_hone", "bore_diameter", "plate_on"),
            series("hone-2", "plateau_hone", "bore_diameter", "plate_on"),
            series("bench", "fit", "piston_clearance", "plate_on"),
            series(facts.FAULT_GAUGE, "check", "master_check", "unstated"),
        ],
        "quiet": [
            series(g.name, "check", "master_check", "unstated")
            for g in facts.GAUGES
            if g.master and g.name != facts.FAULT_GAUGE
        ],
    }


def uneven_ra(plan: Plan) -> dict:
    """Return the month in which Ra scatters more inside the block."""

    def of(month: tuple[int, int]) -> list[Build]:
        return [b for b in plan.builds if b.hone == facts.RA_HONE and (b.day.year, b.day.month) == month]

    ra = facts.HONE_STEADY["ra"]
    return {
        "what": "bore to bore spread of Ra inside the block grows in one month; its level stays",
        **series(facts.RA_HONE, "plateau_hone", "ra", "plate_on"),
        "unit": "um",
        "month": "{}-{:02d}".format(*facts.RA_MONTH),
        "month_before": "{}-{:02d}".format(*facts.RA_MONTH_BEFORE),
        "spread_ratio": facts.RA_FACTOR,
        "mean": ra.start,
        "relative_spread_in_block_usual": ra.in_block,
        "relative_spread_in_block_month": ra.in_block * facts.RA_FACTOR,
        "relative_spread_between_blocks": ra.between,
        "builds": [b.name for b in of(facts.RA_MONTH)],
        "builds_before": [b.name for b in of(facts.RA_MONTH_BEFORE)],
    }


def tight_family(plan: Plan) -> dict:
    """Return the family whose main clearances miss their plan since its journals are ground large."""
    of_family = [b for b in plan.builds if b.family.name == facts.TIGHT_FAMILY]
    return {
        "what": "main clearances come out too tight: main journals are ground large, and one shell grade "
        "only is sold for this engine, so no choice of shells takes it up",
        "engine": facts.TIGHT_FAMILY,
        "since": facts.TIGHT_FROM.isoformat(),
        "unit": "um",
        "journal_off_target": facts.TIGHT_AMOUNT,
        "main_clearance_off_plan": -facts.TIGHT_AMOUNT,
        "also_off_plan": "about -1 um in every build: the largest of four readings of a journal counts",
        "part": series("crank-grinder-1", "journal_grind", "journal_diameter", "free"),
        "shows_in": series("bench", "fit", "main_clearance", "caps_torqued"),
        "builds": [b.name for b in of_family if b.tight],
        "builds_before": [b.name for b in of_family if not b.tight],
        "right": ["pin_diameter", "rod_clearance", "tunnel_diameter", "shell_wall"],
    }


def mistyped_file(benches: list[Bench]) -> dict:
    """Return the build file in which two bores are typed in inches."""
    bench = next(b for b in benches if b.build.mistyped)
    cells = len(bench.build.family.stations_mm) * len(bench.build.family.clocks_deg) * 2
    return {
        "what": "the honed bores of two cylinders are typed in inches in a file in mm; all else is right",
        "file": build_file(bench)[0],
        "build": bench.build.name,
        "machine": bench.build.hone,
        "operation": "plateau_hone",
        "characteristic": "bore_diameter",
        "features": ["cyl-3", "cyl-4"],
        "cells": cells,
        "about": bench.sizes.bore * bench.sizes.step / 25_400,
        "column": "value",
    }


def steady() -> list[dict]:
    """Return the series in which nothing is hidden."""
    kept = [
        series("hone-2", "plateau_hone", what, "plate_on")
        for what in ("bore_taper", "bore_barrel", "bore_out_of_round", "rk", "rpk", "rvk", "minutes_per_bore")
    ]
    kept += [
        series("hone-1", "plateau_hone", what, "plate_on")
        for what in ("bore_barrel", "bore_out_of_round", "ra", "rvk")
    ]
    return [
        *kept,
        series("bore-1", "finish_bore", "bore_diameter", "plate_off"),
        series("line-hone-1", "line_hone", "tunnel_diameter", "caps_torqued"),
        series("rod-hone-1", "rod_hone", "rod_bore_diameter", "caps_torqued"),
        series("crank-grinder-1", "journal_grind", "pin_diameter", "free"),
        series("bench", "receive", "shell_wall", "received"),
        series("bench", "receive", "piston_diameter", "received"),
        series("bench", "fit", "rod_clearance", "caps_torqued"),
        series("bench", "fit", "ring_gap", "free"),
        series("bench", "fit", "end_play", "caps_torqued"),
    ]


def spreads() -> dict:
    """Return the simulated standard deviations [um]: between blocks, hole in the block, one reading."""
    named = {
        "bore_diameter, honed": facts.HONED_BORE,
        "tunnel_diameter": facts.TUNNEL,
        "rod_bore_diameter": facts.ROD_BORE,
        "journal_diameter": facts.JOURNAL,
        "pin_diameter": facts.PIN,
        "shell_wall": facts.SHELL,
        "piston_diameter": facts.PISTON,
    }
    return {
        name: {
            "between_blocks": s.between,
            "hole_in_block": s.hole,
            "reading": s.reading,
            "mean_oval": s.oval,
        }
        for name, s in named.items()
    } | {"gauge_setting_of_the_day": facts.GAUGE_DAY}


def truth_of(seed: int, plan: Plan, benches: list[Bench]) -> dict:
    """Return everything hidden in the shop of this seed, ready for JSON.

    Source: the parameters of the simulation.
    """
    return {
        "seed": seed,
        "zone": facts.ZONE,
        "builds": len(plan.builds),
        "readings": sum(len(b.rows) for b in benches),
        "first_day": facts.FIRST_DAY.isoformat(),
        "last_day": facts.LAST_DAY.isoformat(),
        "stone_wear": stone_wear(plan),
        "insert_wear": insert_wear(plan),
        "gauge_fault": gauge_fault(plan),
        "uneven_ra": uneven_ra(plan),
        "tight_family": tight_family(plan),
        "mistyped_file": mistyped_file(benches),
        "usual_wear_hone_2": _stretches(plan.stretches["hone-2"]),
        "steady": steady(),
        "spreads": spreads(),
    }
