"""A series lived through again, block by block: what stood as of each one.

At each block the changes that may have happened are columns of one linear model: a step at each of the
last 20 blocks, a bend of the slope at each block of the stretch (for wear: another slope than in the
finished stretches), a last block that is off. The best of
them is held against a critical value that keeps a steady series quiet over all these looks together.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from qc.drift.changepoint import Added, added, basis
from qc.drift.critical import change_level, growth_level, wear_odds
from qc.drift.model import Model
from qc.drift.scatter import grown, log_spreads, windows
from qc.drift.series import Condition
from qc.drift.trend import whitened
from qc.drift.wear import UsualWear, usual_wear
from qc.errors import TooLittleData

Floats = NDArray[np.float64]

FIRST_LOOK = 10
STEP_WINDOW = 20
"""A step further back is history; one that only now would show so far back is a slope, or no matter."""
LEAST_AFTER_STEP, LEAST_AFTER_BEND = 3, 4
WITHOUT_THEM = 10.0
NEARLY = 0.01
"""Where one kind of change stands beyond doubt, the other may name it from this p on."""
BACK_AGAIN = 0.01
"""A level that returns after a step counts as the old one unless it differs from it at this level."""


@dataclass(slots=True)
class Change:
    """A step or a bend that stands: first row of it, when it was first sure, how large, its p."""

    kind: Literal["step", "slope"]
    row: int
    seen: int
    amount: float
    p: float


@dataclass(slots=True)
class Episode:
    """Something that stood for a while: kind, first row, the row it was first sure with, last row, amount."""

    kind: str
    row: int
    seen: int
    last: int
    amount: float


@dataclass(slots=True)
class Replay:
    """State of a series as of the rows seen so far."""

    model: Model
    level: float
    first: int = 0
    early: "Callable[[Replay, int], bool] | None" = None
    ends_early: bool = False
    change: Change | None = None
    grew: dict[str, float] = field(default_factory=dict)
    levels: list[int] = field(default_factory=list)
    bends: list[int] = field(default_factory=list)
    episodes: list[Episode] = field(default_factory=list)
    conditions: list[Condition] = field(default_factory=list)
    y: Floats = field(init=False)
    logs: Floats = field(init=False)
    finished: dict[int, UsualWear | None] = field(default_factory=dict)
    declared: list[int] = field(init=False)
    last_base: tuple[tuple[int, int, int], Floats] | None = None

    def __post_init__(self) -> None:
        self.y = self.model.whitened_y
        self.logs = log_spreads(self.model.spreads, self.model.bores)
        self.declared = np.unique(self.model.segment_start).tolist()

    def run(self) -> None:
        """Live through all rows."""
        for t in range(1, self.model.y.size + 1):
            self._declared(t)
            if t >= FIRST_LOOK:
                self._look(t)
            self._grown(t)
            self._early(t)
            self.conditions.append(self.condition(t))

    def condition(self, t: int) -> Condition:
        """Return the condition as of ``t`` rows, first that applies."""
        if t - self.first < 8:
            return "thin"
        if self.change is not None:
            return "stepped" if self.change.kind == "step" else "drifting"
        if self.ends_early:
            return "drifting"
        return "scattered" if self.grew else "steady"

    def base_columns(self, t: int) -> Floats:
        """Whitened columns of what is known as of ``t`` rows: levels, common wear, bends of the past."""
        m = self.model
        columns = [m.steps[:t, self._levels(t)], m.ramps[:t, self.bends]]
        if m.wears:
            columns.append(m.wear[:t, None])
        return np.hstack(columns)

    def base(self, t: int) -> Floats:
        """Orthonormal basis of `base_columns`, kept for the looks at the same block."""
        asked = (t, len(self.levels), len(self.bends))
        if self.last_base is None or self.last_base[0] != asked:
            self.last_base = (asked, basis(self.base_columns(t)))
        return self.last_base[1]

    def regime(self, t: int) -> int:
        """First row of the present level."""
        return max(self._levels(t))

    def bend_rows(self, t: int) -> list[int]:
        """Rows a bend may begin with: where the stretch or its level began; without wear, every one since.

        A wearing series is held against the slope of its other stretches, so its stretch is one line.
        """
        m = self.model
        if m.wears and self.usual(t) is None:
            return []
        start = max([int(m.stretch_start[t - 1]), *(row for row in self.levels if row <= t - 1)])
        if t - start < LEAST_AFTER_BEND:
            return []
        if m.wears:
            return [start]
        # Where a slow bend began is not told to the block: older rows are tried by threes.
        recent = max(start + LEAST_AFTER_STEP, t - STEP_WINDOW)
        return [
            start,
            *range(start + LEAST_AFTER_STEP, recent, 3),
            *range(recent, t - LEAST_AFTER_BEND + 1),
        ]

    def usual(self, t: int) -> UsualWear | None:
        """Return the usual wear from the stretches finished as of ``t`` rows, None when there is none yet."""
        m = self.model
        start = int(m.stretch_start[t - 1])
        if start not in self.finished:
            try:
                self.finished[start] = usual_wear(
                    m.x[:start], m.y[:start], m.segment_start[:start], m.sd[:start], m.lag1
                )
            except TooLittleData:
                self.finished[start] = None
        return self.finished[start]

    def _levels(self, t: int) -> list[int]:
        return sorted({row for row in (*self.declared, *self.levels) if row < t})

    def _declared(self, t: int) -> None:
        """A declared event ends what stood: its change stays behind as history."""
        if t < 2 or self.change is None or self.model.segment_start[t - 1] == self.model.segment_start[t - 2]:
            return
        same_stretch = self.model.stretch_start[t - 1] == self.model.stretch_start[t - 2]
        if self.change.kind == "step":
            self.levels.append(self.change.row)
        elif same_stretch:
            return
        else:
            self.bends.append(self.change.row)
        self.change = None

    def _look(self, t: int) -> None:
        if self.change is not None and self.change.kind == "step" and t - self.change.row > STEP_WINDOW:
            self.levels.append(self.change.row)
            self.change = None
        base = self.base(t)
        if t - base.shape[1] < 6:
            return
        if self.change is None:
            self._last_block(t, base)
        found = self._best(t, base)
        limit = change_level(self.level, self.model.lag1)
        if self.change is not None and self.change.kind == "step":
            self._after_step(t, limit)
        if (
            found is not None
            and found.p < limit
            and (self.change is not None or self._beyond_one_block(t, found))
        ):
            self._stands(t, found)
        elif self.change is not None:
            self.change = None

    def _beyond_one_block(self, t: int, found: Change) -> bool:
        """Whether a new change still shows when blocks that were off by themselves are left out of it."""
        near = found.row - LEAST_AFTER_STEP
        alone = sorted({e.row for e in self.episodes if e.kind == "one_block_off" and near <= e.row < t})
        if not alone or len(alone) >= t - found.row:
            return True
        m = self.model
        out = whitened(np.eye(t)[:, alone], m.sd[:t], m.lag1)
        own = m.steps if found.kind == "step" else m.ramps
        test = added(basis(np.hstack([self.base_columns(t), out])), self.y[:t], own[:t, [found.row]])
        return bool(test.p[0] < WITHOUT_THEM * change_level(self.level, m.lag1))

    def _best(self, t: int, base: Floats, after: int = 0) -> Change | None:
        m, low = self.model, max(self.regime(t), after)
        steps = list(range(max(low + LEAST_AFTER_STEP, t - STEP_WINDOW), t - LEAST_AFTER_STEP + 1))
        bends = self.bend_rows(t) if after == 0 else []
        if not steps and not bends:
            return None
        usual = self.usual(t) if m.wears else None
        natural = np.zeros(len(steps) + len(bends))
        if usual is not None:
            natural[len(steps) :] = usual.scatter**2
        columns = np.hstack([m.steps[:t, steps], m.ramps[:t, bends]])
        tests = added(base, self.y[:t], columns, natural)
        p = tests.p.copy()
        if usual is not None:
            total = usual.slope + tests.effect[len(steps) :]
            slower = (np.sign(tests.effect[len(steps) :]) != np.sign(usual.slope)) & (
                total * usual.slope >= 0
            )
            p[len(steps) :] *= wear_odds(m.lag1)
            p[len(steps) :][slower] = 1.0
        k = int(np.argmin(p))
        if p[k] < change_level(self.level, m.lag1):
            k = _better_fitting(tests, p, len(steps))
        kind: Literal["step", "slope"] = "step" if k < len(steps) else "slope"
        return Change(kind, (steps + bends)[k], t - 1, float(tests.effect[k]), float(p.min()))

    def _stands(self, t: int, found: Change) -> None:
        if self.change is not None and self.change.kind == found.kind:
            found.seen = self.change.seen
            episode = self.episodes[-1]
            episode.row, episode.last, episode.amount = found.row, t - 1, found.amount
        else:
            self.episodes.append(Episode(found.kind, found.row, t - 1, t - 1, found.amount))
        self.change = found

    def _after_step(self, t: int, limit: float) -> None:
        """Look for a second change behind a step that stands: the level may have come back."""
        assert self.change is not None
        row = self.change.row
        columns = np.hstack([self.base_columns(t), self.model.steps[:t, [row]]])
        second = self._best(t, basis(columns), after=row)
        if second is None or second.p >= limit or second.kind != "step":
            return
        self.levels += [row, second.row]
        before = self.model.steps[:t, row] - self.model.steps[:t, second.row]
        old = [self.model.steps[:t, [r for r in self._levels(t) if r not in (row, second.row)]]]
        if self.model.wears:
            old.append(self.model.wear[:t, None])
        other = added(
            basis(np.hstack([*old, before[:, None]])), self.y[:t], self.model.steps[:t, [second.row]]
        )
        if other.p[0] < BACK_AGAIN:
            self.episodes.append(Episode("step", second.row, t - 1, t - 1, second.amount))

    def _last_block(self, t: int, base: Floats) -> None:
        only = np.zeros((t, 1))
        only[-1] = 1.0
        test = added(base, self.y[:t], only)
        if test.p[0] < self.level:
            amount = float(test.effect[0] * self.model.sd[t - 1] * np.sqrt(1 - self.model.lag1**2))
            self.episodes.append(Episode("one_block_off", t - 1, t - 1, t - 1, amount))

    def _grown(self, t: int) -> None:
        places = windows(self.first, int(self.model.stretch_start[t - 1]), t)
        limit = growth_level(self.level)
        self.grew = {}
        if places is None:
            return
        learned, latest = places
        a, b = self.logs[learned], self.logs[latest]
        a, b = a[~np.isnan(a)], b[~np.isnan(b)]
        if grown(a, b) < limit:
            self.grew["spread_grown"] = float(np.exp(b.mean() - a.mean()))
        rest = self._rest(t)
        if grown(rest[learned], rest[latest]) < limit:
            self.grew["block_to_block_grown"] = float(rest[latest].mean() / max(rest[learned].mean(), 1e-300))
        for kind, ratio in self.grew.items():
            self._note(kind, latest.start, t - 1, ratio)

    def _early(self, t: int) -> None:
        """Whether the limit comes before the machine's usual change."""
        self.ends_early = self.early is not None and t >= FIRST_LOOK and self.early(self, t)
        if self.ends_early:
            self._note("change_early", int(self.model.stretch_start[t - 1]), t - 1, 0.0)

    def _rest(self, t: int) -> Floats:
        base = self.base(t)
        if self.change is not None:
            own = self.model.steps if self.change.kind == "step" else self.model.ramps
            base = basis(np.hstack([base, own[:t, [self.change.row]]]))
        rest = self.y[:t] - base @ (base.T @ self.y[:t])
        leverage = 1 - np.einsum("ij,ij->i", base, base)
        return np.asarray(np.abs(rest) / np.sqrt(np.maximum(leverage, 0.05)))

    def _note(self, kind: str, row: int, t: int, amount: float) -> None:
        for episode in reversed(self.episodes):
            if episode.kind == kind and episode.last >= t - 1:
                episode.last, episode.amount = t, amount
                return
        self.episodes.append(Episode(kind, row, t, t, amount))


def _better_fitting(tests: Added, p: Floats, steps: int) -> int:
    """Column that names a change that stands: the best fit, each kind paying for how many of it were tried.

    p alone would favour a step over a slope that has a scatter of its own.
    """
    cost = np.concatenate(
        [np.full(steps, np.log(max(steps, 1))), np.full(p.size - steps, np.log(max(p.size - steps, 1)))]
    )
    score = tests.df * np.log(tests.rss) + 2 * cost
    return int(np.argmin(np.where(p < NEARLY, score, np.inf)))
