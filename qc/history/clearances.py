"""Clearances of every build and position, by both routes, with the parts behind each and what is missing."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from qc.catalogue import CATALOGUE
from qc.derived import clearance
from qc.history.form import judged
from qc.history.plan import NONE
from qc.history.readings import text
from qc.history.values import VALUE_COLUMNS
from qc.records import Spec
from qc.units import TICKS_PER_UM

SQUARE_TO_JOINT = 0.0
THRUST = 90.0 * 100_000


@dataclass(frozen=True, slots=True)
class Part:
    """One measured part of a clearance: its sizes [ticks] at the places that count, and its readings."""

    characteristic: str
    feature: str
    state: str
    sizes: np.ndarray
    rows: tuple[int, ...]
    gauges: tuple[str, ...]
    made_at: int
    machine: str


@dataclass(frozen=True, slots=True)
class Route:
    """One way to a clearance: the parts it needs, as (characteristic, suffix of the feature, places)."""

    clearance: str
    method: str
    needs: tuple[tuple[str, str, str], ...]


ROUTES = (
    Route("main_clearance", "installed", (("shell_bore", "", "square"), ("journal_diameter", "", "all"))),
    Route("main_clearance", "by_parts", (("tunnel_diameter", "", "square"), ("shell_wall", "-upper", "all"),
                                         ("shell_wall", "-lower", "all"), ("journal_diameter", "", "all"))),
    Route("rod_clearance", "installed", (("shell_bore", "", "square"), ("pin_diameter", "", "all"))),
    Route("rod_clearance", "by_parts", (("rod_bore_diameter", "", "square"), ("shell_wall", "-upper", "all"),
                                        ("shell_wall", "-lower", "all"), ("pin_diameter", "", "all"))),
    Route("piston_clearance", "by_parts", (("bore_diameter", "", "thrust"), ("piston_diameter", "", "all"))),
)  # fmt: skip
_NEEDED = frozenset(c for route in ROUTES for c, _, _ in route.needs)
_FORMULAS: dict[tuple[str, str], Callable[..., np.ndarray]] = {
    ("piston_clearance", "by_parts"): clearance.piston_clearance,
    ("main_clearance", "installed"): clearance.main_clearance_installed,
    ("rod_clearance", "installed"): clearance.main_clearance_installed,
}
SHAFTS = frozenset({"journal_diameter", "pin_diameter", "piston_diameter"})
_HOLES = {"main_clearance": "main-", "rod_clearance": "rod-", "piston_clearance": "cyl-"}


class _Parts:
    """Positions of every part, by characteristic, build and feature; last pass of the last operation."""

    def __init__(self, places: pd.DataFrame, held: pd.DataFrame | None = None) -> None:
        self.waiting = _waiting(held)
        places = places[places["characteristic"].isin(_NEEDED).to_numpy() & places["size"].notna().to_numpy()]
        self.c = {n: text(places, n).tolist() for n in ("state", "machine", "operation", "gauge")}
        self.clock, self.size = places["clock"].tolist(), places["size"].tolist()
        self.made, self.passes, self.rows = (places[n].tolist() for n in ("made_at", "pass_no", "rows"))
        keys = zip(
            text(places, "characteristic"), text(places, "build"), text(places, "feature"), strict=True
        )
        self.at: dict[tuple[str, str, str], list[int]] = {}
        self.latest: dict[str, int] = {}  # of each build, the time at which its last part was made
        for i, key in enumerate(keys):
            self.at.setdefault(key, []).append(i)
            self.latest[key[1]] = max(self.made[i], self.latest.get(key[1], self.made[i]))
        self.finished: dict[tuple[str, str], tuple[str, str]] = {}
        self.holes: dict[tuple[str, str], set[str]] = {}
        for characteristic, build, feature in self.at:
            if build is not None:
                self.holes.setdefault((build, characteristic), set()).add(feature)

    def get(self, characteristic: str, build: str, feature: str, which: str) -> Part | None:
        """The part as last made, or None when it was not measured where it counts."""
        found = self.at.get((characteristic, build, feature))
        if not found:
            return None
        found = self._places(self._last(found, characteristic, build), which)
        if not found:
            return None
        return Part(
            characteristic, feature, self.c["state"][found[0]], np.array([self.size[i] for i in found]),
            sum((self.rows[i] for i in found), ()),
            tuple(sorted({g for g in (self.c["gauge"][i] for i in found) if g is not None})),
            max(self.made[i] for i in found), self.c["machine"][found[0]],
        )  # fmt: skip

    def _last(self, found: list[int], characteristic: str, build: str) -> list[int]:
        """Rows of the build's last operation and the state that counts there; of those, the last pass.

        A feature that lacks it is missing: a bore whose honed size is held must not be taken as it was bored.
        """
        wanted = self.finished_as(characteristic, build)
        found = [i for i in found if (self.c["state"][i], self.c["operation"][i]) == wanted]
        if not found:
            return []
        machine = self.c["machine"][max(found, key=self.made.__getitem__)]
        last = max(self.passes[i] for i in found if self.c["machine"][i] == machine)
        return [i for i in found if self.c["machine"][i] == machine and self.passes[i] == last]

    def finished_as(self, characteristic: str, build: str) -> tuple[str, str]:
        """State and operation in which the build's parts of this kind are finished, those that wait too."""
        key = (characteristic, build)
        if key not in self.finished:
            rows = [i for f in self.holes[build, characteristic] for i in self.at[characteristic, build, f]]
            known = [(float(self.made[i]), self.c["state"][i], self.c["operation"][i]) for i in rows]
            known += self.waiting.get(key, [])
            for state in CATALOGUE[characteristic].states_that_matter:
                of_state = [one for one in known if one[1] == state]
                if of_state:
                    known = of_state
                    break
            _, *last = max(known, key=lambda one: one[0])
            self.finished[key] = (last[0], last[1])
        return self.finished[key]

    def _places(self, found: list[int], which: str) -> list[int]:
        if which == "square":
            return [i for i in found if self.clock[i] in (SQUARE_TO_JOINT, NONE)]
        thrust = [i for i in found if self.clock[i] == THRUST]
        return thrust if which == "thrust" and thrust else found


