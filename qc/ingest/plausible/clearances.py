"""Whether a typed clearance is what the parts of the same build give, by the arithmetic of every answer.

Held against each other wherever the later of the two comes in: a typed figure beside kept parts, or parts
beside a kept typed figure.
"""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from qc import units
from qc.catalogue import CATALOGUE
from qc.ingest.as_frame import as_frame
from qc.ingest.checks import shown
from qc.ingest.plausible.fit import steps
from qc.ingest.plausible.scene import Scene, Suspicion
from qc.ingest.plausible.values import inside
from qc.ingest.words import rows_said
from qc.records import Gauge
from qc.units import METRIC, TICKS_PER_UM

CODES: Final = ("clearance_differs",)
RIVALS: Final = False
CLEARANCES: Final = frozenset({"main_clearance", "rod_clearance", "piston_clearance"})
_HOLES: Final = frozenset({"bore_diameter", "shell_bore", "tunnel_diameter", "rod_bore_diameter"})


@dataclass(frozen=True, slots=True)
class _Apart:
    """A typed figure and what stands against it [ticks].

    at : position in the scene of the typed figure, None where it was kept before
    parts : positions in the scene of the readings that the computed one rests on, those of this file
    """

    typed: Any
    size: float
    computed: float
    at: int | None
    parts: tuple[int, ...]
    verdicts: bool
    words: str
    allowed: float


def doubts(scene: Scene) -> Iterator[Suspicion]:
    """Yield one suspicion a clearance and severity."""
    builds = {r.build for r in (*scene.rows, *scene.kept) if _typed(r)}
    if not builds:
        return
    groups: dict[tuple[str, str, bool], list[_Apart]] = defaultdict(list)
    for one in _Fits(scene, builds).apart():
        severity = "stop" if one.verdicts and one.at is not None else "ask"
        groups[one.typed.characteristic, severity, one.at is not None].append(one)
    for (characteristic, severity, ours), some in groups.items():
        yield (_of_typed if ours else _of_parts)(scene, CATALOGUE[characteristic].label, severity, some)


def _typed(r: Any) -> bool:
    return bool(r.build) and r.characteristic in CLEARANCES and r.method.startswith("typed")


class _Fits:
    """The clearances that the parts of these builds give, and the typed figures beside them."""

    def __init__(self, scene: Scene, builds: set[str]) -> None:
        self.scene, self.known = scene, [*scene.rows, *scene.kept]
        held = scene.memo.get("held", ())
        self.some = [i for i, r in enumerate(self.known) if r.build in builds and i not in held]
        self.gauges: dict[str, Gauge] = {g.gauge: g for g in scene.gauges}
        self.sizes = np.concatenate([f["size"] for f in scene.everywhere])
        self.limits = [np.concatenate([f[n] for f in scene.everywhere]) for n in ("lower", "upper")]

    def apart(self) -> Iterator[_Apart]:
        """Typed figures that no route to the same clearance bears out."""
        computed = self._computed()
        for i in self.some:
            r = self.known[i]
            rows = computed.get((r.build, r.characteristic, r.feature), ()) if _typed(r) else ()
            told = [self._against(i, row) for row in rows]
            if told and None not in told and (told[0].at is not None or told[0].parts):  # type: ignore[union-attr]
                yield told[0]  # type: ignore[misc]

    def _computed(self) -> dict[tuple[str, str, str], list[Mapping[str, Any]]]:
        """Complete clearances by build, characteristic and feature, the catalogue's first method first."""
        # only files with typed clearances pay for these
        from qc.history.clearances import fitted
        from qc.history.readings import typed
        from qc.history.values import positions

        target = np.concatenate([f["target"] for f in self.scene.everywhere])
        frame = as_frame([self.known[i] for i in self.some])
        frame["target"] = target[self.some]
        places, _ = positions(typed(frame, (), self.scene.builds, self.scene.gauges))
        found: dict[tuple[str, str, str], list[Mapping[str, Any]]] = defaultdict(list)
        for row in fitted(places, (), {}):
            if not row["missing"] and not np.isnan(row["value"]):
                found[row["build"], row["characteristic"], row["feature"]].append(row)
        return found

    def _against(self, i: int, row: Mapping[str, Any]) -> _Apart | None:
        """A typed figure against a computed one; None where gauges and spread allow both."""
        r, size = self.known[i], float(self.sizes[i])
        computed = row["value"] * TICKS_PER_UM
        behind = [[self.some[k] for k in part.rows] for part in row["parts"]]
        ends = [self._ends(part) for part in row["parts"]]
        least, greatest = (sum(e[k] for e in ends) for k in (0, 1))
        slack = self._slack([[i], *behind])
        if np.isnan(size) or least - slack <= size <= greatest + slack:
            return None
        mine = sorted(k for some in behind for k in some if k < len(self.scene))
        words = " less ".join(self._said(p, some) for p, some in zip(row["parts"], behind, strict=True))
        allowed = slack + max(computed - least, greatest - computed)
        at = i if i < len(self.scene) else None
        return _Apart(r, size, computed, at, tuple(mine), self._verdicts(i, size, computed), words, allowed)

    def _ends(self, part: Any) -> tuple[float, float]:
        """What this part adds at least and at most, whichever of its readings was taken [ticks]."""
        low, high = float(part.sizes.min()), float(part.sizes.max())
        return (low, high) if part.characteristic in _HOLES else (-high, -low)

    def _slack(self, groups: Sequence[Sequence[int]]) -> float:
        """A step of each gauge, and twice what the register says of their uncertainties together [ticks]."""
        total, squares = 0.0, 0.0
        for some in groups:
            rows = [self.known[k] for k in some]
            registered = [self.gauges[r.gauge] for r in rows if r.gauge in self.gauges]
            written = steps([_text(r) for r in rows], [r.unit for r in rows])
            told = [float(g.resolution) for g in registered if g.resolution is not None]
            total += np.nanmax([written, *told, 0.0])
            squares += max((float(g.standard_uncertainty or 0) ** 2 for g in registered), default=0.0)
        return float(total + 2 * np.sqrt(squares))

    def _verdicts(self, i: int, typed: float, computed: float) -> bool:
        """Whether one of the two lies inside the limits in force and the other does not."""
        lower, upper = (float(side[i]) for side in self.limits)
        return inside(typed, lower, upper) != inside(computed, lower, upper)

    def _said(self, part: Any, behind: Sequence[int]) -> str:
        """A part, its size, and the readings it comes from."""
        shaft = part.characteristic in ("journal_diameter", "pin_diameter")
        size = part.sizes.max() if shaft else part.sizes.mean()
        unit = self.known[behind[0]].unit
        unit = unit if unit in ("mm", "in") else "mm"
        which = ("largest" if shaft else "mean") + " of " if len(behind) > 1 else ""
        rows = sorted({self.scene.rows[k].source.row for k in behind if k < len(self.scene)})
        kept = sum(k >= len(self.scene) for k in behind)
        where = ([rows_said(rows)] if rows else []) + ([f"{kept} kept before"] if kept else [])
        count = f"{len(behind)} reading{'s' if len(behind) > 1 else ''}"
        label = CATALOGUE[part.characteristic].label
        return f"{label} {part.feature} {_size(size, unit)} ({which}{count}: {' and '.join(where)})"


