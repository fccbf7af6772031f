"""Human slips of twenty kinds in a shop's files: how many are found, on which cells, and false alarms.

A shop's clean history goes in first, file after file, from an empty store: every cell that is stopped or
asked about there is a false alarm. Then each slip goes alone into that store, as the file that came next, and
is undone. A slip is found when findings of which at least half the cells are touched ones name at least four
fifths of its detectable cells, at `stop` or `ask`. Run as a script it writes the whole result beside itself
(`SEED [DETECTABLE A KIND] [BUILDS] [NAME]`); the suite runs a part. Every seed but the first was
run once, unseen: after the second the bar for exchanged bores was raised, after the third lowered again for
whole sheets, before the fourth.
"""

import json
import shutil
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import AbstractContextManager, nullcontext, suppress
from pathlib import Path
from typing import Any

from qc.ingest import words
from qc.ingest.desk import Desk
from qc.ingest.results import FileResult
from qc.ingest.run import ingest
from qc.ingest.sources import found
from qc.store import Store, Write
from tests.generate.slip_kinds import KINDS
from tests.generate.slips import Case, Corpus
from tests.simulations import kept_result

RESULT = Path(__file__).with_suffix(".json")
NAMED, RIGHT = 0.8, 0.5
UNSEEN = 15  # slips of a kind that nobody can see and that are tried all the same
words.MOST_CELLS = 100_000  # findings list all their cells here, not the first 200


def named_rows(store: Store, findings: Sequence[dict]) -> list[tuple[str, set[int]]]:
    """Code and rows of each finding at stop or ask; the rows it holds are asked of the store."""
    held: dict[int, set[int]] = {}
    for one in store.held().itertuples():
        held.setdefault(int(one.finding_id), set()).add(int(one.row))
    return [
        (f["code"], {c["row"] for c in f["cells"]} | held.get(f["id"], set()))
        for f in findings
        if f["severity"] in ("stop", "ask")
    ]


def taken(place: Path, folder: Path, files: Sequence[tuple[str, str]]) -> list[tuple[str, int, list]]:
    """Name, rows and findings (code, rows) of files taken in one after another."""
    folder.mkdir(exist_ok=True)
    paths = [folder / name for name, _ in files]
    for path, (_, text) in zip(paths, files, strict=True):
        path.write_text(text, encoding="utf-8")
    with Store.open(place, create=True) as store:
        told = ingest(store, paths, by="simulation").files
        return [(t.file, t.rows, named_rows(store, t.findings)) for t in told]


def of_clean(files: Sequence[tuple[str, int, list]]) -> dict:
    cells = sum(rows for _, rows, _ in files)
    codes: Counter[str] = Counter()
    wrong = 0
    for _, _, findings in files:
        wrong += len(set().union(*(rows for _, rows in findings)))
        for code, named in findings:
            codes[code] += len(named)
    return {"cells": cells, "wrong": wrong, "per_1000": 1000 * wrong / max(1, cells), "codes": dict(codes)}


def judged(case: Case, findings: Sequence[tuple[str, set[int]]], rows: int) -> dict:
    touched = set(case.rows)
    right = [(code, named) for code, named in findings if len(named & touched) >= RIGHT * len(named)]
    seen = set().union(*(named for _, named in right))
    aim = case.detectable or touched
    clean = {row for _, named in findings for row in named} - touched
    return {
        "found": len(seen & aim) >= NAMED * len(aim),
        "codes": sorted({code for code, named in right if named & aim}), "beside": len(clean),
        "untouched": rows - len(touched), "cells": len(aim), "cells_named": len(seen & aim),
    }  # fmt: skip


class Standing:
    """A store whose one write stands open: what is taken in can be undone."""

    def __init__(self, store: Store, write: Write) -> None:
        self._store, self._write = store, write

    def __getattr__(self, name: str) -> Any:
        return getattr(self._store, name)

    def write(self, **_: str) -> AbstractContextManager[Write]:
        return nullcontext(self._write)


class Undone(Exception):
    """Leaves a write so that nothing of it stays."""


class Trials:
    """One shop in which slip after slip is taken in and undone, through the desk that takes in every file.

    What the desk remembers of the shop is put back after each, so that every file meets the shop as it was.
    """

    def __init__(self, place: Path) -> None:
        self.store = Store.open(place)
        self.desk = Desk(self.store, by="simulation", command="ingest")
        series = self.store.series()[["machine", "operation", "characteristic", "method", "state"]]
        with self.store.write(by="simulation", command="ingest") as write:
            # asked once: what stands in the store before the slips
            self.desk.around(write).load([tuple(one) for one in series.itertuples(index=False)])

    def taken(self, paths: Sequence[Path]) -> FileResult:
        """Result of the last of these files."""
        memory = self.desk._memory
        before = [{k: dict(v) for k, v in part.items()} for part in (memory.known, memory.worked_out)]
        before[0] = {k: {b: list(r) for b, r in v.items()} for k, v in before[0].items()}
        pasts, result = dict(memory.pasts), None
        with suppress(Undone), self.store.write(by="simulation", command="ingest") as write:
            self.desk.store = Standing(self.store, write)
            for path in paths:
                (result,) = self.desk.take(found([path], self.store.place))
            raise Undone
        memory.known, memory.worked_out, memory.pasts = before[0], before[1], pasts
        self.desk._names = None
        self.desk._taken.clear()
        assert result is not None
        return result


