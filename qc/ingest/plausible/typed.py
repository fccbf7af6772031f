"""Whether a typed taper, out-of-round or barrel is what the readings themselves give."""

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping
from typing import Any, Final

import numpy as np

from qc.catalogue import CATALOGUE
from qc.derived import form
from qc.ingest.checks import shown
from qc.ingest.line import number_ticks
from qc.ingest.plausible.fit import steps
from qc.ingest.plausible.scene import Scene, Suspicion
from qc.units import TICKS_PER_UM

CODES: Final = ("typed_differs",)
RIVALS: Final = False
_NAMES: Final = ("build", "machine", "operation", "characteristic", "state", "feature", "text", "unit")
_FORM: Final[Mapping[tuple[str, str], Callable[[np.ndarray, np.ndarray], np.ndarray]]] = {
    ("out_of_round", "typed"): lambda sizes, _: form.out_of_round(sizes),
    ("taper", "typed"): lambda sizes, _: form.taper(sizes),
    ("taper", "typed-range"): lambda sizes, _: form.taper_range(sizes),
    ("barrel", "typed"): lambda sizes, stations: form.barrel(sizes, stations / TICKS_PER_UM / 1000),
}
_LEAST: Final = {"out_of_round": (1, 2), "taper": (2, 1), "barrel": (3, 1)}  # stations, directions


class Known:
    """All readings of the file's builds: the file's own and those that are kept."""

    def __init__(self, scene: Scene) -> None:
        frames = scene.everywhere
        self.names = {n: np.concatenate([f[n] for f in frames]) for n in _NAMES}
        self.size, self.station, self.clock, self.pass_ = (
            np.concatenate([f[n] for f in frames]) for n in ("size", "station", "clock", "pass")
        )
        self.places: dict[tuple[str | None, str], list[int]] = defaultdict(list)
        for i, place in enumerate(zip(self.names["build"], self.names["feature"], strict=True)):
            self.places[place].append(i)

    def of(self, build: str | None, feature: str, **names: str | None) -> np.ndarray:
        """Positions of a feature's readings with these names, of the first pass if there are any."""
        at = np.array(self.places.get((build, feature), []), dtype=int)
        for name, value in names.items():
            at = at[self.names[name][at] == value]
        first = at[np.nan_to_num(self.pass_[at], nan=1.0) == 1.0]
        return first if len(first) else at

    def step(self, at: np.ndarray) -> float:
        """Gauge step that these texts show [ticks]."""
        return steps(self.names["text"][at].tolist(), self.names["unit"][at].tolist())


def doubts(scene: Scene) -> Iterator[Suspicion]:
    """Yield one suspicion a characteristic and method."""
    typed = [i for i, r in enumerate(scene.rows) if r.method.startswith("typed") and r.build]
    if not typed:
        return
    known = Known(scene)
    groups: dict[tuple[str, str], dict[int, float]] = {}
    for i in typed:
        r = scene.rows[i]
        told = _computed(known, r)
        if told is not None and _differs(scene, i, *told):
            groups.setdefault((r.characteristic, r.method), {})[i] = told[0]
    for (characteristic, method), some in groups.items():
        yield _suspicion(scene, characteristic, method, some)


def _computed(known: Known, r: Any) -> tuple[float, float] | None:
    """What the readings give for a typed figure, and the step they were read in [ticks]; None: cannot."""
    entry = CATALOGUE[r.characteristic]
    if (entry.formula, r.method) in _FORM:
        at = known.of(build=r.build, machine=r.machine, operation=r.operation, state=r.state,
                      feature=r.feature, characteristic=entry.made_of[0])  # fmt: skip
        return _form(known, at, entry.formula, r.method)
    return None


def _form(known: Known, at: np.ndarray, formula: str, method: str) -> tuple[float, float] | None:
    """Form figure of one bore, where every planned place of the grid was read once."""
    stations, s = np.unique(known.station[at], return_inverse=True)
    clocks, c = np.unique(known.clock[at], return_inverse=True)
    least = _LEAST[formula]
    grid = len(at) == len(stations) * len(clocks) == len(set(zip(s.tolist(), c.tolist(), strict=True)))
    if not grid or len(stations) < least[0] or len(clocks) < least[1] or np.isnan(stations).any():
        return None
    sizes = np.empty((1, len(stations), len(clocks)))
    sizes[0, s, c] = known.size[at]
    return float(_FORM[formula, method](sizes, stations)[0]), known.step(at)


def _differs(scene: Scene, i: int, computed: float, step: float) -> bool:
    """Whether a typed figure is farther from the computed one than the gauges can tell."""
    r = scene.rows[i]
    register = [g.resolution for g in scene.gauges if g.gauge == r.gauge and g.resolution is not None]
    own = max([steps([r.source.text], [r.unit]), *map(float, register[-1:])])
    return bool(abs(scene.columns["size"][i] - computed) > own + 2 * step)


def _suspicion(scene: Scene, characteristic: str, method: str, some: Mapping[int, float]) -> Suspicion:
    label = CATALOGUE[characteristic].label
    i, computed = next(iter(some.items()))
    r = scene.rows[i]
    example = shown(round(computed), r.unit)
    coded = number_ticks(r.source.text, r.unit) != r.value
    told = {} if coded else some
    texts = {k: shown(round(v), scene.rows[k].unit).partition(" ")[0] for k, v in told.items()}
    return Suspicion(
        tuple(some), "typed_differs", "ask", f"{characteristic}|{method}",
        f"{{who}}: the typed {label} {{read}} {{texts}} {r.unit}, while the readings of the same build give "
        f"{example}.",
        "They differ by more than the gauges can tell.",
        "Correct takes what the readings give; accept if the figure was measured in another way.",
        f"The {label} computed from the readings answers; the typed one is charted apart.", texts,
    )  # fmt: skip