def _size(ticks: float, unit: str) -> str:
    """A size as worked out, to a tenth of a um or a tenth of a tenth."""
    step = TICKS_PER_UM // 10 if unit in METRIC else units.ticks(units.number("0.1"), "tenth")
    return shown(round(ticks / step) * step, unit)


def _text(r: Any) -> str:
    source = getattr(r, "source", None)
    return str(r.text if source is None else source.text)


def _doubt(first: _Apart, label: str) -> str:
    off = abs(first.size - first.computed) / TICKS_PER_UM
    words = (
        f"They are {off:.1f} um apart, where the gauges' steps and the spread of these readings allow "
        f"{first.allowed / TICKS_PER_UM:.1f} um"
    )
    if first.verdicts:
        words += f", and only one of the two lies inside the limits of this {label}"
    return words + "."


def _of_typed(scene: Scene, label: str, severity: Any, some: Sequence[_Apart]) -> Suspicion:
    first = some[0]
    r = first.typed
    at = f"at {r.feature} " if len(some) > 1 else ""
    texts = {
        one.at: _size(one.computed, one.typed.unit).partition(" ")[0]
        for one in some if one.at is not None and not one.typed.relative and _absolute(scene, one.at)
    }  # fmt: skip
    return Suspicion(
        tuple(one.at for one in some if one.at is not None), CODES[0], severity, f"{r.characteristic}|typed",
        f"{{who}}: the typed {label} {{read}} {{texts}} {r.unit}, while {at}{first.words} gives "
        f"{_size(first.computed, r.unit)}.",
        _doubt(first, label),
        "Correct takes what the parts give; accept if the figure was measured in another way; look at the "
        "parts' readings if neither is right.",
        "" if severity == "stop" else
        f"The {label} computed from the parts answers; the typed one is charted apart.", texts,
    )  # fmt: skip


def _absolute(scene: Scene, i: int) -> bool:
    """Whether the cell's text is the size itself, and no distance from a target."""
    from qc.ingest.line import number_ticks

    r = scene.rows[i]
    return number_ticks(r.source.text, r.unit) == r.value


def _of_parts(scene: Scene, label: str, severity: Any, some: Sequence[_Apart]) -> Suspicion:
    first = some[0]
    r = first.typed
    rows = tuple(sorted({k for one in some for k in one.parts}))
    return Suspicion(
        rows, CODES[0], severity, f"{r.characteristic}|parts",
        f"{{who}}: {first.words} gives a {label} of {_size(first.computed, r.unit)}, while "
        f"{shown(round(first.size), r.unit)} was typed for {r.feature} of {r.build} before.",
        _doubt(first, label),
        "Look at these readings; accept if they are right (the typed figure may be old, or measured in "
        "another way).",
        f"These readings count, marked, until this is decided; the {label} computed from them answers.",
    )  # fmt: skip
