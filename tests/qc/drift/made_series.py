"""Series with known troubles: noise, a step, a drift, wear in a saw tooth; sd of a block mean 1."""

import numpy as np

from qc.drift import SeriesBlocks

BORES, IN_BLOCK = 8, 1.5


def noise(rng, blocks, rho):
    e = rng.normal(size=blocks)
    for t in range(1, blocks):
        e[t] = rho * e[t - 1] + np.sqrt(1 - rho**2) * e[t]
    return e


def series(rng, means, *, wear=None, stretch=None, **more):
    blocks = len(means)
    bores = np.full(blocks, float(BORES))
    spreads = IN_BLOCK * np.sqrt(rng.chisquare(BORES - 1, blocks) / (BORES - 1))
    wear = np.cumsum(bores) - BORES / 2 if wear is None else wear
    stretch = np.zeros(blocks, dtype=int) if stretch is None else stretch
    return SeriesBlocks(
        key="simulated", means=means, bores=bores, spreads=spreads, wear=wear, stretch=stretch,
        joint=np.zeros(blocks, dtype=int), at=np.arange(blocks, dtype=float), **more,
    )  # fmt: skip


def quiet(rng, rho):
    return series(rng, noise(rng, 90, rho))


def step(rng, rho, size):
    return series(rng, noise(rng, 90, rho) + size * (np.arange(90) >= 60))


def drift(rng, rho, blocks_to_limit):
    """From block 40 on straight to a limit 4 sd away, judged until the block before the line is there."""
    along = np.maximum(0, np.arange(40 + blocks_to_limit) - 40 + 0.5) * 4.0 / blocks_to_limit
    return series(rng, noise(rng, len(along), rho) + along, lower=-4.0, upper=4.0)


def saw_tooth(rng, rho, *, finished=6, blocks=13, slope=0.06, last=None, scatter=0.1, limit=12.0, shown=None):
    """Wear in stretches of 13 blocks (104 bores), reset before the limit; ``last`` is the last slope."""
    own = slope * (1 + scatter * rng.normal(size=finished + 1))
    own[-1] = own[-1] if last is None else last
    lengths = [blocks] * finished + [shown or blocks]
    wear = np.concatenate([BORES * (np.arange(k) + 0.5) for k in lengths])
    stretch = np.repeat(np.arange(finished + 1), lengths)
    means = 1.0 + own[stretch] * wear + noise(rng, wear.size, rho)
    return series(rng, means, wear=wear, stretch=stretch, wears=True, lower=-limit, upper=limit), own[-1]
