"""A store's readings made into what every check and every answer starts from."""

from collections import OrderedDict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from types import SimpleNamespace
from typing import Any
from weakref import WeakKeyDictionary

import numpy as np
import pandas as pd

from qc.catalogue import CATALOGUE
from qc.history.blocks import block_table
from qc.history.clearances import clearance_values
from qc.history.form import form_values
from qc.history.line import line_values
from qc.history.plan import MeasuringPlan
from qc.history.readings import SERIES, known_engine, text, typed
from qc.history.values import VALUE_COLUMNS, Bores, bore_values, positions
from qc.records import Asked, Build, Event, Gauge, Reading, Spec

_KEPT: "OrderedDict[tuple[object, ...], History]" = OrderedDict()
_KEEP = 4
BESIDE = ("matter", "reaction", "notify")
"""Commands whose writes are about no reading, record or setting."""
_BORN: WeakKeyDictionary[Any, int] = WeakKeyDictionary()


@dataclass(frozen=True)
class History:
    """Readings, bore values and blocks of a store at one revision.

    readings : kept readings with limits (`qc.history.readings.typed`), excluded ones marked
    values : bore values, measured and derived, `block_at` the time of their block
    blocks : the block table; clearances : with parts and missing ones, `block_at` the time of their build
    passed_over : (n,) bool, readings that a later one at the same position replaced
    held : one row a held cell; voided : readings once kept; events, specs, gauges, builds, settings : in
    force
    ids : id of each row of `readings`; behind : rows of `readings` behind each value, by the values' own
    labels
    """

    revision: int
    readings: pd.DataFrame
    values: pd.DataFrame
    blocks: pd.DataFrame
    clearances: pd.DataFrame
    passed_over: np.ndarray
    held: pd.DataFrame
    voided: pd.DataFrame
    events: list[Event]
    specs: list[Spec]
    gauges: list[Gauge]
    builds: dict[str, Build]
    settings: dict[str, str]
    ids: np.ndarray
    behind: np.ndarray
    asked: Asked = field(default_factory=Asked)

    def ids_behind(self, values: Iterable[int]) -> list[str]:
        """Ids of the readings behind some values, named by their labels; each once, in order."""
        rows = dict.fromkeys(r for v in values for r in self.behind[v])
        return [str(self.ids[r]) for r in rows]


def history(store: Any, asked: Asked | None = None, *, with_excluded: bool = False) -> History:
    """Everything known of the series a question is about, as of its revision.

    Parameters
    ----------
    store : qc.store.Store
    asked : Asked
        Filters; the arithmetic of bores, stretches and wear always sees the whole shop, so that a filter
        never changes a figure it does not speak of.
    with_excluded : bool
        Let excluded readings count (figures are printed with and without them).
    """
    asked = asked or Asked()
    revision = store.revision(asked.as_of)
    key = (*identity(store), revision, with_excluded)
    if key not in _KEPT:
        _KEPT[key] = _as_before(store, key) or _composed(store, revision, with_excluded)
        while len(_KEPT) > _KEEP:
            _KEPT.popitem(last=False)
    _KEPT.move_to_end(key)
    return selected(_KEPT[key], asked)


def _as_before(store: Any, key: tuple[object, ...]) -> History | None:
    """A kept history of which only what people say of matters has been written since; None without one."""
    *shop, revision, with_excluded = key
    older = [k for k in _KEPT if list(k[:-2]) == shop and k[-1] == with_excluded and k[-2] < revision]  # type: ignore[operator]
    if not older:
        return None
    nearest = max(older, key=lambda k: k[-2])  # type: ignore[arg-type, return-value]
    writes = store.revisions()
    since = writes[(writes["number"] > nearest[-2]) & (writes["number"] <= revision)]
    if all(str(command).split(" ")[0] in BESIDE for command in since["command"]):
        return replace(_KEPT[nearest], revision=int(revision))  # type: ignore[call-overload]
    return None


