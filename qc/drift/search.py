"""The best change as of each block, among the steps and bends that may have happened by then."""

from functools import cached_property
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from qc.drift.critical import change_level, wear_odds
from qc.drift.looks import Best, Looks, growth

if TYPE_CHECKING:
    from qc.drift.replay import Change, Replay

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

STEP_WINDOW = 20
"""A step further back is history; one that only now would show so far back is a slope, or no matter."""
LEAST_AFTER_STEP, LEAST_AFTER_BEND = 3, 4
NEARLY = 0.01
"""Where one kind of change stands beyond doubt, the other may name it from this p on."""


class Search:
    """Looks at a series that share what is known of it.

    ``held`` says whether the stretch is held against the slope of finished ones.
    """

    def __init__(self, replay: "Replay", held: bool, looks: Looks, levels: list[int]) -> None:
        self.replay, self.held, self.looks = replay, held, looks
        self.rows = np.array(levels, dtype=int)
        self.model = replay.model
        self.alone = looks.last_alone()
        self.for_steps = self._with_own_slopes() if held else looks

    def regime(self, t: int) -> int:
        """First row of the present level."""
        return int(self.rows[np.searchsorted(self.rows, t) - 1])

    def step_rows(self, t: int) -> list[int]:
        """Rows a step may begin with as of ``t`` rows."""
        low = max(self.regime(t) + LEAST_AFTER_STEP, t - STEP_WINDOW)
        return list(range(low, t - LEAST_AFTER_STEP + 1))

    def bend_rows(self, t: int) -> list[int]:
        """Rows a bend may begin with: where the stretch or its level began; without usual wear, any since.

        A wearing series is held against the slope of its other stretches, so its stretch is one line.
        """
        start = self.replay.start(t)
        if t - start < LEAST_AFTER_BEND:
            return []
        if self.held:
            return [start]
        # Where a slow bend began is not told to the block: older rows are tried by threes.
        recent = max(start + LEAST_AFTER_STEP, t - STEP_WINDOW)
        return [
            start,
            *range(start + LEAST_AFTER_STEP, recent, 3),
            *range(recent, t - LEAST_AFTER_BEND + 1),
        ]

    def best(self, t: int, level: float) -> "Change | None":
        """Best change as of ``t`` rows; the better fitting of step and bend where both stand out."""
        from qc.drift.replay import Change

        step, bend, slower = self._bests
        k = t - 1
        p = float(min(step.p[k], bend.p[k]))
        kind: Literal["step", "slope"] = "step" if step.p[k] <= bend.p[k] else "slope"
        chosen = step if kind == "step" else bend
        row, effect = int(chosen.row[k]), float(chosen.effect[k])
        if kind == "slope":
            row = int(self._bend_columns[row])
        if p < change_level(level, self.model.lag1):
            kind, row, effect = self._better_fitting(t, bool(slower[k]))
        return None if p >= 1.0 else Change(kind, row, t - 1, effect, p)

    @cached_property
    def distances_grown(self) -> tuple[Floats, Floats]:
        """One-sided p that the latest block means lie farther from the fit, and the ratio, by block."""
        w = self.replay.windows
        learned, latest = self.for_steps.distances(w.learned), self.for_steps.distances(w.latest)
        p, _ = growth(learned, latest, w)
        means = [
            (far * use).sum(axis=1) / np.maximum(use.sum(axis=1), 1)
            for far, use in ((learned, w.in_learned), (latest, w.in_latest))
        ]
        return p, means[1] / np.maximum(means[0], 1e-300)

    def _with_own_slopes(self) -> Looks:
        """Looks in which a stretch may wear a little unlike the others: that must not pass for a step."""
        m, y = self.model, self.looks.y
        wear = self.replay.usual(y.size)
        noise = self.looks.rss[-1] / max(self.looks.df[-1], 1.0)
        ramps = m.ramps[:, np.unique(m.stretch_start)]
        if wear is None or wear.scatter <= 0 or noise <= 0:
            return self.looks
        free = np.zeros(self.looks.base.shape[1])
        drawn = np.full(ramps.shape[1], noise / wear.scatter**2)
        return Looks(np.hstack([self.looks.base, ramps]), y, np.concatenate([free, drawn]))

    @cached_property
    def _bend_columns(self) -> list[int]:
        return sorted({row for t in range(1, self.model.y.size + 1) for row in self.bend_rows(t)})

    @cached_property
    def _bests(self) -> tuple[Best, Best, Bools]:
        """Best step and best bend as of each block, and where a bend is only slower wear (p 1 then)."""
        m = self.model
        size = m.y.size
        steps = np.zeros((size, size), dtype=bool)
        place = {row: i for i, row in enumerate(self._bend_columns)}
        bends = np.zeros((size, len(place)), dtype=bool)
        for t in range(1, size + 1):
            steps[t - 1, self.step_rows(t)] = True
            bends[t - 1, [place[row] for row in self.bend_rows(t)]] = True
        natural, usual = np.zeros(size), np.zeros(size)
        if self.held:
            for start in np.unique(m.stretch_start).tolist():
                wear = self.replay.usual(start + 1)
                if wear is not None:
                    natural[m.stretch_start == start] = wear.scatter**2
                    usual[m.stretch_start == start] = wear.slope
        step = self.for_steps.best_recent(m.steps, steps, STEP_WINDOW + 1)
        bend = self.looks.best(m.ramps[:, self._bend_columns], bends, natural)
        slower = self.held & (np.sign(bend.effect) != np.sign(usual)) & ((usual + bend.effect) * usual >= 0)
        odds = wear_odds(m.lag1) if self.held else 1.0
        return step, Best(bend.row, bend.effect, np.where(slower, 1.0, bend.p * odds)), slower

    def _better_fitting(self, t: int, slower: bool) -> tuple[Literal["step", "slope"], int, float]:
        """Kind, row and effect of the change that fits best, each kind paying for how many of it were tried.

        p alone would favour a step over a slope that has a scatter of its own.
        """
        steps, bends = self.step_rows(t), self.bend_rows(t)
        usual = self.replay.usual(t) if self.held else None
        tests = (
            self.for_steps.added(t, self.model.steps[:, steps]),
            self.looks.added(t, self.model.ramps[:, bends], 0.0 if usual is None else usual.scatter**2),
        )
        p = np.concatenate([one.p for one in tests])
        if self.held:
            p[len(steps) :] = 1.0 if slower else p[len(steps) :] * wear_odds(self.model.lag1)
        cost = np.concatenate([
            np.full(len(steps), np.log(max(len(steps), 1))), np.full(len(bends), np.log(max(len(bends), 1)))
        ])  # fmt: skip
        score = tests[1].df * np.log(np.concatenate([one.rss for one in tests])) + 2 * cost
        k = int(np.argmin(np.where(p < NEARLY, score, np.inf)))
        effect = float(np.concatenate([one.effect for one in tests])[k])
        return ("step" if k < len(steps) else "slope"), (steps + bends)[k], effect
