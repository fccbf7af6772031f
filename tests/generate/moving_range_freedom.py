"""Expected equivalent degrees of freedom of a mean moving range, by quadrature over three normals."""

import json
from pathlib import Path

import numpy as np

OUT = Path(__file__).parents[1] / "reference" / "moving_range_freedom_computed.json"


def moments():
    # The absolute value has a kink, so each side of it is integrated by itself: given the middle value x,
    # the two ranges are independent and their mean has a closed form.
    x = np.linspace(-9, 9, 20_001)
    density = np.exp(-x * x / 2) / np.sqrt(2 * np.pi)
    nodes, weights = np.polynomial.legendre.leggauss(120)
    given = np.zeros_like(x)
    for sign in (-1, 1):
        t = (nodes + 1) * 9
        other = np.exp(-((x + sign * t[:, None]) ** 2) / 2) / np.sqrt(2 * np.pi)
        given += (weights * 9) @ (t[:, None] * other)
    step = x[1] - x[0]
    mean = (given * density).sum() * step
    product = (given**2 * density).sum() * step
    return mean, 2.0, product


def main():
    mean, square, product = moments()
    cases = []
    for ranges, pairs in ((1, 0), (5, 4), (19, 18), (19, 12), (89, 88)):
        variance = (ranges * (square - mean**2) + 2 * pairs * (product - mean**2)) / ranges**2
        freedom = 1 / (2 * variance / mean**2) + 0.25
        inputs = {"ranges": ranges, "pairs": pairs}
        cases.append({"inputs": inputs, "outputs": {"value": freedom}, "atol": 1e-6})
    document = {
        "subject": "qc.stats.pivotal.moving_range_freedom",
        "kind": "computed",
        "source": "moments of ranges of independent normals by quadrature; 1/(2 cv^2) + 1/4 as for a chi",
        "script": "tests/generate/moving_range_freedom.py",
        "cases": cases,
    }
    OUT.write_text(json.dumps(document, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