def _waiting(held: pd.DataFrame | None) -> dict[tuple[str, str], list[tuple[float, str, str]]]:
    """When, in which state and by which operation parts were read whose readings wait, by part and build.

    A row whose time cannot be read counts as the last.
    """
    found: dict[tuple[str, str], list[tuple[float, str, str]]] = {}
    if held is None:
        return found
    told = (text(held, n).tolist() for n in ("characteristic", "build", "state", "operation"))
    made = held["made_at"].fillna(np.inf).tolist()
    for characteristic, build, state, operation, at in zip(*told, made, strict=True):
        if None not in (characteristic, build, state, operation):
            found.setdefault((characteristic, build), []).append((at, state, operation))
    return found


def _values(rows: list[dict[str, Any]]) -> None:
    """Fill in the clearances [um] of the complete rows, those with equally many places together."""
    alike: dict[tuple[object, ...], list[dict[str, Any]]] = {}
    for row in rows:
        if not row["missing"]:
            shape = tuple(len(p.sizes) for p in row["parts"])
            alike.setdefault((row["characteristic"], row["method"], *shape), []).append(row)
    for (name, method, *_), group in alike.items():
        arrays = [
            np.array([row["parts"][i].sizes for row in group]) / TICKS_PER_UM
            for i in range(len(group[0]["parts"]))
        ]
        found = _FORMULAS.get((str(name), str(method)), clearance.by_parts)(*arrays)
        for row, value in zip(group, found.tolist(), strict=True):
            row["value"] = row["least"] = row["greatest"] = value


def _holes(parts: _Parts, build: str, name: str, planned: bool) -> list[str]:
    """Features of a build at which this clearance is to be expected.

    Where there is a plan for it, or both sides of it were measured: a block that came in without its crank
    lacks no bearing clearance.
    """
    prefix = _HOLES[name]
    found: tuple[set[str], set[str]] = (set(), set())
    for route in ROUTES:
        if route.clearance == name:
            for characteristic, suffix, _ in route.needs:
                side = found[characteristic in SHAFTS]
                for feature in parts.holes.get((build, characteristic), ()):
                    if feature.startswith(prefix) and feature.endswith(suffix):
                        side.add(feature.removesuffix(suffix))
    if not planned and not all(found):
        return []
    return sorted(found[0] | found[1], key=_number)


def _planned(name: str, build: str, engine: str | None, specs: Sequence[Spec]) -> bool:
    """Whether a specification speaks of this clearance of this build."""
    return any(
        s.characteristic == name and s.build in (None, build) and s.engine in (None, engine) for s in specs
    )


def _number(feature: str) -> tuple[str, int]:
    name, _, number = feature.partition("-")
    return name, int(number) if number.isdigit() else 0