def identity(store: Any) -> tuple[object, ...]:
    """What tells a store from one made anew at the same place: its place and its first write."""
    if store not in _BORN:
        writes = store.revisions()
        if not len(writes):
            return store.place, None
        _BORN[store] = int(writes["at"].iloc[0])
    return store.place, _BORN[store]


def _composed(store: Any, revision: int, with_excluded: bool) -> History:
    frame = store.readings(Asked(as_of=revision), status="all")
    voided = frame["voided_in"].notna().to_numpy()
    specs, builds, events = store.specs(revision), store.builds(revision), store.events(revision)
    gauges = store.gauges(revision)
    readings = typed(frame[~voided], specs, builds, gauges)
    counted = readings if with_excluded else readings[~readings["excluded"].to_numpy(dtype=bool)]
    kept_rows = counted.index.to_numpy()
    places, over = positions(counted.reset_index(drop=True))
    places["rows"] = [tuple(kept_rows[list(rows)]) for rows in places["rows"]]
    bores = Bores(places, MeasuringPlan(store.plan(revision)))
    measured = bore_values(bores)
    derived = form_values(bores, measured, specs)
    known = {b: (e, m) for b, e, m in zip(text(places, "build"), text(places, "known_engine"),
                                          _materials(places, builds), strict=True)}  # fmt: skip
    held = _held(store.held(as_of=revision), builds)
    clearances = clearance_values(places, specs, known, held)
    fitted = clearances[clearances["missing"].map(len) == 0][list(VALUE_COLUMNS)]
    made = [f for f in (measured, derived, line_values(places, specs), fitted) if len(f)]
    values = pd.concat(made or [measured], ignore_index=True)
    left = readings[readings["excluded"].to_numpy(dtype=bool)]
    blocks = block_table(values, events, None if with_excluded else left)
    values["block_at"] = _of_block(values, blocks)
    fitted_at = clearances.groupby("build")["made_at"].transform("max")
    passed_over = np.zeros(len(readings), dtype=bool)
    passed_over[kept_rows[over]] = True
    return History(
        revision=revision, readings=readings, values=values, blocks=blocks,
        clearances=clearances.assign(block_at=fitted_at),
        passed_over=passed_over,
        held=held,
        voided=frame[voided].assign(engine=known_engine(frame[voided], builds)),
        events=events, specs=specs, gauges=gauges, builds=builds,
        settings=store.settings(revision), ids=readings["id"].astype(object).to_numpy(),
        behind=values["rows"].to_numpy(),
    )  # fmt: skip


def _materials(places: pd.DataFrame, builds: dict[str, Build]) -> list[str | None]:
    return [
        (builds[b].material if b in builds and builds[b].material else m)
        for b, m in zip(text(places, "build"), text(places, "material"), strict=True)
    ]


def _of_block(values: pd.DataFrame, blocks: pd.DataFrame) -> np.ndarray:
    """Time of the block that each value is part of; its own where the block has none yet."""
    keys = [*SERIES, "block"]
    at = values[keys].merge(blocks[[*keys, "at"]], on=keys, how="left", validate="many_to_one")["at"]
    own = values["made_at"].to_numpy(dtype=np.int64)
    known = at.notna().to_numpy()
    found: np.ndarray = np.where(known, at.fillna(0).to_numpy(dtype=np.int64), own)
    return found


def _held(held: pd.DataFrame, builds: dict[str, Build]) -> pd.DataFrame:
    """Held rows of readings with what a filter may ask for: feature, gauge, engine and time where known."""
    of_readings = [r is None or isinstance(r, Reading) for r in held["reading"]]
    mine = held[np.array(of_readings, dtype=bool)]
    told = [_told(r, fields) for r, fields in zip(mine["reading"], mine["fields"], strict=True)]
    methods = [_first_method(c) for c in mine["characteristic"]]
    engines = {name: b.engine for name, b in builds.items()}
    own = [getattr(r, "engine", None) for r in told]
    return mine.assign(
        method=mine["method"].where(mine["method"].notna(), pd.array(methods, dtype="str")),
        state=mine["state"].where(mine["state"].notna(), "unstated"),
        feature=pd.array([getattr(r, "feature", None) for r in told], dtype="str"),
        gauge=pd.array([getattr(r, "gauge", None) for r in told], dtype="str"),
        engine=pd.array([e or engines.get(b) for e, b in zip(own, mine["build"], strict=True)], dtype="str"),
        made_at=np.array([getattr(r, "made_at", np.nan) for r in mine["reading"]], dtype=float),
    )


