"""Tables of distances from the target that are in another unit: tenths, thou, um or mm mixed up.

Three things tell: how large the figures are beside the tables before, whether they are figures that the gauge
can show in that unit, and digits that such tables never had.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import log
from typing import Final

import numpy as np

from qc import units
from qc.ingest.checks import shown
from qc.ingest.plausible import tables
from qc.ingest.plausible.blocks import Block, blocks
from qc.ingest.plausible.fit import middle, steps
from qc.ingest.plausible.pairs import series_of
from qc.ingest.plausible.past import PastBlock
from qc.ingest.plausible.scene import Scene, Suspicion
from qc.ingest.plausible.values import figure, verdict_changes

CODES: Final = ("deviation_unit",)
RIVALS: Final = True
_LEAST: Final = 12  # readings that tell how far a table reaches
# logarithm of how much likelier the other unit must be: as if 1 table in 1,000 had the slip
_SURE: Final = 7.0
_OFTEN: Final = 0.5  # chance that a table of another unit is written to a digit near the gauge's step, and
_SELDOM: Final = 0.05  # to another digit
_NEAR: Final = (0.05, 3.0)  # gauge's steps that a last digit is near to
_UNITS: Final = ("tenth", "thou", "um", "mm")


@dataclass(frozen=True, slots=True)
class _Meant:
    """The unit meant, how much likelier it is in all, and which part of that the digits make."""

    unit: str
    likelier: float
    by_digits: float


def doubts(scene: Scene) -> Iterator[Suspicion]:
    """Yield one suspicion for each table that is far likelier in another unit."""
    some = [b for b in blocks(scene) if b.aimed and b.new >= _LEAST and figure(scene, b, 0).deviates]
    for block in some:
        unit = scene.columns["unit"][block.at[0]]
        meant = _meant(scene, block, unit, some) if unit in _UNITS else None
        if meant is not None:
            scene.memo.setdefault("explained", set()).add(block.key)
            yield _suspicion(scene, block, unit, meant)


def _meant(scene: Scene, block: Block, unit: str, beside: Sequence[Block]) -> _Meant | None:
    """The other unit that is far likelier than the one written, None where there is none."""
    past = scene.past(series_of(block))
    before = [b for b in past.blocks if b.word == block.key[-1]]
    engine = scene.columns["engine"][block.at[0]]
    usual = tables.usual(before, engine, list(block.fit.pattern))
    if usual is None:
        return None
    own = usual.likelihood(block.fit, 1.0)
    seldom = -log(_seen(scene, block, unit, beside))
    step = _step(scene, block, unit, beside)
    found = []
    for other in _UNITS:
        factor = _ticks(other) / _ticks(unit)
        if other != unit and not usual.strange(block.fit, factor):
            digits = seldom + _by_step(scene, block, factor, step)
            found.append(_Meant(other, usual.likelihood(block.fit, factor) - own + digits, digits))
    best = max(found, key=lambda m: m.likelier, default=None)
    return best if best is not None and best.likelier > _SURE else None


def _ticks(unit: str) -> float:
    return float(units.ticks(units.number("1"), unit))


def _seen(scene: Scene, block: Block, unit: str, beside: Sequence[Block]) -> float:
    """Chance of the table's last digit: how many tables of distances in this unit had it."""
    own = _digit(scene, block)
    told = [_digit(scene, b) for b in beside if b is not block and scene.columns["unit"][b.at[0]] == unit]
    told += [b.fit.step for b in _before(scene, beside) if b.readings[0].unit == unit]
    return (sum(abs(log(s / own)) < 0.1 for s in told) + 0.5) / (len(told) + 1)


def _digit(scene: Scene, block: Block) -> float:
    """Last digit of the file's figures of a table [ticks]."""
    c = scene.columns
    return steps(c["text"][block.at].tolist(), c["unit"][block.at].tolist())


def _step(scene: Scene, block: Block, unit: str, beside: Sequence[Block]) -> float:
    """Step of the gauges that read such tables [ticks], NaN unknown: this engine's, else of this unit."""
    c = scene.columns
    engine = c["engine"][block.at[0]]
    told = [tables.grain(b.off[: b.new]) for b in beside if b is not block and c["unit"][b.at[0]] == unit]
    before = _before(scene, beside)
    mine = [b for b in before if b.readings[0].engine == engine]
    told += [tables.grain(b.fit.off) for b in mine or before if b.readings[0].unit == unit]
    return middle(np.array(told)) if told else float("nan")


def _before(scene: Scene, beside: Sequence[Block]) -> list[PastBlock]:
    """Past tables of the series of these."""
    series = dict.fromkeys(map(series_of, beside))
    return [b for s in series for b in scene.past(s).blocks if b.fit.aimed]


def _by_step(scene: Scene, block: Block, factor: float, step: float) -> float:
    """Logarithm of how much likelier the figures are by their digits, where they are in another unit.

    A gauge shows whole steps only: of finer digits it leaves some out, and all figures must be others.
    """
    digit = factor * _digit(scene, block)
    if not step > 0 or not digit > 0:
        return log(_OFTEN)
    often = log(_OFTEN if _NEAR[0] <= digit / step <= _NEAR[1] else _SELDOM)
    size = factor * block.off[: block.new]
    size = size[np.abs(size) > digit / 2]
    shown_so = np.abs(size - step * np.round(size / step)) <= 0.51 * digit
    if digit >= 0.9 * step or not len(size) or np.mean(shown_so) < 0.95:
        return often
    return often + float(np.sum(shown_so)) * log(step / digit)


def _suspicion(scene: Scene, block: Block, unit: str, meant: _Meant) -> Suspicion:
    proposed, verdict = {}, False
    for k, i in enumerate(block.at.tolist()):
        one = figure(scene, block, k)
        if one.number is None:
            continue
        size = one.base + units.ticks(one.number, meant.unit)
        proposed[i] = one.written(size)
        verdict |= verdict_changes(scene, i, size)
    rows = tuple(int(i) for i in block.at)
    return Suspicion(
        rows, "deviation_unit", "stop" if verdict else "ask", f"{block.key[1:]}|{meant.unit}",
        "{who} {read} {texts} " + f"{unit}: four of five within {shown(_um(_reach(block.off)), 'um')}, where "
        f"{shown(_um(middle(np.array([_reach(b.fit.off) for b in block.past.blocks]))), 'um')} is usual for "
        "such work.",
        f"Read as {meant.unit} they lie as such tables do"
        + (", and their digits are what the gauge shows in that unit." if meant.by_digits > 1 else "."),
        "".join(
            f"Correct takes {text} {unit} for {scene.columns['text'][i]}; "
            for i, text in [*proposed.items()][:1]
        )
        + "accept takes the figures as they stand.",
        proposed=proposed,
    )  # fmt: skip


def _reach(off: np.ndarray) -> float:
    least, most = np.percentile(off, (10, 90))
    return float(most - least)


def _um(ticks: float) -> int:
    return round(ticks / 10_000) * 10_000
