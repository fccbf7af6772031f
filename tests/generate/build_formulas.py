"""Expected size, form, clearance and texture of fixed readings, in exact fractions: only Python is needed."""

import json
import random
from fractions import Fraction
from pathlib import Path

OUT = Path(__file__).parents[1] / "reference"


def bores(seed, groups, stations, directions):
    draw = random.Random(seed)
    return [
        [
            [Fraction(96_000_000 + draw.randint(-9_000, 9_000), 1000) for _ in range(directions)]
            for _ in range(stations)
        ]
        for _ in range(groups)
    ]


def mean(values):
    values = list(values)
    return sum(values, Fraction(0)) / len(values)


def size(bore):
    return mean(d for depth in bore for d in depth)


def out_of_round(bore):
    return max(max(depth) - min(depth) for depth in bore)


def taper(bore):
    return mean(a - b for a, b in zip(bore[0], bore[-1], strict=True))


def taper_range(bore):
    return max(max(along) - min(along) for along in zip(*bore, strict=True))


def barrel(bore, z):
    """Three depths by the definition; more by the normal equations of a parabola, solved by Cramer's rule."""
    y = [mean(depth) for depth in bore]
    if len(y) == 3:
        return y[1] - (y[0] + y[2]) / 2
    t = [(2 * x - z[0] - z[-1]) / Fraction(z[-1] - z[0]) for x in z]
    s = [sum(v**k for v in t) for k in range(5)]
    r = [sum(v**k * w for v, w in zip(t, y, strict=True)) for k in range(3)]
    whole = determinant([[s[0], s[1], s[2]], [s[1], s[2], s[3]], [s[2], s[3], s[4]]])
    square = determinant([[s[0], s[1], r[0]], [s[1], s[2], r[1]], [s[2], s[3], r[2]]])
    return -square / whole


def determinant(m):
    (a, b, c), (d, e, f), (g, h, i) = m
    return a * (e * i - f * h) - b * (d * i - f * g) + c * (d * h - e * g)


def plain(value):
    return [plain(v) for v in value] if isinstance(value, list | tuple) else float(value)


def write(name, subject, source, cases):
    document = {
        "subject": subject,
        "kind": "computed",
        "source": source,
        "script": "tests/generate/build_formulas.py",
        "cases": [
            {"inputs": plain_inputs(inputs), "outputs": {"value": plain(value)}, "atol": 1e-9}
            for inputs, value in cases
        ],
    }
    (OUT / f"{name}_computed.json").write_text(json.dumps(document, indent=1) + "\n", encoding="utf-8")


def plain_inputs(inputs):
    return {key: value if isinstance(value, str) else plain(value) for key, value in inputs.items()}


def forms():
    two, four = bores(1, 3, 3, 2), bores(2, 2, 3, 4)
    practice = "engine shop practice, common practice, no source; evaluated in exact fractions"
    for name, subject, formula in (
        ("bore_size", "qc.derived.bore.bore_size", size),
        ("out_of_round", "qc.derived.form.out_of_round", out_of_round),
        ("taper", "qc.derived.form.taper", taper),
        ("taper_range", "qc.derived.form.taper_range", taper_range),
    ):
        write(name, subject, practice, [({"diameters": b}, [formula(x) for x in b]) for b in (two, four)])
    extremes = [
        [min(d for depth in b for d in depth) for b in two],
        [max(d for depth in b for d in depth) for b in two],
    ]
    write(
        "least_and_greatest",
        "qc.derived.bore.least_and_greatest",
        "ISO 14405-1, two-point sizes (from memory)",
        [({"diameters": two}, extremes)],
    )
    six = bores(3, 2, 6, 3)
    depths = [10, 30, 55, 80, 100, 125]
    write(
        "barrel",
        "qc.derived.form.barrel",
        "Least squares by exact normal equations (Gauss)",
        [
            ({"diameters": two, "stations_mm": [12, 60, 110]}, [barrel(b, [12, 60, 110]) for b in two]),
            ({"diameters": six, "stations_mm": depths}, [barrel(b, depths) for b in six]),
        ],
    )


def parts():
    draw = random.Random(4)
    housing, journal, upper, lower = (
        [[Fraction(base + draw.randint(-6_000, 6_000), 1000) for _ in range(k)] for _ in range(5)]
        for base, k in ((57_000_000, 2), (52_990_000, 4), (1_980_000, 1), (1_981_000, 2))
    )
    trade = (
        "bore square to the joint, mean over stations, less the largest journal (workshop "
        "manuals); exact fractions"
    )
    installed = [mean(h) - 3960 - max(j) for h, j in zip(housing, journal, strict=True)]
    shells = [[x - 3960 for x in h] for h in housing]
    write(
        "clearance_installed",
        "qc.derived.clearance.main_clearance_installed",
        trade,
        [({"shell_bore": shells, "journal": journal}, installed)],
    )
    by_parts = [
        mean(h) - mean(u) - mean(w) - max(j)
        for h, u, w, j in zip(housing, upper, lower, journal, strict=True)
    ]
    write(
        "clearance_by_parts",
        "qc.derived.clearance.by_parts",
        trade,
        [({"housing": housing, "wall_upper": upper, "wall_lower": lower, "journal": journal}, by_parts)],
    )
    skirt = [h[0] - 45 for h in housing]
    write(
        "piston_clearance",
        "qc.derived.clearance.piston_clearance",
        "bore less skirt; exact fractions",
        [({"bore": housing, "skirt": skirt}, [mean(h) - s for h, s in zip(housing, skirt, strict=True)])],
    )
    rvk, mr2 = [Fraction(15, 10), Fraction(7, 10), Fraction(23, 10)], [80, 88, 75]
    write(
        "oil_volume",
        "qc.derived.texture.vo",
        "ISO 13565-2:1996, area A2 of a triangle (from memory); exact fractions",
        [({"rvk": rvk, "mr2": mr2}, [v * (100 - m) / 100 / 2 for v, m in zip(rvk, mr2, strict=True)])],
    )
    residuals = [[Fraction(draw.randint(-900, 900), 100) for _ in range(5)] for _ in range(3)]
    write(
        "adjacent_mains",
        "qc.derived.tunnel.adjacent",
        "limits for adjacent mains in trade text; exact fractions",
        [
            (
                {"residuals": residuals},
                [[abs(a - b) for a, b in zip(r, r[1:], strict=False)] for r in residuals],
            )
        ],
    )
    write(
        "mandrel_indicator",
        "qc.derived.tunnel.offset_from_indicator",
        "geometry of one turn of a mandrel",
        [({"readings": [10, -4, 7]}, [Fraction(5), Fraction(-2), Fraction(7, 2)])],
    )


if __name__ == "__main__":
    forms()
    parts()