def clearance_values(
    places: pd.DataFrame,
    specs: Sequence[Spec],
    builds: dict[str, tuple[str | None, str | None]],
    held: pd.DataFrame | None = None,
) -> pd.DataFrame:
    """One row a build, position and route.

    Parameters
    ----------
    places : DataFrame
        As `qc.history.values.positions` gives it.
    specs : sequence of Spec
        In force.
    builds : dict
        Engine and material of each build.
    held : DataFrame, optional
        Rows that wait, as `History.held`: a part whose last size waits is missing, not as it was before.

    Returns
    -------
    DataFrame
        The columns of bore values and `parts` (tuple of Part), `missing` (tuple of "characteristic
        feature"), `sized` (number of the size window where no target is planned, else -1): a position
        without a full route has one row, by the route that lacks the least share, its value NaN.
    """
    rows = fitted(places, specs, builds, held)
    if not rows:
        return pd.DataFrame(columns=[*VALUE_COLUMNS, "sized", "parts", "missing"])
    out = judged(pd.DataFrame(rows), specs)
    lacking = [f"not measured: {', '.join(m)}" if m else None for m in out["missing"]]
    out["reason"] = np.array([m or r for m, r in zip(lacking, out["reason"], strict=True)], dtype=object)
    return out[[*VALUE_COLUMNS, "sized", "parts", "missing"]]


def fitted(
    places: pd.DataFrame,
    specs: Sequence[Spec],
    builds: Mapping[str, tuple[str | None, str | None]],
    held: pd.DataFrame | None = None,
) -> list[dict[str, Any]]:
    """Rows of `clearance_values` before a specification judges them: `value` is as it is [um]."""
    parts = _Parts(places, held)
    rows: list[dict[str, Any]] = []
    for build in sorted({b for b, _ in parts.holes}):
        for name in _HOLES:
            known = builds.get(build, (None, None))
            for hole in _holes(parts, build, name, _planned(name, build, known[0], specs)):
                rows.extend(_position(parts, build, name, hole, known))
    _values(rows)
    return rows


def _position(
    parts: _Parts, build: str, name: str, hole: str, known: tuple[str | None, str | None]
) -> list[dict[str, Any]]:
    complete: list[tuple[int, Route, list[Part], tuple[str, ...]]] = []
    partial: list[tuple[int, Route, list[Part], tuple[str, ...]]] = []
    for route in (r for r in ROUTES if r.clearance == name):
        wanted = [(c, hole + suffix, which) for c, suffix, which in route.needs]
        found = [parts.get(c, build, feature, which) for c, feature, which in wanted]
        missing = tuple(f"{c} {f}" for (c, f, _), p in zip(wanted, found, strict=True) if p is None)
        had = [p for p in found if p is not None]
        (partial if missing else complete).append((len(missing), route, had, missing))
    chosen = complete or [min(partial, key=lambda item: item[0] / len(item[1].needs))]
    return [_row(parts, route, build, hole, had, missing, known) for _, route, had, missing in chosen]


def _state(parts: _Parts, route: Route, build: str, had: list[Part]) -> str:
    """Caps torqued for bearings; that of the bore for pistons, as it was finished where it is missing."""
    bore = route.needs[0][0]
    if route.clearance != "piston_clearance":
        return "caps_torqued"
    of_bore = [p.state for p in had if p.characteristic == bore]
    if of_bore:
        return of_bore[0]
    return parts.finished_as(bore, build)[0] if (build, bore) in parts.holes else "unstated"


def _row(
    parts: _Parts, route: Route, build: str, hole: str, had: list[Part], missing: tuple[str, ...],
    known: tuple[str | None, str | None],
) -> dict[str, Any]:  # fmt: skip
    made_at = max((p.made_at for p in had), default=parts.latest[build])
    nothing = ("value", "least", "greatest", "aim", "limit_target", "lower_limit", "upper_limit", "order")
    return {
        **dict.fromkeys(nothing, np.nan), "spec": -1, "conforms": None, "reason": None, "operator": None,
        "machine": "bench", "operation": "fit", "characteristic": route.clearance, "method": route.method,
        "state": _state(parts, route, build, had), "block": build, "feature": hole, "pass_no": 1,
        "build": build, "engine": known[0], "material": known[1], "complete": not missing,
        "made_at": made_at, "gauges": tuple(sorted({g for p in had for g in p.gauges})), "sized_with": (),
        "rows": sum((p.rows for p in had), ()), "parts": tuple(had), "missing": missing,
    }  # fmt: skip
