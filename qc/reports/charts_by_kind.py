"""The chart in another kind than the default: the same series and blocks, judged another way."""

from typing import Any, Final

import numpy as np
import pandas as pd

from qc.catalogue import characteristic
from qc.errors import QcError, QuestionError, TooLittleData
from qc.history import History, history
from qc.history.zone import shop_zone
from qc.records import Asked
from qc.reports import chart
from qc.reports.chart_kinds import ASKED_THE_RULES, NOT_TOLERANCE, SINGLE, Blocks, Told, questions
from qc.reports.charts_together import together
from qc.reports.words import day, plain, plural, series_name

DEFAULT: Final = "block_means"
KINDS: Final = (DEFAULT, *SINGLE, "multivariate")
_LEARNING: Final = {"phase": "being_learned", "set_at": None, "by": None}
_FIGURES: Final = ("center", "lower_limit", "upper_limit")


def answer(store: Any, asked: Asked, *, kind: str = DEFAULT, learn: int | None = None) -> dict[str, Any]:
    """Chart of every series the question is about, of one kind.

    Parameters
    ----------
    store : qc.store.Store
    asked : Asked
    kind : str
        One of `KINDS`; the default is `qc.reports.chart.answer` itself.
    learn : int, optional
        Number of first blocks from which limits are learned, where a kind learns any.

    Raises
    ------
    QuestionError
        No such kind.
    """
    if kind not in KINDS:
        raise QuestionError(f"there is no chart of kind {kind!r}: take one of {', '.join(KINDS)}")
    document = chart.answer(store, asked, learn=learn)
    if kind == DEFAULT:
        return document
    found = history(store, asked)
    rows = (
        together(document["series"], learn)
        if kind == "multivariate"
        else [(row, _told(row, found, kind, learn)) for row in document["series"]]
    )
    document["kind"] = kind
    document["series"] = [plain(_row(row, told, found)) for row, told in rows]
    return document


def _told(row: dict[str, Any], found: History, kind: str, learn: int | None) -> Told | QcError:
    blocks = _blocks(row, found, learn)
    if kind in ASKED_THE_RULES:
        row["questions"] = questions(blocks, [b["build"] for b in row["blocks"]])
    try:
        return SINGLE[kind](blocks)
    except (TooLittleData, QuestionError) as reason:
        return reason


def _blocks(row: dict[str, Any], found: History, learn: int | None) -> Blocks:
    rows = row["blocks"]

    def column(name: str) -> np.ndarray:
        return np.array([np.nan if b[name] is None else b[name] for b in rows], dtype=float)

    engines = {name: build.engine for name, build in found.builds.items()}
    told = dict(zip(found.blocks["build"], found.blocks["engine"], strict=True))
    family = [engines.get(b["build"]) or told.get(b["build"]) for b in rows]
    return Blocks(
        column("mean"), column("n"), column("spread"), column("highest") - column("lowest"),
        column("stretch"), column("joint"), column("wear"),
        [f if isinstance(f, str) else "engine not said" for f in family],
        row["spread_in_block"], row["spread_between_blocks"], row["lag1"] or 0.0, row["window"],
        characteristic(row["characteristic"]), learn,
    )  # fmt: skip


def _row(row: dict[str, Any], told: Told | QcError, found: History) -> dict[str, Any]:
    """The default chart's row with limits, signals and words of another kind."""
    kept = {n: why for n, why in row["not_given"].items() if n not in _FIGURES}
    out = {**row, "limits": dict(_LEARNING), "methods": {}}
    out["not_given"] = kept | dict.fromkeys(("limits.set_at", "limits.by"), "the limits are being learned")
    if isinstance(told, QcError):
        out.update(dict.fromkeys(_FIGURES), blocks=[_block(b) for b in row["blocks"]])
        out["not_given"] |= dict.fromkeys(_FIGURES, str(told))
        out["explanation"] = [f"{str(told)[:1].upper()}{str(told)[1:]}.", NOT_TOLERANCE]
        out["sentence"] = f"{series_name(row)}: {told}."
        return out
    out.update(center=told.center, lower_limit=told.lower_limit, upper_limit=told.upper_limit)
    lacking = [n for n in _FIGURES if out[n] is None]
    out["not_given"] |= dict.fromkeys(
        lacking, "this kind has none that holds for every block: see the blocks"
    )
    out["methods"] = {**told.methods, "run_length": told.run_length, "source": told.source}
    out["blocks"] = [_block(b, told, i) for i, b in enumerate(row["blocks"])]
    out["explanation"] = [
        told.says, f"How sure: {told.run_length}.", *(f"Assumed: {a}." for a in told.assumed), told.do_not,
        NOT_TOLERANCE,
    ]  # fmt: skip
    out["sentence"] = _sentence(out, told, found)
    return out


def _block(block: dict[str, Any], told: Told | None = None, i: int = 0) -> dict[str, Any]:
    if told is None:
        return {**block, "signals": [], "statistic": None, "lower": None, "upper": None}
    signal = {"signal": told.headline, "words": told.words, "source": told.source}
    return {
        **block, "signals": [signal] if told.signals[i] else [],
        "statistic": told.statistic[i], "lower": told.lower[i], "upper": told.upper[i],
        **{name: figures[i] for name, figures in told.beside.items()},
    }  # fmt: skip


def _sentence(row: dict[str, Any], told: Told, found: History) -> str:
    name, zone = series_name(row), shop_zone(found.settings)
    off = [b for b in row["blocks"] if b["signals"]]
    judged = int((~(np.isnan(told.lower) & np.isnan(told.upper))).sum())
    if not off:
        return f"{name}: {told.headline}: nothing in {plural(judged, 'block')} calls for a look."
    last = off[-1]
    return (
        f"{name}: {told.headline}: {plural(len(off), 'block')} of {judged} "
        f"{'calls' if len(off) == 1 else 'call'} for a look, last {last['build'] or 'a reading'} on "
        f"{day(pd.Timestamp(last['at']).value // 1000, zone)}: {told.words}."
    )
