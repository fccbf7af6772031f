"""Processor time and memory of judging 2,000 series of 5,000 readings, against limits and least squares.

625 blocks of 8 bores a series, half of them wearing with a change every 25 blocks; one process. A part of
the series is judged and the whole told by proportion when fewer are asked for. Run as a script it writes
its result beside itself (argument: series to judge).
"""

import json
import resource
import sys
import time
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from qc.drift import judge
from tests.simulations import drift_worlds as worlds

RESULT = Path(__file__).with_suffix(".json")
SERIES, BLOCKS, STRETCH = 2000, 625, 25


def made(rng, wears):
    """One series: steady, or worn by 4 spreads a stretch."""
    stretch = np.arange(BLOCKS) // STRETCH if wears else np.zeros(BLOCKS, dtype=int)
    means = worlds.noise(rng, BLOCKS, 0.25) + 4.0 * (np.arange(BLOCKS) % STRETCH) / STRETCH * wears
    return worlds.series(means, worlds.inside(rng, BLOCKS, 0.5), stretch=stretch, wears=wears, limit=8.0)


def plain(one):
    """Limits of individuals over all blocks, a line through the last 20."""
    return (worlds.strengths(one.means) > 1).any(), worlds.least_squares(one.means)


def timed(what, many):
    begin = time.process_time()
    found = what(many)
    return time.process_time() - begin, found


def main(series=200):
    rng = np.random.default_rng(1)
    many = [made(rng, k % 2 == 1) for k in range(series)]
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    baseline, _ = timed(lambda ss: [plain(s) for s in ss], many)
    own, _ = timed(judge, many)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    result = {
        "series_judged": series, "series": SERIES, "readings_a_series": BLOCKS * worlds.BORES,
        "seconds": own, "seconds_of_all": own * SERIES / series, "milliseconds_a_series": 1000 * own / series,
        "seconds_of_plain": baseline, "ratio": own / baseline, "megabytes_more": peak - before,
        "date": datetime.now(UTC).date().isoformat(),
    }  # fmt: skip
    RESULT.write_text(json.dumps(result, indent=1) + "\n", encoding="utf-8")
    print(json.dumps(result, indent=1))


if __name__ == "__main__":
    main(*(int(a) for a in sys.argv[1:]))
