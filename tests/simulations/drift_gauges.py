"""Steps of a gauge on two machines and on one, and of one machine alone: what each is put down to.

As the product has it: the lag-1 is estimated from what the gauge reads, and a series of which no other
machine and no master tells is judged as well.
"""

import numpy as np

from qc.drift import judge
from qc.drift.alike import pooled_lag
from qc.drift.attribution import GaugeEvidence, attribute
from qc.drift.ownchange import Member
from qc.reports.causes import gauge_or_machine
from tests.simulations import drift_worlds as worlds

LEVEL = 0.00073
BLOCKS = 45
MOVED = ("stepped", "drifting")


def shop(rng, rho, machines, after, size, only=None):
    """Machines read with one gauge, the step in their last ``after`` blocks (of machine ``only``, if any)."""
    members = []
    for k in range(machines):
        hit = 0.0 if only is not None and only != k else size
        means = worlds.noise(rng, BLOCKS, rho) + hit * (np.arange(BLOCKS) >= BLOCKS - after)
        s = worlds.series(means, worlds.inside(rng, BLOCKS, 0.5))
        s = type(s)(**{n: getattr(s, n) for n in s.__dataclass_fields__} | {"at": np.arange(BLOCKS) + k / 10})
        members.append(Member(s, f"hone-{k + 1}", np.ones(BLOCKS, dtype=bool)))
    return GaugeEvidence("final", tuple(members))


def scanned(rng, rho, machines, size, only=None):
    """A shop, its lag-1, and the shifts told of blocks that moved; of any where nothing did."""
    after = int(rng.integers(4, 11))
    one = shop(rng, rho, machines, after, size, only)
    lag1 = pooled_lag([m.series for m in one.members])
    told = attribute([one], level=LEVEL, lag1=lag1)
    return one, lag1, [s for s in told if size == 0 or s.to_at is None or s.to_at >= BLOCKS - after]


def causes(rng, rho, rounds, machines, size, only=None):
    """Share put down to each cause, and of those told as over though the step stands."""
    told = [scanned(rng, rho, machines, size, only)[2] for _ in range(rounds)]
    found = [shifts[-1].cause if shifts else "none" for shifts in told]
    over = [shifts[-1].to_at is not None for shifts in told if shifts]
    return {c: found.count(c) / rounds for c in ("gauge", "unknown", "none")} | {
        "of": rounds, "told_as_over": float(np.mean(over)) if over else 0.0,
    }  # fmt: skip


def alone(rng, rho, rounds, size):
    """Steps that a gauge or its only machine made: said at all as of the last block, and said to be open.

    A shift of the scan is said, and so is a series that stepped or drifts.
    """
    said, open_, scans = [], [], []
    for _ in range(rounds):
        one, lag1, shifts = scanned(rng, rho, 1, size)
        judgement = judge([one.members[0].series], level=LEVEL, pooled_lag1=lag1)[0]
        moved = judgement.condition in MOVED
        words = [s.words for s in shifts]
        if moved:
            words.append((gauge_or_machine(judgement, one.gauge) or {"words": ""})["words"])
        said.append(bool(words))
        scans.append(bool(shifts))
        open_ += [all("gauge or machine: read the master" in w.lower() for w in words)] if words else []
    return {
        "said": float(np.mean(said)), "scan": float(np.mean(scans)), "of": rounds,
        "undecidable": float(np.mean(open_)) if open_ else None, "of_said": len(open_),
    }  # fmt: skip


def gauge_cells(rng, rho, rounds):
    """Cells of the kept simulation about gauges."""
    yield "gauge step of 3 sd on two machines", rho, 0.5, causes(rng, rho, rounds, 2, 3.0)
    yield "gauge step of 3 sd on one machine", rho, 0.5, alone(rng, rho, rounds, 3.0)
    yield "step of 3 sd of one of two machines", rho, 0.5, causes(rng, rho, rounds, 2, 3.0, only=0)
    yield "two machines, nothing moved", rho, 0.5, causes(rng, rho, rounds, 2, 0.0)
    yield "one machine, nothing moved", rho, 0.5, alone(rng, rho, rounds, 0.0)
