"""Slips in the figures themselves: another unit, a lost point, exchanged digits, a wrong sign or column.

The kinds are those of the trade as we know it (common practice, no source for how often each comes). Each
function changes rows in place and tells which it touched and in what way; which of them anybody could have
seen is worked out by `slips.py`.
"""

from fractions import Fraction

from tests.generate.slip_desk import (
    Desk,
    Impossible,
    Made,
    decimals,
    is_deviation,
    is_large,
    is_size,
    key_in,
    rewrite,
    value,
)  # fmt: skip
from tests.generate.slip_shop import IN_UM


def unit_slip(desk: Desk) -> Made:
    rng, rows = desk.rng, desk.rows
    how = rng.choice(("value", "value", "cell", "texture"))
    if how == "texture":
        some = desk.part(desk.group(key_in("ra", "rz", "rk", "rpk")))
        for i in some:
            um = rows[i].cells["unit"] == "um"
            size = value(rows[i]) / IN_UM["uin"] if um else value(rows[i]) * IN_UM["uin"]
            rows[i].cells["value"] = f"{float(size):.1f}" if um else f"{float(size):.2f}"
        return Made("uin beside um", some)
    some = desk.part(desk.group(is_size))
    for i in some:
        cells = rows[i].cells
        other = {"mm": "in", "in": "mm"}[cells["unit"]]
        if how == "cell":
            cells["unit"] = other
        else:
            size = value(rows[i]) * IN_UM[cells["unit"]] / IN_UM[other]
            cells["value"] = f"{float(size):.{4 if other == 'in' else 3}f}"
    return Made("unit cell" if how == "cell" else "value in the other unit", some)


def decimal_slip(desk: Desk) -> Made:
    rng, rows = desk.rng, desk.rows
    table = desk.group(lambda r: "." in r.cells["value"])
    some = sorted(rng.sample(table, rng.choice((1, 1, 1, 2, 3))))
    for i in some:
        text = rows[i].cells["value"]
        whole, _, part = text.partition(".")
        ways = ["left", "right", "lost"]
        if "0" in part[:-1]:
            ways += ["zero"] * 4
        way = rng.choice(ways)
        if way == "zero":
            k = part.index("0")
            text = f"{whole}.{part[:k]}{part[k + 1 :]}"
        elif way == "lost":
            text = whole + part
        else:
            text = str(float(Fraction(text) * (Fraction(1, 10) if way == "left" else 10)))
        rows[i].cells["value"] = text
    return Made("point or nought", some)


def transposed(desk: Desk) -> Made:
    rng, rows = desk.rng, desk.rows
    table = desk.group(lambda r: len(r.cells["value"].strip("-").replace(".", "")) > 1)
    some = sorted(rng.sample(table, rng.choice((1, 1, 1, 2))))
    changed = []
    for i in some:
        text = rows[i].cells["value"]
        pairs = [
            k for k in range(len(text) - 1)
            if text[k].isdigit() and text[k + 1].isdigit() and text[k] != text[k + 1]
        ]  # fmt: skip
        if pairs:
            k = rng.choice(pairs)
            rows[i].cells["value"] = text[:k] + text[k + 1] + text[k] + text[k + 2 :]
            changed.append(i)
    if not changed:
        raise Impossible
    return Made("two digits exchanged", changed)


def mixed_forms(desk: Desk) -> Made:
    rng, rows = desk.rng, desk.rows
    deviations = any(map(is_deviation, rows)) and rng.random() < 0.5
    fits = is_deviation if deviations else (lambda r: is_size(r) and bool(r.cells.get("target")))
    some = desk.part(desk.group(fits))
    unit = rng.choice(("thou", "tenth")) if desk.plan.engine.unit == "in" else "um"
    for i in some:
        cells = rows[i].cells
        target = Fraction(cells["target"])
        if deviations:
            size = target + value(rows[i]) * IN_UM[cells["unit"]] / IN_UM[desk.plan.engine.unit]
            cells["value"] = f"{float(size):.{decimals(cells['target']) + 1}f}".rstrip("0")
        else:
            off = (value(rows[i]) - target) * IN_UM[cells["unit"]] / IN_UM[unit]
            cells["value"] = f"{float(off):+.{1 if unit == 'thou' else 0}f}"
    return Made("sizes among deviations" if deviations else "deviations among sizes", some)


def deviation_unit(desk: Desk) -> Made:
    rng, rows = desk.rng, desk.rows
    table = desk.group(is_deviation)
    declared = rows[table[0]].cells["unit"]
    meant = rng.choice({"um": ("tenth", "thou", "mm"), "tenth": ("thou", "um")}[declared])
    digits = {"um": 0, "tenth": 1, "thou": 1, "mm": 3}[meant]
    for i in table:
        size = value(rows[i]) * IN_UM[declared] / IN_UM[meant]
        rows[i].cells["value"] = f"{float(size):.{digits}f}"
    return Made(f"{meant} under {declared}", table)


