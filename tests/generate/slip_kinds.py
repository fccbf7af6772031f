"""The twenty kinds of slips; here those of whole sheets: copied, filled down, misdated, rounded, shifted."""

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

from tests.generate import slip_figures as figures
from tests.generate.slip_desk import (
    Desk,
    Impossible,
    Made,
    decimals,
    is_deviation,
    key_in,
    rewrite,
    value,
)  # fmt: skip
from tests.generate.slip_shop import COLUMNS, IN_UM, Engine, Row


def copied_sheet(desk: Desk) -> Made:
    rng, rows, plan = desk.rng, desk.rows, desk.plan
    older = [p for p in desk.shop.plans[: desk.after] if p.engine is plan.engine and p.over == plan.over]
    if not older:
        raise Impossible
    one = rng.choice(older[-3:])
    tables = {r.block for r in rows if r.cells["characteristic"] == "bore_diameter"}
    copied = rng.choice((*sorted(tables), None))
    there = {}
    for r in (r for sheet in desk.shop.files(one) for r in sheet):
        there[r.block, r.cells["feature"], r.cells["station_mm"], r.cells["clock_deg"]] = r.cells
    touched = []
    for i, r in enumerate(rows):
        cells = there.get((r.block, r.cells["feature"], r.cells["station_mm"], r.cells["clock_deg"]))
        if cells is not None and copied in (None, r.block):
            for column in ("value", "target", "lower", "upper"):
                if column in cells:
                    r.cells[column] = cells[column]
            touched.append(i)
    return Made("whole sheet" if copied is None else "one table", touched, set(touched))


def by_chance(texts: list[str], run: int) -> float:
    """Chance of a run as long as this, from how often true neighbours in the table read alike."""
    alike = sum(a == b for a, b in zip(texts[:-1], texts[1:], strict=True))
    return float(((alike + 1) / (len(texts) + 1)) ** (run - 1))


def filled_down(desk: Desk) -> Made:
    rng, rows = desk.rng, desk.rows
    table = desk.group(lambda r: True, 12)
    run = rng.choice((5, 6, 8, 12, 16, 24))
    start = rng.randrange(max(1, len(table) - run))
    some = table[start : start + run]
    texts = [rows[i].cells["value"] for i in table]
    first = rows[some[0]].cells["value"]
    changed = [i for i in some if rows[i].cells["value"] != first]
    for i in changed:
        rows[i].cells["value"] = first
    if not changed:
        raise Impossible
    unread = len(some) >= 6 and 2 * len(changed) >= len(some) and by_chance(texts, len(some)) < 1e-3
    return Made(f"{run} cells", changed, set(changed) if unread else set())


def wrong_date(desk: Desk) -> Made:
    rng, rows = desk.rng, desk.rows
    how = rng.choice(("swapped", "swapped", "year", "slashes", "one"))
    some = list(range(len(rows))) if how != "one" else desk.part(desk.group(lambda r: True))
    touched = []
    for i in some:
        text = rows[i].cells["measured_at"]
        year, month, rest = int(text[:4]), text[5:7], text[10:]
        day, new = text[8:10], text
        if how in ("swapped", "one"):
            new = f"{year}-{day}-{month}{rest}" if int(day) <= 12 else text
        elif how == "year":
            new = f"{year - 1}{text[4:]}"
        else:
            new = f"{day}/{month}/{year} {rest[1:6]}"
        if new != text:
            rows[i].cells["measured_at"] = new
            touched.append(i)
    if not touched:
        raise Impossible
    return Made(how, touched, set(touched))


def not_zeroed(desk: Desk) -> Made:
    rng, rows = desk.rng, desk.rows
    gauges = sorted({r.cells["gauge"] for r in rows} - {"trace-1", "leaf-1", "dial-7"})
    gauge = rng.choice(gauges)
    mine = [i for i, r in enumerate(rows) if r.cells["gauge"] == gauge]
    off = rng.choice((-1, 1)) * rng.choice((8, 10, 12, 15, 20, 25))
    for i in mine:
        step = Fraction(rows[i].step).limit_denominator(10000)
        rewrite(rows[i], value(rows[i]) * IN_UM[rows[i].cells["unit"]] + round(off / step) * step)
    return Made(f"{gauge} reads {off:+d} um", mine)


