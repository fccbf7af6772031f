"""What a bench sheet of a build asks for: quantities, features, positions, targets and limits."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import pandas as pd

from qc.catalogue import CATALOGUE, characteristic
from qc.errors import QuestionError
from qc.history.plan import NONE, MeasuringPlan
from qc.history.specs import resolve
from qc.ingest import keys
from qc.records import Asked, PlanRow, Spec
from qc.store import Store

_HEAD: Final = ("machine", "operation", "characteristic", "method", "state")
Position = tuple[int | None, int | None]  # depth and direction [ticks]


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a person asked a sheet to be about; empty means all that was measured on such engines."""

    build: str
    engine: str | None = None
    machine: tuple[str, ...] = ()
    operation: tuple[str, ...] = ()
    characteristic: tuple[str, ...] = ()
    state: tuple[str, ...] = ()
    feature: tuple[str, ...] = ()
    station: tuple[int, ...] = ()
    clock: tuple[int, ...] = ()
    pass_: int | None = None


@dataclass(frozen=True, slots=True)
class Column:
    """One hole or journal of a table, its target and its limits as distances from it [ticks]."""

    feature: str
    target: int | None
    lower: int | None
    upper: int | None


@dataclass(frozen=True, slots=True)
class TablePlan:
    """One table of a sheet: what it is about, its columns and its rows."""

    head: dict[str, str]
    columns: tuple[Column, ...]
    positions: tuple[Position, ...]


@dataclass(frozen=True, slots=True)
class SheetPlan:
    """The tables of a build's sheet."""

    build: str
    engine: str | None
    serial: str | None
    tables: tuple[TablePlan, ...]


def planned(store: Store, wanted: Wanted, at: int) -> SheetPlan:
    """What to measure on a build, and the targets and limits in force at a time [us since 1970 UTC].

    Raises
    ------
    QuestionError
        When neither the store nor the question says what, where or on which engine.
    """
    known = store.builds().get(wanted.build)
    mine = store.readings(Asked(build=(wanted.build,)))
    said = list(mine["engine"].dropna().unique()) if len(mine) else []
    engine = wanted.engine or (known.engine if known else None) or (said[0] if said else None)
    if engine is None and not mine.shape[0]:
        raise QuestionError(
            f"no build {wanted.build!r} is known: say its engine with --engine, or take in a file of builds"
        )
    measured = store.readings(Asked(engine=(engine,))) if engine else mine
    plan = store.plan()
    heads = _heads(measured, wanted)
    specs, tables = store.specs(), []
    for head in heads:
        rows = _of(measured, head)
        features = _features(rows, plan, head, engine, wanted)
        positions = _positions(rows, plan, head, engine, features, at, wanted)
        columns = _columns(specs, wanted.build, engine, head, features, positions, at)
        tables.append(TablePlan(head, columns, positions))
    return SheetPlan(wanted.build, engine, known.serial if known else None, tuple(tables))


def _asks(wanted: Wanted, head: dict[str, str]) -> bool:
    return all(not getattr(wanted, n) or head[n] in getattr(wanted, n) for n in _HEAD if n != "method")


def _heads(measured: pd.DataFrame, wanted: Wanted) -> list[dict[str, str]]:
    """Series measured on such engines that are asked for, else the one the question spells out."""
    for name in wanted.characteristic:
        characteristic(name)
    order = list(CATALOGUE)
    found = []
    for told in measured[list(_HEAD)].drop_duplicates().to_dict("records"):
        head = {n: str(told[n]) for n in _HEAD}
        if _asks(wanted, head) and not head["method"].startswith("typed"):
            found.append(head)
    found.sort(key=lambda h: (h["machine"], h["operation"], order.index(h["characteristic"]), h["state"]))
    return found or [_spelled(wanted)]


def _spelled(wanted: Wanted) -> dict[str, str]:
    parts = {n: getattr(wanted, n) for n in ("machine", "operation", "characteristic")}
    missing = [n for n, told in parts.items() if len(told) != 1]
    if missing:
        options = " ".join(f"--{n}" for n in missing)
        raise QuestionError(f"nothing like it was measured on such an engine yet: say one each of {options}")
    head = {n: str(told[0]) for n, told in parts.items()}
    entry = characteristic(head["characteristic"])
    if len(wanted.state) != 1 and entry.states_that_matter:
        raise QuestionError(
            f"how is it held when it is measured? say --state {' or --state '.join(entry.states_that_matter)}"
        )
    state = keys.state(wanted.state[0]) if wanted.state else "unstated"
    if state is None:
        raise QuestionError(f"{wanted.state[0]!r} is no state we know: see qc template readings")
    return head | {"method": keys.method(entry.key, None), "state": state}


