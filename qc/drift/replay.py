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

from qc.drift.changepoint import added, basis
from qc.drift.critical import change_level, growth_level
from qc.drift.looks import Looks, Windows, growth, windows_of
from qc.drift.model import Model
from qc.drift.scatter import LEAST_WORN, grown, log_spreads
from qc.drift.search import LEAST_AFTER_STEP, STEP_WINDOW, Search
from qc.drift.series import Condition
from qc.drift.trend import whitened
from qc.drift.wear import UsualWear, usual_wear
from qc.errors import TooLittleData

Floats = NDArray[np.float64]

FIRST_LOOK = 10
WITHOUT_THEM = 10.0
BACK_AGAIN = 0.01
"""A level that returns after a step counts as the old one unless it differs from it at this level."""
GOES_ON, PRICE = 0.3, 6.0
"""Two-sided p of a slope behind a step, in its direction, at which the series is not quiet since; and by
how much worse, in twice the log-likelihood, a slope for all of it may then fit than the step (own choice)."""


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
    """State of a series as of the rows seen so far.

    ``early`` says whether the limit comes before the usual change, ``soon`` whether a slope in a stretch
    that no finished one explains gets to the limit before half as many bores again; else it is ``only_wear``.
    ``one_line``: that slope is all there is, in whichever case.
    """

    model: Model
    level: float
    first: int = 0
    early: "Callable[[Replay, int], bool] | None" = None
    soon: "Callable[[Replay, int], bool] | None" = None
    each: "Callable[[Replay, int], None] | None" = None
    ends_early: bool = False
    only_wear: bool = False
    one_line: bool = False
    change: Change | None = None
    grew: dict[str, float] = field(default_factory=dict)
    levels: list[int] = field(default_factory=list)
    bends: list[int] = field(default_factory=list)
    episodes: list[Episode] = field(default_factory=list)
    conditions: list[Condition] = field(default_factory=list)
    y: Floats = field(init=False)
    logs: Floats = field(init=False)
    finished: dict[int, UsualWear | None] = field(default_factory=dict)
    lengths: dict[int, float | None] = field(default_factory=dict)
    declared: list[int] = field(init=False)
    windows: Windows = field(init=False)
    spread_growth: tuple[Floats, Floats] = field(init=False)
    searches: dict[tuple[object, ...], Search] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.y = self.model.whitened_y
        self.logs = log_spreads(self.model.spreads, self.model.bores)
        self.declared = np.unique(self.model.segment_start).tolist()
        if self.y.size:
            self.windows = windows_of(self.first, self.model.stretch_start)
            self.spread_growth = growth(
                self.logs[self.windows.learned], self.logs[self.windows.latest], self.windows
            )

    def run(self) -> None:
        """Live through all rows."""
        for t in range(1, self.model.y.size + 1):
            self._declared(t)
            if t >= FIRST_LOOK:
                self._look(t)
            self._grown(t)
            self._early(t)
            self.conditions.append(self.condition(t))
            if self.each is not None:
                self.each(self, t)

    def condition(self, t: int) -> Condition:
        """Return the condition as of ``t`` rows, first that applies."""
        if t - self.first < 8:
            return "thin"
        if self.change is not None and not self.only_wear:
            return "stepped" if self.change.kind == "step" else "drifting"
        if self.ends_early:
            return "drifting"
        return "scattered" if self.grew else "steady"

    def search(self, t: int) -> Search:
        """All looks that share what is known as of ``t`` rows."""
        held = self.model.wears and self.usual(t) is not None
        key = (tuple(self.levels), tuple(self.bends), held)
        if key not in self.searches:
            while len(self.searches) > 2:
                self.searches.pop(next(iter(self.searches)))
            self.searches[key] = Search(self, held, self._looks(held), self._levels(self.y.size))
        return self.searches[key]

    def _looks(self, held: bool) -> Looks:
        m = self.model
        columns = [m.steps[:, self._levels(m.y.size)], m.ramps[:, self.bends]]
        if held:
            columns.append(m.wear[:, None])
        return Looks(np.hstack(columns), self.y)

    def base_columns(self, t: int) -> Floats:
        """Whitened columns of what is known as of ``t`` rows: levels, common wear, bends of the past."""
        return self.search(t).looks.base[:t]

    def base(self, t: int) -> Floats:
        """Orthonormal basis of `base_columns`."""
        return basis(self.base_columns(t))

    def bend_rows(self, t: int) -> list[int]:
        """Rows a bend may begin with as of ``t`` rows."""
        return self.search(t).bend_rows(t)

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

    def start(self, t: int) -> int:
        """First row of the present stretch, or of a level of our own finding inside it."""
        inside = [row for row in self.levels if row < t]
        return max([int(self.model.stretch_start[t - 1]), *inside])

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
        elif not self._first_wear(t - 1):
            self.bends.append(self.change.row)
        self.change, self.only_wear, self.one_line = None, False, False

    def _first_wear(self, t: int) -> bool:
        """Whether what stands is the wear of a stretch nothing was known of: usual from now on, no change."""
        change, m = self.change, self.model
        whole = change is not None and change.row == m.stretch_start[change.row]
        return m.wears and self.usual(t) is None and (self.only_wear or whole)

    def _look(self, t: int) -> None:
        limit = change_level(self.level, self.model.lag1)
        kept, search = self._history(t), self.search(t)
        if kept or t - search.looks.rank[t - 1] < 6:
            return
        if self.change is None:
            self._last_block(t, search)
        found = search.best(t, self.level)
        if self.change is not None and self.change.kind == "step":
            found = self._after_step(t, limit) or found
        sure = found is not None and found.p < limit and not self._young_wear(t, found, limit)
        if found is not None and sure and (self.change is not None or self._beyond_one_block(t, found)):
            self._stands(t, found)
        else:
            self.change = None
        self._wear_or_more(t, limit)

    def _young_wear(self, t: int, found: Change, limit: float) -> bool:
        """Whether a step early in a stretch nothing is known of goes as well with wear from its beginning."""
        search, m = self.search(t), self.model
        start = self.start(t)
        if found.kind != "step" or not m.wears or search.held or t - start > STEP_WINDOW:
            return False
        whole = basis(np.hstack([self.base_columns(t), m.ramps[:t, [start]]]))
        return bool(added(whole, self.y[:t], m.steps[:t, [found.row]]).p[0] >= limit)

    def _history(self, t: int) -> bool:
        """An old step with a quiet series since becomes history; whether one stays because it is not quiet.

        A step that is history comes back as a slope when all since goes better with one.
        """
        old = self.levels[-1] if self.levels else t
        if self.change is None and self.model.segment_start[t - 1] <= old < t - STEP_WINDOW:
            row = self.levels.pop()
            slope = self._slope_rather(t, [row])
            if slope is None:
                self.levels.append(row)
            else:
                self._stands(t, slope)
        if self.change is None or self.change.kind != "step" or t - self.change.row <= STEP_WINDOW:
            return False
        going_on = not self._quiet_since(t, self.change)
        slope = self._slope_rather(t, [self.change.row], PRICE if going_on else 0.0)
        if slope is not None:
            self._stands(t, slope)
        elif not going_on:
            self.levels.append(self.change.row)
            self.change = None
        return going_on and slope is None

    def _quiet_since(self, t: int, step: Change) -> bool:
        """Whether the level has not gone on in the direction of a step since."""
        m = self.model
        base = basis(np.hstack([self.base_columns(t), m.steps[:t, [step.row]]]))
        test = added(base, self.y[:t], m.ramps[:t, [step.row]])
        return bool(test.p[0] >= GOES_ON or np.sign(test.effect[0]) != np.sign(step.amount))

    def _slope_rather(self, t: int, rows: list[int], price: float = 0.0) -> Change | None:
        """A bend that stands and fits better than steps at ``rows``, each place they might have had paid for.

        A slow drift looks like a step at first, and like a stair of steps later.
        """
        search, m = self.search(t), self.model
        bends = search.bend_rows(t)
        if not bends:
            return None
        usual = self.usual(t) if search.held else None
        tests = search.looks.added(t, m.ramps[:, bends], 0.0 if usual is None else usual.scatter**2)
        k = int(np.argmin(tests.rss))
        if tests.p[k] >= change_level(self.level, m.lag1):
            return None
        base = basis(np.hstack([self.base_columns(t), m.steps[:t, rows]]))
        rest = self.y[:t] - base @ (base.T @ self.y[:t])
        steps = tests.df * np.log(max(float(rest @ rest), 1e-300)) + 2 * len(rows) * np.log(STEP_WINDOW)
        if tests.df * np.log(tests.rss[k]) + 2 * np.log(len(bends)) >= steps + 2 * (len(rows) - 1) + price:
            return None
        return Change("slope", bends[k], t - 1, float(tests.effect[k]), float(tests.p[k]))

    def _wear_or_more(self, t: int, limit: float) -> None:
        """Whether a slope that stands in a stretch nothing is known of is wear, and nothing else moved."""
        self.only_wear = self.one_line = False
        change = self.change
        if change is None or change.kind != "slope" or not self.model.wears or self.usual(t) is not None:
            return
        search, m = self.search(t), self.model
        start = self.start(t)
        whole = basis(np.hstack([self.base_columns(t), m.ramps[:t, [start]]]))
        bends = [row for row in search.bend_rows(t) if row > start]
        bent = added(whole, self.y[:t], m.ramps[:t, bends])
        b = int(np.argmin(bent.p)) if bends else -1
        rows = search.step_rows(t)
        tests = added(whole, self.y[:t], m.steps[:t, rows])
        k = int(np.argmin(tests.p)) if rows else -1
        if b >= 0 and bent.p[b] < limit and (k < 0 or bent.rss[b] <= tests.rss[k]):
            return
        if k >= 0 and tests.p[k] < limit:
            self.bends.append(start)
            self._stands(t, Change("step", rows[k], t - 1, float(tests.effect[k]), float(tests.p[k])))
            return
        self.only_wear = self.soon is None or not self.soon(self, t)
        self.one_line = True

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

    def _stands(self, t: int, found: Change) -> None:
        if self.change is not None and self.change.kind == found.kind:
            found.seen = self.change.seen
            episode = self.episodes[-1]
            episode.row, episode.last, episode.amount = found.row, t - 1, found.amount
        else:
            self.episodes.append(Episode(found.kind, found.row, t - 1, t - 1, found.amount))
        self.change = found

    def _after_step(self, t: int, limit: float) -> Change | None:
        """Look for a second change behind a step that stands: the level may have come back, or drift."""
        assert self.change is not None
        row = self.change.row
        columns = np.hstack([self.base_columns(t), self.model.steps[:t, [row]]])
        steps = [r for r in self.search(t).step_rows(t) if r >= row + LEAST_AFTER_STEP]
        if not steps:
            return None
        tests = added(basis(columns), self.y[:t], self.model.steps[:t, steps])
        k = int(np.argmin(tests.p))
        if tests.p[k] >= limit:
            return None
        second = steps[k]
        slope = self._slope_rather(t, [row, second])
        if slope is not None:
            return slope
        self.levels += [row, second]
        before = self.model.steps[:t, row] - self.model.steps[:t, second]
        old = [self.model.steps[:t, [r for r in self._levels(t) if r not in (row, second)]]]
        if self.model.wears:
            old.append(self.model.wear[:t, None])
        other = added(basis(np.hstack([*old, before[:, None]])), self.y[:t], self.model.steps[:t, [second]])
        if other.p[0] < BACK_AGAIN:
            self.episodes.append(Episode("step", second, t - 1, t - 1, float(tests.effect[k])))
        return None

    def _last_block(self, t: int, search: Search) -> None:
        if search.alone[1][t - 1] < self.level:
            amount = float(search.alone[0][t - 1] * self.model.sd[t - 1] * np.sqrt(1 - self.model.lag1**2))
            self.episodes.append(Episode("one_block_off", t - 1, t - 1, t - 1, amount))

    def _grown(self, t: int) -> None:
        limit = growth_level(self.level)
        self.grew = {}
        if not self.windows.known[t - 1]:
            return
        if self.spread_growth[0][t - 1] < limit:
            self.grew["spread_grown"] = float(np.exp(self.spread_growth[1][t - 1]))
        p, ratio = self._block_to_block(t)
        worn = self.search(t).held
        enough = not worn or self.windows.in_latest[t - 1].sum() >= LEAST_WORN
        if enough and p < growth_level(self.level, worn):
            self.grew["block_to_block_grown"] = ratio
        for kind, grew in self.grew.items():
            self._note(
                kind, int(self.windows.latest[t - 1][self.windows.in_latest[t - 1]].min()), t - 1, grew
            )

    def _block_to_block(self, t: int) -> tuple[float, float]:
        """One-sided p and ratio of the distances of the latest block means against those learned from."""
        w, k = self.windows, t - 1
        if self.change is None:
            p, ratio = self.search(t).distances_grown
            return float(p[k]), float(ratio[k])
        own = self.model.steps if self.change.kind == "step" else self.model.ramps
        base = basis(np.hstack([self.base_columns(t), own[:t, [self.change.row]]]))
        rest = self.y[:t] - base @ (base.T @ self.y[:t])
        leverage = 1 - np.einsum("ij,ij->i", base, base)
        far = np.abs(rest) / np.sqrt(np.maximum(leverage, 0.05))
        a, b = far[w.learned[k][w.in_learned[k]]], far[w.latest[k][w.in_latest[k]]]
        return grown(a, b), float(b.mean() / max(a.mean(), 1e-300))

    def _early(self, t: int) -> None:
        """Whether the limit comes before the machine's usual change."""
        self.ends_early = self.early is not None and t >= FIRST_LOOK and self.early(self, t)
        if self.ends_early:
            self._note("change_early", int(self.model.stretch_start[t - 1]), t - 1, 0.0)

    def _note(self, kind: str, row: int, t: int, amount: float) -> None:
        for episode in reversed(self.episodes):
            if episode.kind == kind and episode.last >= t - 1:
                episode.last, episode.amount = t, amount
                return
        self.episodes.append(Episode(kind, row, t, t, amount))
