"""What the plausibility checks see of a file, and how one of them says what it doubts."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Final, Protocol

import numpy as np

from qc.ingest.plausible.past import Past, Series
from qc.ingest.rows import Row
from qc.ingest.specified import Said
from qc.records import Build, Gauge, Reading, Severity

_TEXTS: Final = (
    "build", "engine", "machine", "operation", "characteristic", "method", "state", "feature", "unit",
    "gauge",
)  # fmt: skip
_NUMBERS: Final = ("station", "clock")  # NaN where blank
_WHOLE: Final = ("trial", "made_at")
_FLAGS: Final = ("relative", "made_is_date")


@dataclass(frozen=True, slots=True)
class Suspicion:
    """What one check doubts: one finding, however many cells.

    rows : positions of the readings in the scene
    severity : `stop` when a verdict changes (the rows are held), `ask` when it could (they count, marked),
        `note` when it cannot
    cause : what tells this finding from others of the code in the file; no two findings share both
    saw, doubt, proposal, effect : the sentences. `{who}` becomes the features, builds and rows in words,
        `{texts}` the figures as written, `{read}` "read" or "reads", of the rows that are left; an empty
        effect is put in by what happens to them
    proposed : text by position that `qc held correct` takes for the column when no other is given
    column : our name of the column that is doubted
    """

    rows: tuple[int, ...]
    code: str
    severity: Severity
    cause: str
    saw: str
    doubt: str
    proposal: str
    effect: str = ""
    proposed: Mapping[int, str] = field(default_factory=dict)
    column: str = "value"


class Check(Protocol):
    """A check is a module: its codes, and what it doubts in a scene.

    `RIVALS` is true where its doubts stand in each other's place: a reading doubted by one such check, `stop`
    or `ask`, is left alone by those after it, as one slip explains it already.
    """

    @property
    def CODES(self) -> tuple[str, ...]: ...  # noqa: D102, N802
    @property
    def RIVALS(self) -> bool: ...  # noqa: D102, N802
    def doubts(self, scene: "Scene") -> Iterator[Suspicion]: ...  # noqa: D102


def _nobody(*_: Any) -> list[str]:
    return []


def _unheard(_: str) -> Mapping[str, int]:
    return {}


def _nothing(_: Sequence[str]) -> Sequence[Any]:
    return ()


@dataclass(frozen=True)
class Scene:
    """The readings of a file that are new, readable and seen, and what surrounds them.

    lines, rows : the file's rows and their readings, in the file's order; a position counts from 0 in both
    said : targets and limits in force, one a reading
    kept : readings of the same builds that the store has, as `qc.store.neighbours.of_builds` gives them
    judged : what the specifications say of readings without a target of their own
    load : the past of series, see `past`
    registers : gauges, builds, asked for once and only when a check needs them
    alike : builds of which other readings equal some of these, `qc.store.lookalike.builds_alike` without the
        write
    of_builds : readings of other builds, as in `kept`
    usual : readings by characteristic that an operation has brought so far
    memo : what one check worked out and another needs too: `blocks`; `explained`, keys of blocks whose unit
        or signs are in doubt, which tell nothing about others; `lone`, readings that are single slips;
        `held`, those held so far; those `rounded`; tables beside their other state, see `together`
    """

    lines: tuple[Row, ...]
    rows: tuple[Reading, ...]
    said: tuple[Said, ...]
    kept: Sequence[Any]
    judged: Callable[[Sequence[Any]], list[Said]]
    load: Callable[[Sequence[Series]], Mapping[Series, Past]]
    registers: Callable[[str], Any]
    alike: Callable[..., list[str]] = _nobody
    of_builds: Callable[[Sequence[str]], Sequence[Any]] = _nothing
    usual: Callable[[str], Mapping[str, int]] = _unheard
    memo: dict[str, Any] = field(default_factory=dict)

    def __len__(self) -> int:
        """Return the number of readings."""
        return len(self.rows)

    @cached_property
    def columns(self) -> dict[str, np.ndarray]:
        """One array a column, in the file's order.

        build, engine, machine, operation, characteristic, method, state, feature, station, clock [ticks, NaN
        blank], trial, pass [NaN blank], size [ticks], deviation [ticks from the target, NaN without one],
        target, lower, upper [in force, as sizes, ticks], unit, relative (read as a deviation without target
        of its own), gauge, measured_at, made_at [us], made_is_date, text, row.
        """
        found = _columns(self.rows, self.said)
        found["text"] = _objects([r.source.text for r in self.rows])
        found["row"] = np.array([r.source.row for r in self.rows], dtype=np.int64)
        found["measured_at"] = np.array([r.measured_at for r in self.rows], dtype=np.int64)
        return found

    @cached_property
    def beside_columns(self) -> dict[str, np.ndarray]:
        """Kept readings of the file's builds: columns as above, without row and measured_at."""
        kept = list(self.kept)
        said = self.judged(kept) if kept else []
        found = _columns(kept, said)
        found["text"] = _objects([r.text for r in kept])
        return found

    @property
    def everywhere(self) -> tuple[dict[str, np.ndarray], ...]:
        """The file's columns, and those of what is kept where anything is."""
        return (self.columns, self.beside_columns) if self.kept else (self.columns,)

    def groups(self, names: Sequence[str]) -> dict[tuple[Any, ...], list[int]]:
        """Positions of the readings by what these columns say, in the file's order."""
        found: dict[tuple[Any, ...], list[int]] = {}
        for i, key in enumerate(zip(*(self.columns[n].tolist() for n in names), strict=True)):
            found.setdefault(key, []).append(i)
        return found

    @cached_property
    def series(self) -> list[Series]:
        """The series of the file, each once, in the file's order."""
        told: list[Any] = list(self.groups(("machine", "operation", "characteristic", "method", "state")))
        return told

    @cached_property
    def _past(self) -> Mapping[Series, Past]:
        return self.load(self.series)

    def past(self, series: Series) -> Past:
        """The last blocks of a series of this file before the file came; all series are asked for at once."""
        return self._past[series]

    @cached_property
    def gauges(self) -> list[Gauge]:
        """Rows of the gauge register."""
        return list(self.registers("gauges"))

    @cached_property
    def builds(self) -> dict[str, Build]:
        """Builds by name."""
        return dict(self.registers("builds"))


def _objects(values: Sequence[Any]) -> np.ndarray:
    found = np.empty(len(values), dtype=object)
    found[:] = values
    return found


def _floats(values: Sequence[Any]) -> np.ndarray:
    return np.array([np.nan if v is None else v for v in values], dtype=float)


def _columns(rows: Sequence[Any], said: Sequence[Said]) -> dict[str, np.ndarray]:
    """Columns that readings and the store's rows have in common."""
    found: dict[str, np.ndarray] = {n: _objects([getattr(r, n) for r in rows]) for n in _TEXTS}
    found |= {n: _floats([getattr(r, n) for r in rows]) for n in _NUMBERS}
    found["pass"] = _floats([r.pass_ for r in rows])
    for name in _WHOLE:
        found[name] = np.array([getattr(r, name) for r in rows], dtype=np.int64)
    for name in _FLAGS:
        found[name] = np.array([bool(getattr(r, name)) for r in rows], dtype=bool)
    value = np.array([r.value for r in rows], dtype=float)
    for name in ("target", "lower", "upper"):
        found[name] = _floats([getattr(s, name) for s in said])
    relative = found["relative"]
    found["size"] = np.where(relative, value + found["target"], value)
    found["deviation"] = np.where(relative, value, value - found["target"])
    return found
