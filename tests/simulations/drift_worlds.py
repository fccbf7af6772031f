"""Series of a shop with known troubles, and the plain way of finding them that the product is held against.

A block is 8 bores; the standard deviation of block means is 1, limits lie 4 of them away unless said.
"""

import numpy as np

from qc.drift import SeriesBlocks

BORES, BLOCKS, LEARNED, WINDOW = 8, 90, 20, 20


def noise(rng, blocks, rho):
    """Block means of a first-order autoregression with variance 1."""
    e = rng.normal(size=blocks)
    for t in range(1, blocks):
        e[t] = rho * e[t - 1] + np.sqrt(1 - rho**2) * e[t]
    return e


def inside(rng, blocks, share):
    """Spread in each block, ``share`` of the variance of a bore lying between blocks."""
    within2 = 1 / (share / (1 - share) + 1 / BORES)
    return np.sqrt(within2 * rng.chisquare(BORES - 1, blocks) / (BORES - 1))


def effects(rng, blocks, rho, share):
    """Means and spreads of bores whose block effect, not their mean, is the autoregression."""
    within2 = 1 / (share / (1 - share) + 1 / BORES)
    block = np.sqrt(1 - within2 / BORES) * noise(rng, blocks, rho)
    bores = block[:, None] + np.sqrt(within2) * rng.normal(size=(blocks, BORES))
    return bores.mean(axis=1), bores.std(axis=1, ddof=1)


def series(means, spreads, *, stretch=None, wears=False, limit=4.0, joint=None):
    blocks = len(means)
    stretch = np.zeros(blocks, dtype=int) if stretch is None else stretch
    first = np.searchsorted(stretch, stretch)
    wear = BORES * (np.arange(blocks) - first + 0.5)
    return SeriesBlocks(
        key="simulated", means=means, bores=np.full(blocks, float(BORES)), spreads=spreads, wear=wear,
        stretch=stretch, joint=np.zeros(blocks, dtype=int) if joint is None else joint,
        at=np.arange(blocks, dtype=float), wears=wears, lower=-limit, upper=limit,
    )  # fmt: skip


def quiet(rng, rho, share, wears=False):
    return series(noise(rng, BLOCKS, rho), inside(rng, BLOCKS, share), wears=wears)


def quiet_effects(rng, rho, share, wears=False):
    return series(*effects(rng, BLOCKS, rho, share), wears=wears)


def stepped(rng, rho, share, size, wears=False):
    """A step at a block from 40 to 70; returns the block too."""
    at = int(rng.integers(40, 71))
    sign = rng.choice([-1.0, 1.0])
    means = noise(rng, BLOCKS, rho) + sign * size * (np.arange(BLOCKS) >= at)
    return series(means, inside(rng, BLOCKS, share), wears=wears), at


def straight(rng, rho, share, blocks_to_limit, wears=False):
    """From a block from 30 to 50 on straight to the limit; the line is there ``blocks_to_limit`` later."""
    onset = int(rng.integers(30, 51))
    blocks = onset + blocks_to_limit
    along = np.maximum(0, np.arange(blocks) + 0.5 - onset) * 4.0 / blocks_to_limit
    sign = rng.choice([-1.0, 1.0])
    return series(sign * along + noise(rng, blocks, rho), inside(rng, blocks, share), wears=wears), onset


def worn(rng, rho, share, *, finished, shown, usual=15, reach=25.0, unlike=0.15, faster=1.0):
    """Wear renewed about every ``usual`` blocks, the limit 8 away and ``reach`` blocks off.

    Slopes differ by ``unlike`` from stretch to stretch, levels after a change by half a spread; the last
    stretch wears ``faster``. Returns the bores that are really left until the expected mean crosses.
    """
    lengths = [*rng.integers(usual - 3, usual + 4, finished), shown]
    own = 8.0 / (reach * BORES) * (1 + unlike * rng.normal(size=finished + 1))
    own[-1] *= faster
    own = np.maximum(own, 0.1 * 8.0 / (reach * BORES))
    level = -4.0 + 0.5 * rng.normal(size=finished + 1)
    stretch = np.repeat(np.arange(finished + 1), lengths)
    first = np.searchsorted(stretch, stretch)
    wear = BORES * (np.arange(stretch.size) - first + 0.5)
    means = level[stretch] + own[stretch] * wear + noise(rng, stretch.size, rho)
    one = series(means, inside(rng, stretch.size, share), stretch=stretch, wears=True)
    return one, (4.0 - level[-1]) / own[-1] - BORES * shown


def renewed(rng, rho, share):
    """Wear over 90 blocks, always renewed before the limit: what must not be called."""
    one, _ = worn(rng, rho, share, finished=7, shown=15)
    return series(
        one.means[-BLOCKS:], one.spreads[-BLOCKS:], stretch=one.stretch[-BLOCKS:] - one.stretch[-BLOCKS],
        wears=True,
    )  # fmt: skip


def strengths(means):
    """Distance of each block from the individuals centre, over the half width of the limits.

    Centre and mean moving range of the first 20 blocks, limits at 2.66 moving ranges.
    """
    learned = means[:LEARNED]
    return np.abs(means - learned.mean()) / (2.66 * np.abs(np.diff(learned)).mean())


def least_squares(means, blocks=WINDOW):
    """Level at the last block's end, slope a block, and t of the slope, over the last blocks."""
    y = means[-blocks:]
    x = np.arange(len(y)) - (len(y) - 1) / 2
    b = float(x @ y / (x @ x))
    rest = y - y.mean() - b * x
    error = np.sqrt(rest @ rest / max(len(y) - 2, 1) / (x @ x))
    return float(y.mean() + b * len(y) / 2), b, b / error if error > 0 else 0.0


def plain_forecast(one, limit=4.0):
    """Bores left by least squares over the last 20 blocks of the stretch; infinite without a crossing."""
    mine = one.means[one.stretch == one.stretch[-1]][-WINDOW:]
    level, slope, _ = least_squares(mine)
    if abs(level) >= limit:
        return 0.0
    return np.inf if slope == 0 else float((np.sign(slope) * limit - level) / slope * BORES)