def _told(reading: Reading | None, fields: Any) -> Any:
    """The reading; of a row that could not be read, the texts of its cells by their headers."""
    if reading is not None:
        return reading
    read = {name.strip().lower(): said.strip() for name, said in dict(fields).items() if said.strip()}
    return SimpleNamespace(**read)


def _first_method(characteristic: object) -> str | None:
    """What a blank method means."""
    entry = CATALOGUE.get(characteristic) if isinstance(characteristic, str) else None
    return None if entry is None else entry.methods[0]


def chosen(frame: pd.DataFrame, asked: Asked, at: str) -> np.ndarray:
    """Rows of a frame that the filters let through."""
    keep = np.ones(len(frame), dtype=bool)
    for name in (*SERIES, "feature", "engine", "build"):
        wanted = getattr(asked, name)
        if wanted and name in frame:
            keep &= frame[name].isin(wanted).to_numpy()
    if asked.gauge and "gauges" in frame:
        keep &= np.array([any(g in asked.gauge for g in gs) for gs in frame["gauges"]], dtype=bool)
    if asked.gauge and "gauge" in frame:
        keep &= frame["gauge"].isin(asked.gauge).to_numpy()
    when = frame[at].to_numpy() if at in frame else None
    if when is not None and asked.since is not None:
        keep &= when >= asked.since
    if when is not None and asked.until is not None:
        keep &= when <= asked.until
    return keep


def selected(whole: History, asked: Asked) -> History:
    """The part of a history that the filters let through; a filter that looks inside blocks remakes them."""
    plain = not any(getattr(asked, n) for n in (*SERIES, "feature", "engine", "build", "gauge"))
    if plain and asked.since is None and asked.until is None:
        return whole
    values = whole.values[chosen(whole.values, asked, "block_at")]
    if asked.feature or asked.gauge:
        blocks = _remade(values, whole)
    else:
        blocks = whole.blocks[chosen(whole.blocks, asked, "at")].reset_index(drop=True)
    return replace(
        whole,
        values=values,
        blocks=blocks,
        clearances=whole.clearances[chosen(whole.clearances, asked, "block_at")],
        held=whole.held[chosen(whole.held, asked, "made_at")],
        voided=whole.voided[chosen(whole.voided, asked, "made_at")],
        asked=asked,
    )


def _remade(values: pd.DataFrame, whole: History) -> pd.DataFrame:
    """Blocks of some values, each at its place in the whole series: time, stretch, joints and wear stay."""
    placed = ["at", "stretch", "joint", "repair", "wear", "made"]
    blocks = block_table(values, ()).drop(columns=placed)
    if not len(blocks):
        return whole.blocks.iloc[:0]
    remade = blocks.merge(
        whole.blocks[[*SERIES, "block", *placed]], on=[*SERIES, "block"], how="left", validate="one_to_one"
    )
    remade = remade.sort_values([*SERIES, "at", "block"], kind="stable").reset_index(drop=True)
    return remade[list(whole.blocks.columns)]


def series_key(row: Mapping[Any, Any]) -> tuple[str, ...]:
    """Machine, operation, characteristic, method and state of a row that names them."""
    return tuple(str(row[name]) for name in SERIES)


def series_id(key: tuple[str, ...]) -> str:
    """`machine/operation/characteristic/method/state`."""
    return "/".join(key)