def sign_lost(desk: Desk) -> Made:
    rng, rows = desk.rng, desk.rows
    table = desk.group(is_deviation)
    some = desk.part(table)
    lost = rng.random() < 0.6
    changed = []
    for i in some:
        text = rows[i].cells["value"]
        if text.startswith("-"):
            rows[i].cells["value"] = text[1:]
            changed.append(i)
        elif not lost and float(text):
            rows[i].cells["value"] = "-" + text
            changed.append(i)
    if not changed:
        raise Impossible
    return Made("sign lost" if lost else "signs reversed", changed)


def wrong_nominal(desk: Desk) -> Made:
    rng, rows, engine = desk.rng, desk.rows, desk.plan.engine
    table = desk.group(key_in("bore_diameter", "piston_diameter"))
    off = rng.choice((250, 500, -250) if engine.unit == "mm" else (254, 508, -254))
    by_target = bool(rows[table[0]].cells.get("target")) and rng.random() < 0.6
    if not by_target and is_deviation(rows[table[0]]):
        by_target = True
    for i in table:
        cells = rows[i].cells
        column = "target" if by_target else "value"
        unit = engine.unit if by_target else cells["unit"]
        size = Fraction(cells[column]) + off / IN_UM[unit]
        cells[column] = f"{float(size):.{decimals(cells[column])}f}"
        for limit in ("lower", "upper"):
            if by_target and cells.get(limit):
                cells[limit] = f"{float(Fraction(cells[limit]) + off / IN_UM[unit]):.3f}"
    return Made("target of another oversize" if by_target else "gauge set to another oversize", table)


def permuted(desk: Desk) -> Made:
    rng, rows = desk.rng, desk.rows
    table = desk.group(key_in("bore_diameter", "tunnel_diameter", "piston_diameter"), 8)
    holes = list(dict.fromkeys(rows[i].cells["feature"] for i in table))
    how, n = rng.choice(("reversed", "banks", "two")), len(holes)
    if how == "reversed":
        order = holes[::-1]
    elif how == "banks":
        order = holes[n // 2 :] + holes[: n // 2]
    else:
        order, k = list(holes), rng.randrange(n - 1)
        order[k], order[k + 1] = order[k + 1], order[k]
    there = {(rows[i].cells["feature"], rows[i].cells["station_mm"], rows[i].cells["clock_deg"]):
             rows[i].cells["value"] for i in table}  # fmt: skip
    from_hole = dict(zip(holes, order, strict=True))
    touched = []
    for i in table:
        cells = rows[i].cells
        if from_hole[cells["feature"]] != cells["feature"]:
            place = (from_hole[cells["feature"]], cells["station_mm"], cells["clock_deg"])
            cells["value"] = there[place]
            touched.append(i)
    return Made(f"holes {how}", touched)


def dial_turned(desk: Desk) -> Made:
    rng, rows = desk.rng, desk.rows
    some = desk.part(desk.group(key_in("bore_diameter", "tunnel_diameter")))
    off = rng.choice((-1, 1)) * (Fraction(500) if desk.plan.engine.unit == "mm" else Fraction(254))
    for i in some:
        rewrite(rows[i], value(rows[i]) * IN_UM[rows[i].cells["unit"]] + off)
    return Made("one revolution", some)


def half_size(desk: Desk) -> Made:
    rng, rows = desk.rng, desk.rows
    some = desk.part(desk.group(is_large))
    twice = rows[some[0]].cells["characteristic"] == "shell_wall" or rng.random() < 0.15
    for i in some:
        size = value(rows[i]) * (2 if twice else Fraction(1, 2))
        rows[i].cells["value"] = f"{float(size):.{decimals(rows[i].cells['value'])}f}"
    return Made("twice" if twice else "radius", some)


def wrong_characteristic(desk: Desk) -> Made:
    rng, rows = desk.rng, desk.rows
    pairs = [("shell_bore", "tunnel_diameter"), ("tunnel_diameter", "shell_bore"),
             ("journal_diameter", "tunnel_diameter"), ("piston_diameter", "bore_diameter"),
             ("rk", "ra"), ("rz", "ra"), ("ra", "rpk")]  # fmt: skip
    there = {r.cells["characteristic"] for r in rows}
    pairs = [(a, b) for a, b in pairs if a in there]
    was, told = rng.choice(pairs)
    some = [i for i, r in enumerate(rows) if r.cells["characteristic"] == was]
    for i in some:
        rows[i].cells["characteristic"] = told
    return Made(f"{was} entered as {told}", some, set(some))


def nought_for_missing(desk: Desk) -> Made:
    rng, rows = desk.rng, desk.rows
    table = desk.group(lambda r: True)
    some = sorted(rng.sample(table, rng.choice((1, 1, 2, 3, min(6, len(table))))))
    word = rng.choice(("0", "same", "same", "N/A", "-"))
    touched = []
    for i in some:
        text = rows[i].cells["value"]
        new = word if word != "same" else f"{0:.{decimals(text)}f}"
        if new != text:
            rows[i].cells["value"] = new
            touched.append(i)
    if not touched:
        raise Impossible
    return Made("nought" if word in ("0", "same") else word, touched)
