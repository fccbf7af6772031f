"""The chart in any kind: the usual one of each series, one that a person chose for it, or one asked for."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from qc.catalogue import characteristic
from qc.catalogue import said as said_of
from qc.errors import QcError, QuestionError, TooLittleData
from qc.history import History, history, series_key
from qc.history.zone import shop_zone
from qc.records import Asked
from qc.reports import chart, charts_of_counts
from qc.reports.chart_kinds import SINGLE
from qc.reports.chart_limits import FIGURES
from qc.reports.chart_told import Blocks, Told
from qc.reports.chart_words import NOT_TOLERANCE, leaning
from qc.reports.charts_together import together
from qc.reports.choices import DEFAULT_KIND, Choice, choices, said
from qc.reports.questions import questions
from qc.reports.words import day_of, plain, plural, series_name, whole

DEFAULT: Final = DEFAULT_KIND
COUNTED: Final = tuple(charts_of_counts.KINDS)
KINDS: Final = (DEFAULT, *SINGLE, "multivariate", *COUNTED)
_OF_LIMITS: Final = ("set_at", "by", "reason", "revision")


@dataclass(frozen=True, slots=True)
class Wanted:
    """How a chart is asked for: blocks learned from, shift to be seen, run length on target, level."""

    learn: int | None
    shift: float
    run_length: float | None
    level: float


def answer(
    store: Any, asked: Asked, *, kind: str | None = None, learn: int | None = None,
    shift: float | None = None, run_length: float | None = None,
) -> dict[str, Any]:  # fmt: skip
    """Chart of every series the question is about.

    Parameters
    ----------
    store : qc.store.Store
    asked : Asked
    kind : str, optional
        One of `KINDS`; without it each series' own choice, at first `block_means`.
    learn : int, optional
        Number of first blocks from which limits are learned, where a kind learns any.
    shift : float, optional
        Lasting shift to be seen by a running average or sum [spreads of a block mean]; 1 where not said.
    run_length : float, optional
        Blocks to a false alarm these are designed for, centre and spread known; the alarm budget's.

    Raises
    ------
    QuestionError
        No such kind, or a design that cannot be.
    """
    if kind is not None and kind not in KINDS:
        raise QuestionError(f"there is no chart of kind {kind!r}: take one of {', '.join(KINDS)}")
    _sensible(shift, run_length)
    document = chart.answer(store, asked, learn=learn)
    found, own = history(store, asked), choices(store, asked.as_of)
    wanted = Wanted(learn, shift or 1.0, run_length, document["alarm_level"]["level"])
    document["kind"] = kind or "chosen"
    if kind in COUNTED:
        document["series"] = plain(charts_of_counts.rows(found, kind, wanted.level))
        return document
    if kind == "multivariate":
        both = together(document["series"], learn, wanted.level)
        document["series"] = [plain(_row(row, told, found, kind, None)) for row, told in both]
        return document
    document["series"] = [plain(_one(row, found, kind, own, wanted)) for row in document["series"]]
    return document


def _sensible(shift: float | None, run_length: float | None) -> None:
    if shift is not None and not 0.1 <= shift <= 5:
        raise QuestionError("the shift to be seen is from 0.1 to 5 spreads of a block mean: 1 is usual")
    if run_length is not None and not 20 <= run_length <= 1e5:
        raise QuestionError(
            "the run length is from 20 to 100,000 blocks to a false alarm: 370 is an old habit"
        )


def _one(
    row: dict[str, Any],
    found: History,
    kind: str | None,
    own: Mapping[Any, Mapping[str, Choice]],
    wanted: Wanted,
) -> dict[str, Any]:
    chosen = own.get(series_key(row), {}).get("chart")
    mine = kind or (chosen.value if chosen and chosen.value in SINGLE else DEFAULT)
    blocks = _blocks(row, found, wanted)
    row["questions"] = questions(blocks, row)
    if mine == DEFAULT:
        return _signed(row, DEFAULT, chosen)
    try:
        told: Told | QcError = SINGLE[mine](blocks)
    except (TooLittleData, QuestionError) as reason:
        told = reason
    return _row(row, told, found, mine, chosen)


def _signed(row: dict[str, Any], kind: str, chosen: Choice | None) -> dict[str, Any]:
    """The row with its kind, and who chose which kind for the series."""
    if chosen is not None and chosen.value == kind:
        row["explained"] = [*row["explained"], said(chosen, "This kind of chart")]
    return {**row, "kind": kind, "chosen": None if chosen is None else chosen.told()}


def _blocks(row: dict[str, Any], found: History, wanted: Wanted) -> Blocks:
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
        characteristic(row["characteristic"]), wanted.learn, wanted.level, wanted.shift, wanted.run_length,
    )  # fmt: skip


def _row(
    row: dict[str, Any], told: Told | QcError, found: History, kind: str, chosen: Choice | None
) -> dict[str, Any]:
    """The default chart's row with limits, signals and words of another kind."""
    kept = {n: why for n, why in row["not_given"].items() if n not in FIGURES}
    why_own = "this kind learns its own limits: those that are set are for block means"
    out = {**row, "limits": {"phase": "being_learned", **dict.fromkeys(_OF_LIMITS)}, "methods": {}}
    out["not_given"] = kept | dict.fromkeys((f"limits.{n}" for n in _OF_LIMITS), why_own)
    if isinstance(told, QcError):
        out.update(dict.fromkeys(FIGURES), blocks=[_block(b) for b in row["blocks"]])
        out["not_given"] |= dict.fromkeys(FIGURES, str(told))
        out["explained"] = [whole(str(told)), NOT_TOLERANCE]
        out["sentence"] = f"{_name(row)}: {told}."
        return _signed(out, kind, chosen)
    out.update(center=told.center, lower_limit=told.lower_limit, upper_limit=told.upper_limit)
    lacking = [n for n in FIGURES if out[n] is None]
    out["not_given"] |= dict.fromkeys(
        lacking, "this kind has none that holds for every block: see the blocks"
    )
    out["methods"] = {**told.methods, "run_length": told.run_length, "source": told.source}
    out["blocks"] = [_block(b, told, i) for i, b in enumerate(row["blocks"])]
    out["autocorrelation"] = leaning(row, len(row["blocks"]), told.leaning)
    out["explained"] = [
        told.says, f"How sure: {told.run_length}.", out["autocorrelation"]["words"],
        *(f"Assumed: {a}." for a in told.assumed), told.do_not, NOT_TOLERANCE,
    ]  # fmt: skip
    out["sentence"] = _sentence(out, told, found)
    return _signed(out, kind, chosen)


