"""Expected intervals of a share, by halving on exact binomial sums in whole numbers; plain Python."""

import json
from fractions import Fraction
from math import comb
from pathlib import Path

OUT = Path(__file__).parents[1] / "reference" / "clopper_pearson_computed.json"
TAIL = Fraction(25, 1000)


def at_least(k, n, p):
    return sum(comb(n, i) * p**i * (1 - p) ** (n - i) for i in range(k, n + 1))


def root(rises, level):
    low, high = Fraction(0), Fraction(1)
    for _ in range(44):
        middle = (low + high) / 2
        low, high = (middle, high) if rises(middle) < level else (low, middle)
    return float((low + high) / 2)


def interval(k, n):
    lower = 0.0 if k == 0 else root(lambda p: at_least(k, n, p), TAIL)
    upper = 1.0 if k == n else root(lambda p: at_least(k + 1, n, p), 1 - TAIL)
    return {"lower": lower, "upper": upper}


def main():
    cases = [
        {"inputs": {"successes": k, "n": n, "confidence": 0.95}, "outputs": interval(k, n), "atol": 1e-11}
        for k, n in ((0, 8), (1, 8), (8, 8), (2, 24), (3, 40), (11, 40))
    ]
    document = {
        "subject": "qc.stats.proportions.clopper_pearson",
        "kind": "computed",
        "source": "C. J. Clopper, E. S. Pearson, Biometrika 26 (1934) 404-413: definition by binomial sums",
        "script": "tests/generate/clopper_pearson.py",
        "cases": cases,
    }
    OUT.write_text(json.dumps(document, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
