"""Steps of a gauge on two machines and on one, and of one machine alone: what each is put down to."""

import numpy as np

from qc.drift.attribution import GaugeEvidence, attribute
from qc.drift.ownchange import Member
from tests.simulations import drift_worlds as worlds

LEVEL = 0.00073
BLOCKS = 45


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


def causes(rng, rho, rounds, machines, size, only=None):
    found = []
    for _ in range(rounds):
        after = int(rng.integers(4, 11))
        told = attribute([shop(rng, rho, machines, after, size, only)], level=LEVEL, lag1=rho)
        now = [s for s in told if s.to_at is None]
        found.append(now[-1].cause if now else "none")
    return {c: found.count(c) / rounds for c in ("gauge", "unknown", "none")} | {"of": rounds}


def gauge_cells(rng, rho, rounds):
    """Cells of the kept simulation about gauges."""
    yield "gauge step of 3 sd on two machines", rho, 0.5, causes(rng, rho, rounds, 2, 3.0)
    yield "gauge step of 3 sd on one machine", rho, 0.5, causes(rng, rho, rounds, 1, 3.0)
    yield "step of 3 sd of one of two machines", rho, 0.5, causes(rng, rho, rounds, 2, 3.0, only=0)
    yield "two machines, nothing moved", rho, 0.5, causes(rng, rho, rounds, 2, 0.0)
