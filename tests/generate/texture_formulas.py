"""Expected filters and figures of short profiles, by plain sums over every neighbour: only Python is needed.

`python -m tests.generate.texture_formulas` writes the cases beside the other reference numbers.
"""

import json
import math
import random
from pathlib import Path

OUT = Path(__file__).parents[1] / "reference"
ALPHA = math.sqrt(math.log(2) / math.pi)


def root(low, high):
    """u of (1 + u) exp(-u) = 1/2 by halving: alpha of the regression of second degree is sqrt(u / pi)."""
    for _ in range(200):
        middle = (low + high) / 2
        low, high = (middle, high) if (1 + middle) * math.exp(-middle) > 0.5 else (low, middle)
    return math.sqrt(low / math.pi)


ALPHA_SECOND = root(1.0, 3.0)


def profile(seed, points, valleys=True):
    draw = random.Random(seed)
    found = []
    for i in range(points):
        z = 0.4 * math.sin(2 * math.pi * i / 90) + 0.002 * i + draw.gauss(0, 0.15)
        found.append(z - draw.uniform(1, 3) if valleys and draw.random() < 0.06 else z)
    return [round(v, 6) for v in found]


def line_removed(z):
    n = len(z)
    mx, mz = (n - 1) / 2, math.fsum(z) / n
    sxx = math.fsum((i - mx) ** 2 for i in range(n))
    slope = math.fsum((i - mx) * (v - mz) for i, v in enumerate(z)) / sxx
    return [v - mz - slope * (i - mx) for i, v in enumerate(z)]


def gaussian(z, spacing, cutoff):
    half = math.ceil(cutoff / spacing)
    found = []
    for i in range(len(z)):
        near = range(max(0, i - half), min(len(z), i + half + 1))
        w = [math.exp(-math.pi * ((j - i) * spacing / (ALPHA * cutoff)) ** 2) for j in near]
        found.append(math.fsum(a * z[j] for a, j in zip(w, near, strict=True)) / math.fsum(w))
    return found


def two_stage(z, spacing, cutoff):
    first = gaussian(z, spacing, cutoff)
    return gaussian([max(v, m) for v, m in zip(z, first, strict=True)], spacing, cutoff)


def robust_gaussian(z, spacing, cutoff):
    n, half = len(z), math.ceil(2 * cutoff / spacing)
    believed, before = [1.0] * n, math.inf
    for _ in range(200):
        line = [parabola(z, believed, i, half, spacing, cutoff) for i in range(n)]
        away = [v - m for v, m in zip(z, line, strict=True)]
        sizes = sorted(abs(v) for v in away)
        c = 4.4478 * (sizes[n // 2] + sizes[(n - 1) // 2]) / 2
        if abs(before - c) <= 1e-12 * c:
            return line
        before = c
        believed = [(1 - (v / c) ** 2) ** 2 if abs(v) < c else 0.0 for v in away]
    return line


def parabola(z, believed, i, half, spacing, cutoff):
    near = range(max(0, i - half), min(len(z), i + half + 1))
    rows = [[0.0] * 4 for _ in range(3)]
    for j in near:
        x = (j - i) * spacing
        w = believed[j] * math.exp(-math.pi * (x / (ALPHA_SECOND * cutoff)) ** 2)
        for a in range(3):
            for b in range(3):
                rows[a][b] += w * x ** (a + b)
            rows[a][3] += w * x**a * z[j]
    return solved(rows)[0]


def solved(rows):
    """Gaussian elimination with the largest pivot."""
    rows = [list(row) for row in rows]
    n = len(rows)
    for k in range(n):
        best = max(range(k, n), key=lambda r: abs(rows[r][k]))
        rows[k], rows[best] = rows[best], rows[k]
        for r in range(n):
            if r != k:
                f = rows[r][k] / rows[k][k]
                rows[r] = [a - f * b for a, b in zip(rows[r], rows[k], strict=True)]
    return [rows[k][n] / rows[k][k] for k in range(n)]


def write(name, subject, source, cases, kind="computed", atol=1e-9):
    script = "tests/generate/texture_formulas.py"
    document = {"subject": subject, "kind": kind, "source": source, "script": script}
    document["cases"] = [
        {"inputs": i, "outputs": o if isinstance(o, dict) else {"value": o}, "atol": atol} for i, o in cases
    ]
    text = json.dumps(document, indent=1)
    (OUT / f"{name}.json").write_text(text + "\n", encoding="utf-8")


def filters():
    z = profile(7, 240)
    asked = {"z": z, "spacing": 0.5, "cutoff": 20.0}
    write("line_removed_computed", "qc.derived.profile_filter.line_removed",
          "least-squares line of ISO 21920-2 / ISO 3274, summed term by term",
          [({"z": z}, line_removed(z)), ({"z": [1.0, 3.0, 2.0]}, [-0.5, 1.0, -0.5])])  # fmt: skip
    write("gaussian_line_computed", "qc.derived.profile_filter.gaussian",
          "ISO 16610-21:2011 weights, renormalised at the ends, summed over every neighbour",
          [(asked, gaussian(**asked))])  # fmt: skip
    write("two_stage_line_computed", "qc.derived.profile_filter.two_stage",
          "ISO 13565-1:1996 (from memory): two Gaussian lines, valleys raised to the first one",
          [(asked, two_stage(**asked))])  # fmt: skip
    # ours stops where c moves by less than 1e-7, cuts its window at 1.6 cut-offs and takes alpha as 0.73091
    write("robust_line_computed", "qc.derived.profile_filter.robust_gaussian",
          "ISO 16610-31:2016 (from memory): parabolas by elimination, biweight of 4.4478 medians",
          [(asked, robust_gaussian(**asked))], atol=2e-5)  # fmt: skip


def acceptance():
    """Steps of the rule as recalled; limit 1.0."""
    said = [
        ([0.70], "conforms", 1, 0),
        ([0.71], "measure_more", 1, 0),
        ([0.9, 0.95, 1.0], "conforms", 3, 0),
        ([0.9, 1.2, 0.8, 0.9], "measure_more", 4, 1),
        ([0.9, 1.2, 0.8, 0.9, 0.8, 1.0], "conforms", 6, 1),
        ([0.9, 1.2, 0.8, 0.9, 1.1, 1.0, 0.9, 0.9, 0.9, 0.9, 0.9, 0.9], "conforms", 12, 2),
        ([0.9, 1.2, 0.8, 0.9, 1.1, 1.0, 1.3], "does_not_conform", 7, 3),
    ]
    cases = [
        ({"values": v, "limit": 1.0}, {"measured": n, "beyond": k, "verdict": verdict})
        for v, verdict, n, k in said
    ]
    document = {
        "id": "sixteen_percent_steps",
        "source": "ISO 4288:1996, annex A, steps of the 16 % rule (from memory)",
        "cases": [{"inputs": i, "expected": o} for i, o in cases],
    }  # fmt: skip
    text = json.dumps(document, indent=1)
    (OUT / "sixteen_percent_steps.json").write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    filters()
    acceptance()