def _block(block: dict[str, Any], told: Told | None = None, i: int = 0) -> dict[str, Any]:
    if told is None:
        return {**block, "signals": [], "statistic": None, "lower": None, "upper": None}
    words = told.words if not block.get("most_from") else f"{told.words}, most of it {block['most_from']}"
    signal = {"signal": told.headline, "words": words, "source": told.source}
    return {
        **block, "signals": [signal] if told.signals[i] else [],
        "statistic": told.statistic[i], "lower": told.lower[i], "upper": told.upper[i],
        **{name: figures[i] for name, figures in told.beside.items()},
    }  # fmt: skip


def _sentence(row: dict[str, Any], told: Told, found: History) -> str:
    name, zone = _name(row), shop_zone(found.settings)
    off = [b for b in row["blocks"] if b["signals"]]
    judged = int((~(np.isnan(told.lower) & np.isnan(told.upper))).sum())
    if not off:
        return f"{name}: {told.headline}: nothing in {plural(judged, 'block')} calls for a look."
    last = off[-1]
    return (
        f"{name}: {told.headline}: {plural(len(off), 'block')} of {judged} "
        f"{'calls' if len(off) == 1 else 'call'} for a look, last {last['build'] or 'a reading'} on "
        f"{day_of(last['at'], zone)}: {last['signals'][0]['words']}."
    )


def _name(row: dict[str, Any]) -> str:
    """The series in words; several characteristics together have none but their machine's."""
    if row["characteristic"] != "several":
        return series_name(row)
    state = [] if row["state"] == "unstated" else [said_of(row["state"])]
    return ", ".join([row["machine"], said_of(row["operation"]), *state])
