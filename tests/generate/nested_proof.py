"""Index to be read to prove a wanted one, and performance inside one block, without this product's code.

One bore a block: noncentral t in 20 digits by its density integral (mpmath), n of 8 to 100. Bores in blocks:
 4,000,000 plain draws of the one-way model with numpy's own chi-square and normal generators.
"""

import json
from pathlib import Path

import numpy as np
from mpmath import mp, mpf, quad

OUT = Path(__file__).parents[1] / "reference" / "nested_proof_computed.json"
WANTED, CONFIDENCE = 1.33, 0.95


def share_below(t, n, delta):
    """P(T <= t) of the noncentral t with n - 1 degrees: average of Phi over chi."""
    v = n - 1

    def part(c):
        density = 2 ** (1 - mpf(v) / 2) / mp.gamma(mpf(v) / 2) * c ** (v - 1) * mp.exp(-c * c / 2)
        return density * mp.ncdf(t * c / mp.sqrt(v) - delta)

    middle = mp.sqrt(v)
    return quad(part, [max(mpf(0), middle - 8), middle, middle + 9])


def to_read(n):
    mp.dps = 20
    delta = 3 * mp.sqrt(n) * mpf(WANTED)
    low, high = delta, 6 * delta
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if share_below(middle, n, delta) < CONFIDENCE else (low, middle)
    return float((low + high) / 2 / (3 * mp.sqrt(n)))


def in_blocks(values):
    """Index to be read for bores in equal blocks, by plain draws of both variances and the mean."""
    m, h = values.shape
    means = values.mean(axis=1)
    between, within = h * ((means - means.mean()) ** 2).sum(), ((values - means[:, None]) ** 2).sum()
    draw, needs = np.random.default_rng(20261125), []
    for _ in range(8):
        vb = between / draw.chisquare(m - 1, 500_000)
        ve = within / draw.chisquare(m * h - m, 500_000)
        mean = means.mean() - draw.normal(size=500_000) * np.sqrt(vb / (m * h))
        sd = np.sqrt(np.maximum(0, (vb - ve) / h) + ve)
        needs.append(mean + 3 * WANTED * sd)
    limit = float(np.quantile(np.concatenate(needs), CONFIDENCE))
    return (limit - values.mean()) / (3 * values.std(ddof=1))


def main():
    draw = np.random.default_rng(7)
    blocks = [np.round(draw.normal(0, b, (m, 1)) + draw.normal(0, 1, (m, h)), 2)
              for b, m, h in ((0.0, 12, 4), (1.0, 20, 8), (2.0, 40, 6))]  # fmt: skip
    document = {
        "id": "nested_proof_computed",
        "checks": "index to be read to prove 1.33 with 95 % confidence",
        "source": "noncentral t by quadrature in 20 digits; one-way model by 4,000,000 plain draws; "
        "tests/generate/nested_proof.py",
        "confirmed": "computed",
        "single": {str(n): to_read(n) for n in (8, 10, 20, 30, 50, 100)},
        "nested": [{"values": v.tolist(), "needed": in_blocks(v)} for v in blocks],
    }
    OUT.write_text(json.dumps(document, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