def _of(measured: pd.DataFrame, head: dict[str, str]) -> pd.DataFrame:
    here = measured
    for name, key in head.items():
        here = here[here[name] == key]
    return here


def _number(feature: str) -> tuple[str, int, str]:
    digits = "".join(c for c in feature if c.isdigit())
    return feature.partition("-")[0], int(digits or 0), feature


def _features(
    rows: pd.DataFrame, plan: Sequence[PlanRow], head: dict[str, str], engine: str | None, wanted: Wanted
) -> list[str]:
    if wanted.feature:
        found = [keys.feature(f) or f for f in wanted.feature]
        wrong = [f for f in found if keys.feature(f) is None]
        if wrong:
            raise QuestionError(f"{wrong[0]!r} is no feature we know: write cyl-3, main-2, rod-5")
        return list(dict.fromkeys(found))
    if len(rows):
        builds = rows["build"].nunique()
        counts = rows.groupby("feature")["build"].nunique()
        return sorted((str(f) for f in counts.index if 2 * counts[f] >= builds), key=_number)
    asked = {r.feature for r in plan if r.characteristic == head["characteristic"]
             and r.engine in (None, engine) and r.feature}  # fmt: skip
    if not asked:
        raise QuestionError(
            f"which features of {head['characteristic']}? say --feature cyl-1 --feature cyl-2 and so on, "
            "or take in a measuring plan that names them"
        )
    return sorted(asked, key=_number)


def _ticks(part: Any) -> int | None:
    return None if pd.isna(part) or part == NONE else int(part)


def _positions(
    rows: pd.DataFrame, plan: Sequence[PlanRow], head: dict[str, str], engine: str | None,
    features: Sequence[str], at: int, wanted: Wanted,
) -> tuple[Position, ...]:  # fmt: skip
    """Positions in order of depth: those asked for, the plan's, else those measured most often."""
    if wanted.station or wanted.clock:
        return tuple((s, c) for s in wanted.station or (None,) for c in wanted.clock or (None,))
    rule = MeasuringPlan(plan)
    told = [rule.positions(head["characteristic"], engine, f, head["state"], at) for f in features]
    found = {(_ticks(s), _ticks(c)) for positions in told for s, c in positions}
    if not found and len(rows):
        found = set(_usual(rows))
    if not found:
        if CATALOGUE[head["characteristic"]].level == "position":
            raise QuestionError(
                f"where is {head['characteristic']} measured? say --station 10 --station 60 and "
                "--clock 0 --clock 90, or take in a measuring plan (qc template plan)"
            )
        found = {(None, None)}
    return tuple(sorted(found, key=lambda p: tuple(-1 if x is None else x for x in p)))


def _usual(rows: pd.DataFrame) -> tuple[Position, ...]:
    counts: Counter[tuple[Position, ...]] = Counter()
    for _, bore in rows.groupby(["build", "feature"], observed=True):
        pairs = {(_ticks(s), _ticks(c)) for s, c in zip(bore["station"], bore["clock"], strict=True)}
        counts[tuple(sorted(pairs, key=str))] += 1
    return max(counts.items(), key=lambda item: (item[1], len(item[0]), str(item[0])))[0]


def _columns(
    specs: Sequence[Spec], build: str, engine: str | None, head: dict[str, str], features: Sequence[str],
    positions: Sequence[Position], at: int,
) -> tuple[Column, ...]:  # fmt: skip
    """Features with what is in force; a target or limit that differs down the depth is left blank."""
    places = [(f, s, c) for f in features for s, c in positions]
    rows = pd.DataFrame({
        "build": build, "engine": pd.Series([engine] * len(places), dtype=object),
        "operation": head["operation"], "characteristic": head["characteristic"],
        "feature": [f for f, _, _ in places],
        "station": pd.array([s for _, s, _ in places], dtype="Int64"),
        "clock": pd.array([c for _, _, c in places], dtype="Int64"),
        "state": head["state"], "made_at": at, "target": pd.array([pd.NA] * len(places), dtype="Int64"),
    })  # fmt: skip
    rule = resolve(specs, rows)
    coded = CATALOGUE[head["characteristic"]].coded
    found = []
    for i, feature in enumerate(features):
        here = slice(i * len(positions), (i + 1) * len(positions))
        target = _one(rule.target[here]) if coded else None
        found.append(Column(feature, target, _one(rule.lower[here]), _one(rule.upper[here])))
    return tuple(found)


def _one(values: Any) -> int | None:
    first = values[0]
    return int(first) if first == first and (values == first).all() else None