def mixed_states(desk: Desk) -> Made:
    rng, rows = desk.rng, desk.rows
    if rng.random() < 0.3:
        table = desk.group(key_in("tunnel_diameter"))
        some = desk.part(table)
        some = [i for i in table if rows[i].cells["feature"] in {rows[k].cells["feature"] for k in some}]
        loose = rng.uniform(15, 40)
        for i in some:
            off = {"0": loose}.get(rows[i].cells["clock_deg"], -0.2 * loose)
            size = value(rows[i]) * IN_UM[rows[i].cells["unit"]] + Fraction(off).limit_denominator(100)
            step = Fraction(rows[i].step).limit_denominator(10000)
            rewrite(rows[i], round(size / step) * step)
        return Made("caps loose", some, set(some))
    table = desk.group(lambda r: r.block[0] == "plateau_hone" and r.block[2] == "bore_diameter")
    state = rows[table[0]].cells["state"]
    there = {(r.cells["feature"], r.cells["station_mm"], r.cells["clock_deg"]): r for r in rows
             if r.block[0] == "plateau_hone" and r.block[2] == "bore_diameter"
             and r.cells["state"] != state}  # fmt: skip
    holes = sorted({rows[i].cells["feature"] for i in table})
    many = rng.choice((1, 2, len(holes) // 2, len(holes)))
    read = rng.sample(holes, many)
    some = [i for i in table if rows[i].cells["feature"] in read]
    for i in some:
        other = there[rows[i].cells["feature"], rows[i].cells["station_mm"], rows[i].cells["clock_deg"]]
        step = Fraction(rows[i].step).limit_denominator(10000)
        size = value(other) * IN_UM[other.cells["unit"]] + round(rng.gauss(0, 0.6) / step) * step
        rewrite(rows[i], size)
    return Made(f"{state} is not true of {many} holes", some, set(some))


def on_target(table: list[Row], run: int) -> float:
    """Chance of so many readings on their targets, from how often true ones of the table are."""
    nominal = sum(value(r) == (0 if is_deviation(r) else Fraction(r.cells["target"])) for r in table)
    return float(((nominal + 1) / (len(table) + 1)) ** run)


def rounded(desk: Desk) -> Made:
    rng, rows = desk.rng, desk.rows
    how = rng.choice(("nominal", "nominal", "hundredth", "fives"))
    if how == "nominal":
        table = desk.group(lambda r: bool(r.cells.get("target")) or is_deviation(r), 6)
    else:
        table = desk.group(lambda r: r.cells["unit"] in ("mm", "in") and r.step < 3 and r.spread < 9, 12)
    some = desk.part(table) if how == "nominal" else table
    touched = []
    before = [rows[i].copy() for i in table]
    for i in some:
        cells = rows[i].cells
        if how == "nominal":
            new = "0" if is_deviation(rows[i]) else cells["target"]
        else:
            grain = {"mm": (10, 5), "in": (Fraction(127, 10), Fraction(127, 10))}[cells["unit"]]
            size = value(rows[i]) * IN_UM[cells["unit"]]
            step = Fraction(grain[0] if how == "hundredth" else grain[1])
            new = f"{float(round(size / step) * step / IN_UM[cells['unit']]):.{decimals(cells['value'])}f}"
        if Fraction(new) != value(rows[i]):
            cells["value"] = new
            touched.append(i)
    if not touched:
        raise Impossible
    unread = how == "nominal" and len(some) >= 6 and on_target(before, len(some)) < 1e-3
    return Made(how, touched, set(touched) if unread else set())


def shifted(desk: Desk) -> Made:
    rng, rows = desk.rng, desk.rows
    how = rng.choice(("texture", "texture", "cells", "exchanged", "rows"))
    if how == "texture":
        keys = [k for k in ("ra", "rz", "rk", "rpk") if any(r.cells["characteristic"] == k for r in rows)]
        if len(keys) < 4:
            raise Impossible
        holes = sorted({r.cells["feature"] for r in rows if r.cells["characteristic"] == "ra"})
        read = rng.sample(holes, rng.choice((1, 3, len(holes))))
        by = {(r.cells["characteristic"], r.cells["feature"]): r.cells["value"] for r in rows}
        some = [i for i, r in enumerate(rows)
                if r.cells["characteristic"] in keys and r.cells["feature"] in read]  # fmt: skip
        for i in some:
            cells = rows[i].cells
            from_key = keys[(keys.index(cells["characteristic"]) + 1) % 4]
            cells["value"] = by[from_key, cells["feature"]]
        return Made("texture columns", some)
    table = desk.group(lambda r: True, 8)
    start = rng.randrange(len(table) - 4)
    some = table[start : start + rng.choice((2, 4, len(table)))]
    if how == "rows":
        some = table[start:]
        texts = [rows[i].cells["value"] for i in some]
        for i, text in zip(some[1:], texts[:-1], strict=True):
            rows[i].cells["value"] = text
        return Made("values a row down", some[1:])
    columns = list(COLUMNS)
    k = columns.index("station_mm")
    for i in some:
        cells = rows[i].cells
        if how == "exchanged":
            cells["order"], cells["value"] = cells["value"], cells.get("order") or str(len(some))
        else:
            old = [cells.get(c, "") for c in columns]
            rows[i].cells = dict(zip(columns, [*old[:k], "", *old[k:-1]], strict=True))
    return Made("cells a column right" if how == "cells" else "order for value", some, set(some))


def older_limits(desk: Desk) -> list[int]:
    plate_on = ("plateau_hone", "plate_on")
    some = desk.group(lambda r: r.block[:2] == plate_on and bool(r.cells.get("lower")))
    for i in some:
        target = float(desk.rows[i].cells["target"])
        desk.rows[i].cells |= {"lower": f"{target - 0.015:.3f}", "upper": f"{target + 0.015:.3f}"}
    return some


def no_temperature(desk: Desk) -> list[int]:
    some = desk.group(key_in("bore_diameter", "tunnel_diameter"))
    for i in some:
        desk.rows[i].cells |= {"part_c": "", "gauge_c": ""}
    return some


def lost_dash(desk: Desk) -> list[int]:
    some = [i for i in desk.group(is_deviation) if desk.rows[i].cells["value"].startswith("-")]
    for i in some:
        desk.rows[i].cells["value"] = desk.rows[i].cells["value"].replace("-", "\u00e2\u20ac\u201c")
    return some


def other_gauge(desk: Desk, *names: str) -> list[int]:
    some = desk.group(key_in("bore_diameter", "tunnel_diameter", "journal_diameter", "piston_diameter"))
    name = desk.rng.choice(names)
    for i in some:
        desk.rows[i].cells["gauge"] = name
    return some


def register_slip(desk: Desk) -> Made:
    engine = desk.plan.engine
    ways: list[tuple[str, Callable[[Desk], list[int]]]] = [
        ("expired", lambda d: other_gauge(d, "bg-old", "mic-old")),
        ("unknown", lambda d: other_gauge(d, "bg-77", "own mic")),
    ]
    if engine.row_limits and any(r.cells.get("lower") for r in desk.rows):
        ways += [("older limits", older_limits)]
    if engine.material == "aluminium":
        ways += [("no temperature", no_temperature)] * 2
    if any(map(is_deviation, desk.rows)):
        ways += [("dash lost", lost_dash)]
    how, make = desk.rng.choice(ways)
    some = make(desk)
    if not some:
        raise Impossible
    return Made(how, some, set(some))


@dataclass(frozen=True)
class Kind:
    """A kind of slip: its name, how it is made, and engines and sheet in which it can happen."""

    name: str
    make: Callable[[Desk], Made]
    fits: Callable[[Engine], bool] = lambda e: True
    sheet: str = "either"


KINDS = {
    1: Kind("unit slip", figures.unit_slip),
    2: Kind("decimal slip", figures.decimal_slip),
    3: Kind("digits exchanged", figures.transposed),
    4: Kind("deviations mixed with sizes", figures.mixed_forms),
    5: Kind("unit of deviations", figures.deviation_unit, lambda e: bool(e.coded_in), "work"),
    6: Kind("sign lost or reversed", figures.sign_lost, lambda e: bool(e.coded_in), "work"),
    7: Kind("wrong nominal or oversize", figures.wrong_nominal),
    8: Kind("holes permuted", figures.permuted),
    9: Kind("copied sheet", copied_sheet),
    10: Kind("filled down", filled_down),
    11: Kind("wrong date", wrong_date),
    12: Kind("gauge not zeroed", not_zeroed),
    13: Kind("dial turned over", figures.dial_turned),
    14: Kind("states mixed", mixed_states, sheet="work"),
    15: Kind("radius for diameter", figures.half_size),
    16: Kind("wrong characteristic", figures.wrong_characteristic),
    17: Kind("nought for missing", figures.nought_for_missing),
    18: Kind("rounded or nominal copied", rounded),
    19: Kind("column shifted", shifted),
    20: Kind("gauge, limits or temperature", register_slip),
}
