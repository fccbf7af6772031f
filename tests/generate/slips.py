"""Human slips in the files of a shop, with the truth beside each cell.

`clean` is a shop's whole history, file after file; `cases` are further files of that shop into each of which
one slip went, with the rows it touched. A touched row counts as *detectable* when the slip moves its value
or its distance from the target by more than 4 spreads of the readings in a block (4 gauge steps where those
are larger), or changes its verdict, or makes it tell of something else: another build, state, date, gauge or
limits, a figure that nobody read there. A run that was filled down, or copied from the nominal size, is such
only from six cells on, and where the table's own true readings are alike, or on target, so seldom that as
many have a chance under 1 in 1,000. Two holes alike that changed places are no error by this rule.

Nothing of the product is used. `python -m tests.generate.slips FOLDER [SEED]` writes files to look at.
"""

import json
import sys
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from tests.generate.slip_desk import Desk, Impossible
from tests.generate.slip_kinds import KINDS
from tests.generate.slip_shop import IN_UM, Plan, Row, Shop, sheet_text

SPREADS = 4
YOUNG = 60  # builds that a shop has seen which files a slip early on


@dataclass(frozen=True)
class Told:
    """What is true of a touched row: how far its value moved [um, None: no number now], and why it counts."""

    moved: float | None
    why: str  # "moved", "verdict", "identity", "unreadable"; blank: nobody can see it


@dataclass(frozen=True)
class Case:
    """One file with one slip: what came before it, the file, and what is true of its rows by row number."""

    kind: int
    number: int
    how: str
    after: int
    plan: Plan
    before: tuple[tuple[str, str], ...]
    name: str
    text: str
    rows: dict[int, Told]

    @property
    def detectable(self) -> set[int]:
        """Rows that somebody could have seen."""
        return {row for row, told in self.rows.items() if told.why}


def size_of(row: Row) -> tuple[float, float | None] | None:
    """Size and distance from the target as the row says them [um], None where it says no number."""
    cells = row.cells
    try:
        unit = IN_UM[cells["unit"]]
        number = Fraction(cells["value"]) * unit
        target = Fraction(cells["target"]) if cells.get("target") else None
    except (ValueError, KeyError, ZeroDivisionError):
        return None
    if cells.get("reading") == "deviation":
        of_target = IN_UM["mm" if cells["unit"] in ("mm", "um") else "in"]
        return float(number + (target or 0) * of_target), float(number)
    return float(number), None if target is None else float(number - target * unit)


def conforms(row: Row) -> bool | None:
    said = size_of(row)
    low, high = row.window
    if said is None or said[1] is None or low is None or high is None:
        return None
    return low <= said[1] <= high


def told(before: Row, after: Row, other: bool) -> Told:
    was, now = size_of(before), size_of(after)
    assert was is not None
    if now is None:
        return Told(None, "unreadable")
    moved = abs(now[0] - was[0])
    if now[1] is not None and was[1] is not None:
        moved = max(moved, abs(now[1] - was[1]))
    if moved > SPREADS * max(before.spread, before.step):
        return Told(moved, "moved")
    if conforms(before) != conforms(after):
        return Told(moved, "verdict")
    return Told(moved, "identity" if other else "")


class Corpus:
    """A seeded shop with its clean files and as many slips as are asked for."""

    def __init__(self, seed: int, builds: int = 240) -> None:
        self.seed, self.shop = seed, Shop(seed, builds)
        self.young = min(YOUNG, builds)

    def registers(self, more: list[Plan] | None = None) -> dict[str, str]:
        return self.shop.registers(more or [])

    def clean(self, builds: int | None = None) -> Iterator[tuple[str, str]]:
        """Names and texts of the readings files of so many builds, in the order in which they came."""
        for plan in self.shop.plans[:builds]:
            arrival, work = self.shop.files(plan)
            yield f"{plan.day(2)}-{plan.name}-arrival.csv", sheet_text(arrival)
            if plan.number % 4 == 0:
                yield f"{plan.day(6)}-masters.csv", sheet_text(self.shop.masters(plan))
            yield f"{plan.day(8)}-{plan.name}-work.csv", sheet_text(work)

    def case(self, kind: int, number: int) -> Case | None:
        """The slip of that kind and number, None where it cannot be made in the build that was drawn."""
        what, tag = KINDS[kind], f"{kind}/{number}"
        rng = self.shop.rng("slip", tag)
        after = self.young if rng.random() < 0.2 else self.shop.builds
        plan = self.shop.next(after, 10_000 * kind + number, what.fits)
        arrival, work = self.shop.files(plan, tag)
        on_arrival = what.sheet == "either" and rng.random() < 0.3
        rows = arrival if on_arrival else work
        clean = [r.copy() for r in rows]
        try:
            made = what.make(Desk(rng, self.shop, plan, rows, after))
        except Impossible:
            return None
        truth = {
            i + 2: told(clean[i], rows[i], i in made.identity)
            for i in made.touched
            if rows[i].cells != clean[i].cells
        }
        if not truth:
            return None
        stage = "arrival" if on_arrival else "work"
        before = () if on_arrival else ((f"{plan.name}-arrival.csv", sheet_text(arrival)),)
        name = f"{plan.name}-{stage}-{zlib.crc32(tag.encode()):08x}.csv"
        return Case(kind, number, made.how, after, plan, before, name, sheet_text(rows), truth)

    def cases(self, kind: int, detectable: int, most: int = 1000) -> Iterator[Case]:
        """Slips of a kind until so many of them are detectable; those that are not come along."""
        found = 0
        for number in range(most):
            if found >= detectable:
                return
            case = self.case(kind, number)
            if case is not None:
                found += bool(case.detectable)
                yield case


def main(folder: Path, seed: int) -> None:
    corpus, truth = Corpus(seed), []
    cases = [case for kind in KINDS for case in corpus.cases(kind, 10)]
    clean, slips = folder / "clean", folder / "slips"
    for place in (clean, slips):
        place.mkdir(parents=True, exist_ok=True)
    files = [*corpus.registers([c.plan for c in cases]).items(), *corpus.clean()]
    for name, text in files:
        (clean / name).write_text(text, encoding="utf-8")
    for case in cases:
        for name, text in (*case.before, (case.name, case.text)):
            (slips / name).write_text(text, encoding="utf-8")
        truth.append({
            "kind": case.kind, "file": case.name, "after": case.after, "how": case.how,
            "rows": {row: [t.moved, t.why] for row, t in case.rows.items()},
        })  # fmt: skip
    (folder / "truth.json").write_text(json.dumps(truth, indent=1), encoding="utf-8")
    print(f"{len(files)} clean files, {sum(t.count(chr(10)) - 1 for _, t in files)} rows")
    for kind, what in KINDS.items():
        mine = [c for c in cases if c.kind == kind]
        seen = [c for c in mine if c.detectable]
        print(f"{kind:2} {what.name:30} {len(mine)} made, {len(seen)} detectable")


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 1)
