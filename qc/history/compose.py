"""A store's readings made into what every check and every answer starts from."""

from collections import OrderedDict
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import pandas as pd

from qc.catalogue import CATALOGUE
from qc.history.blocks import block_table
from qc.history.clearances import clearance_values
from qc.history.form import form_values
from qc.history.line import line_values
from qc.history.plan import MeasuringPlan
from qc.history.readings import SERIES, text, typed
from qc.history.values import VALUE_COLUMNS, Bores, bore_values, positions
from qc.records import Asked, Build, Event, Gauge, Spec

_KEPT: "OrderedDict[tuple[object, ...], History]" = OrderedDict()
_KEEP = 4


@dataclass(frozen=True)
class History:
    """Readings, bore values and blocks of a store at one revision.

    readings : kept readings with limits (`qc.history.readings.typed`), excluded ones marked
    values : bore values, measured and derived; blocks : the block table; clearances : with parts and
    missing ones
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
    key = (store.place, revision, with_excluded)
    if key not in _KEPT:
        _KEPT[key] = _composed(store, revision, with_excluded)
        while len(_KEPT) > _KEEP:
            _KEPT.popitem(last=False)
    _KEPT.move_to_end(key)
    return selected(_KEPT[key], asked)


def _composed(store: Any, revision: int, with_excluded: bool) -> History:
    frame = store.readings(Asked(as_of=revision), status="all")
    voided = frame["voided_in"].notna().to_numpy()
    specs, builds, events = store.specs(revision), store.builds(revision), store.events(revision)
    readings = typed(frame[~voided], specs, builds)
    counted = readings if with_excluded else readings[~readings["excluded"].to_numpy(dtype=bool)]
    kept_rows = counted.index.to_numpy()
    places, over = positions(counted.reset_index(drop=True))
    places["rows"] = [tuple(kept_rows[list(rows)]) for rows in places["rows"]]
    bores = Bores(places, MeasuringPlan(store.plan(revision)))
    measured = bore_values(bores)
    derived = form_values(bores, measured, specs)
    known = {b: (e, m) for b, e, m in zip(text(places, "build"), text(places, "known_engine"),
                                          _materials(places, builds), strict=True)}  # fmt: skip
    clearances = clearance_values(places, specs, known)
    fitted = clearances[clearances["missing"].map(len) == 0][list(VALUE_COLUMNS)]
    made = [f for f in (measured, derived, line_values(places, specs), fitted) if len(f)]
    values = pd.concat(made or [measured], ignore_index=True)
    passed_over = np.zeros(len(readings), dtype=bool)
    passed_over[kept_rows[over]] = True
    return History(
        revision=revision, readings=readings, values=values, blocks=block_table(values, events),
        clearances=clearances, passed_over=passed_over, held=store.held(as_of=revision), voided=frame[voided],
        events=events, specs=specs, gauges=store.gauges(revision), builds=builds,
        settings=store.settings(revision), ids=readings["id"].astype(object).to_numpy(),
        behind=values["rows"].to_numpy(),
    )  # fmt: skip


def _materials(places: pd.DataFrame, builds: dict[str, Build]) -> list[str | None]:
    return [
        (builds[b].material if b in builds and builds[b].material else m)
        for b, m in zip(text(places, "build"), text(places, "material"), strict=True)
    ]


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
    values = whole.values[chosen(whole.values, asked, "made_at")]
    if asked.feature or asked.gauge:
        blocks = block_table(values, whole.events)
        remade = blocks.drop(columns=["stretch", "joint", "repair", "wear", "made"]).merge(
            whole.blocks[[*SERIES, "block", "stretch", "joint", "repair", "wear", "made"]],
            on=[*SERIES, "block"], how="left", validate="one_to_one",
        )  # fmt: skip
        blocks = remade[list(whole.blocks.columns)]
    else:
        blocks = whole.blocks
    return replace(
        whole,
        values=values,
        blocks=blocks[chosen(blocks, asked, "at")].reset_index(drop=True),
        clearances=whole.clearances[chosen(whole.clearances, asked, "made_at")],
        held=whole.held[chosen(whole.held, asked, "made_at")],
        voided=whole.voided[chosen(whole.voided, asked, "made_at")],
        asked=asked,
    )


def series_id(key: tuple[str, ...]) -> str:
    """`machine/operation/characteristic/method/state`."""
    return "/".join(key)


def known_characteristics(history: History) -> list[str]:
    """Characteristics with at least one value, in the catalogue's order."""
    present = set(history.values["characteristic"])
    return [key for key in CATALOGUE if key in present]