def of_slips(stores: dict[int, Path], cases: Sequence[Case], work: Path) -> Iterator[tuple[Case, dict]]:
    folder, shops = work / "slips", {after: Trials(place) for after, place in stores.items()}
    folder.mkdir(exist_ok=True)
    for case in cases:
        paths = []
        for name, text in (*case.before, (case.name, case.text)):
            paths.append(folder / name)
            paths[-1].write_text(text, encoding="utf-8")
        result = shops[case.after].taken(paths)
        named = [(f["code"], {c["row"] for c in f["cells"]}) for f in result.findings
                 if f["severity"] in ("stop", "ask")]  # fmt: skip
        yield case, judged(case, named, result.rows)
    for shop in shops.values():
        shop.store.close()


def cell(kind: int, mine: Sequence[tuple[Case, dict]], early: int) -> dict:
    seen = [(c, j) for c, j in mine if c.detectable]
    unseen = [j for c, j in mine if not c.detectable]
    found = sum(j["found"] for _, j in seen)
    young = [j["found"] for c, j in seen if c.after == early]
    return {
        "kind": kind, "name": KINDS[kind].name, "tried": len(mine), "detectable": len(seen),
        "found": found, "rate": found / max(1, len(seen)), "in_a_young_store": [sum(young), len(young)],
        "cells": sum(j["cells"] for _, j in seen), "cells_named": sum(j["cells_named"] for _, j in seen),
        "codes": dict(Counter(code for _, j in seen if j["found"] for code in j["codes"])),
        "missed": dict(Counter(c.how for c, j in seen if not j["found"])),
        "undetectable": len(unseen), "undetectable_found": sum(j["found"] for j in unseen),
        "clean_cells_beside": sum(j["beside"] for _, j in mine),
        "clean_cells": sum(j["untouched"] for _, j in mine),
    }  # fmt: skip


def tried(made: Sequence[Case]) -> list[Case]:
    """All that somebody could have seen, and some that nobody can."""
    unseen = [c for c in made if not c.detectable][:UNSEEN]
    return [c for c in made if c.detectable or c in unseen]


def simulated(
    seed: int, detectable: int, builds: int, kinds: Sequence[int] = tuple(KINDS), note=lambda *_: None
) -> dict:
    """The whole result of one seed."""
    corpus = Corpus(seed, builds)
    made = {k: list(corpus.cases(k, detectable)) for k in kinds}
    cases = {k: tried(some) for k, some in made.items()}
    plans = [c.plan for some in cases.values() for c in some]
    with tempfile.TemporaryDirectory() as folder:
        work = Path(folder)
        grown, young = work / "shop.db", work / "young.db"
        stores = {corpus.young: young} | ({builds: grown} if builds > corpus.young else {})
        taken(grown, work / "records", list(corpus.registers(plans).items()))
        readings = list(corpus.clean())
        early = len(list(corpus.clean(corpus.young)))
        clean = taken(grown, work / "clean", readings[:early])
        shutil.copy(grown, young)
        early_ones = of_clean(clean)
        clean += taken(grown, work / "clean", readings[early:]) if readings[early:] else []
        note(of_clean(clean))
        cells = []
        for kind, some in cases.items():
            told = cell(kind, list(of_slips(stores, some, work)), corpus.young)
            cells.append({"made": len(made[kind])} | told)
            note(cells[-1])
    total, found = sum(c["detectable"] for c in cells), sum(c["found"] for c in cells)
    beside, untouched = (sum(c[k] for c in cells) for k in ("clean_cells_beside", "clean_cells"))
    return {
        "seed": seed, "builds": builds, "detectable": total, "found": found, "rate": found / max(1, total),
        "lowest": min(c["rate"] for c in cells), "clean": of_clean(clean),
        "clean_at_first": {"builds": corpus.young} | early_ones,
        "beside_slips_per_1000": 1000 * beside / max(1, untouched), "kinds": cells,
    }  # fmt: skip


def main(seed: int = 1, detectable: int = 55, builds: int = 240, name: str = "first") -> None:
    told = json.loads(RESULT.read_text(encoding="utf-8")) if RESULT.exists() else {}
    found = simulated(seed, detectable, builds, note=lambda *said: print(*said, flush=True))
    told[name] = {"date": kept_result.today(), "commit": kept_result.commit()} | found
    RESULT.write_text(json.dumps(told, indent=1) + "\n", encoding="utf-8")
    print({k: v for k, v in found.items() if k != "kinds"})


if __name__ == "__main__":
    numbers = [int(a) for a in sys.argv[1:] if a.isdigit()]
    names = [a for a in sys.argv[1:] if a.isalpha()]
    main(*numbers, name=names[0] if names else "first")
