"""A corpus of files of every kind through `qc ingest`, each cell held to its truth.

Run as a script it takes the second seed, which nothing was tuned on, and writes its result beside itself; the
suite takes the first. Bench sheets are written by `qc sheet` and filled in here.
"""

import json
import random
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from datetime import UTC, datetime
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import openpyxl
import pandas as pd
from click.testing import CliRunner

from qc.cli import main
from qc.records import Asked
from qc.store import Store
from tests.generate import files, sheets, traces
from tests.generate.files import Truth
from tests.simulations import kept_result

RESULT = Path(__file__).with_suffix(".json")
FIRST, SECOND = 2026, 9151
Place = tuple[str | None, int, str]
Truths = dict[str, dict[Place, Truth]]


def run(store: Path, *words: object) -> str:
    """Output of one command; a traceback is no answer."""
    done = CliRunner().invoke(main, [*map(str, words), "--store", str(store)], catch_exceptions=False)
    assert done.exit_code in (0, 1), done.output
    return done.stdout


def written(folder: Path, seed: int) -> tuple[Truths, list[dict[str, Any]], dict[str, str]]:
    """Write every file of a seed: the truth of its cells, of its traces, and what each file is like."""
    truths: Truths = {}
    like: dict[str, str] = {}
    (folder / "layouts").mkdir()
    for made in (*files.files(seed), *map(_sheet, sheets.cases(seed))):
        (folder / made.name).write_bytes(made.content)
        if made.layout:
            (folder / "layouts" / f"{made.name}.toml").write_text(made.layout, encoding="utf-8")
        truths[made.name], like[made.name] = made.truth, made.says
    drawn = traces.files(folder, seed)
    return truths, drawn, like | {one["file"]: f"trace {one['kind']}" for one in drawn}


def _sheet(case: sheets.Case) -> files.Made:
    """A hand sheet as a file of the corpus."""
    made = files.Made(case.name, case.content, case.says, {}, case.layout)
    for (tab, address), cell in case.truth.items():
        letters = address.rstrip("0123456789")
        clock = None if cell.clock is None else cell.clock * 100_000
        truth = Truth(cell.kind, cell.build, "bore_diameter", cell.feature, cell.station, clock, cell.size)
        made.truth[tab, int(address[len(letters) :]), letters] = truth
    return made


def bench_sheets(folder: Path, store: Path, seed: int) -> Truths:
    """Write two of our own sheets, fill them in and save them; the truth of their cells."""
    draw, truths = random.Random(seed), {}
    for n, (reading, unit, digits) in enumerate((("size", "mm", 4), ("deviation", "tenth", 1))):
        build, place = f"bench-{n}", folder / f"bench {n}.xlsx"
        limits = folder.parent / f"target {n}.csv"
        limits.write_text(
            f"build,characteristic,reading,target,unit,source\n{build},bore_diameter,size,96.0000,mm,plan\n",
            encoding="utf-8",
        )
        run(store, "ingest", limits, "--no-judge")
        run(
            store, "sheet", build, "--machine", "hone-1", "--operation", "finish_bore", "--state", "plate_on",
            "--characteristic", "bore_diameter", "--engine", "i4", "--feature", "cyl-1", "--feature", "cyl-2",
            "--station", 20, "--station", 118, "--clock", 0, "--clock", 90, "--as", reading, "--unit", unit,
            "--out", place,
        )  # fmt: skip
        truths[place.name] = _filled(place, draw, build, unit, digits)
    return truths


def _filled(place: Path, draw: random.Random, build: str, unit: str, digits: int) -> dict[Place, Truth]:
    book = openpyxl.load_workbook(place)
    sheet, truth = book.worksheets[0], {}
    for row in range(1, sheet.max_row + 1):
        key = str(sheet.cell(row, 1).value or "")
        if key.startswith("fill measured_at"):
            sheet.cell(row, 4).value = f"2026-08-{draw.randint(1, 28):02d}"
        if not key.startswith("at "):
            continue
        station, clock = key.split()[1:3]
        for n in (1, 2):
            off = round(draw.gauss(0, 2 if unit == "mm" else 0.8) * (0.001 if unit == "mm" else 1), digits)
            value = round(off + (96 if unit == "mm" else 0), digits)
            cell = sheet.cell(row, 3 + n)
            cell.value = value
            size = round(Fraction(Decimal(str(value))) * files.TICK[unit])
            size += 0 if unit == "mm" else 9_600_000_000
            truth[sheet.title, row, cell.column_letter] = Truth(
                "kept", build, "bore_diameter", f"cyl-{n}", int(Decimal(station) * 10**8),
                int(Decimal(clock) * 10**5), size,
            )  # fmt: skip
    book.save(place)
    return truth


def outcome(folder: Path, seed: int) -> dict[str, Any]:
    """What became of every cell of a seed's files: counts, and each that is not as it should be."""
    corpus = folder / "corpus"
    corpus.mkdir()
    store = corpus / "shop.db"
    truths, drawn, like = written(corpus, seed)
    told = json.loads(run(store, "ingest", corpus, "--no-judge", "--json"))["files"]
    benches = bench_sheets(corpus, store, seed)
    told += json.loads(run(store, "ingest", *(corpus / n for n in benches), "--no-judge", "--json"))["files"]
    truths |= benches
    with Store.open(store) as opened:
        readings, held, specs = opened.readings(Asked()), opened.held(), opened.records("spec")
    kept, waits = _kept(readings), _held(held)
    counts: Counter[str] = Counter(files=len(truths) + len(drawn))
    wrong: list[str] = []
    for name, truth in truths.items():
        for place, one in truth.items():
            became = _became(kept.get((name, place)), (name, place) in waits, one, specs)
            counts[f"{one.kind} became {became}"] += 1
            if became not in (one.kind, "held"):
                wrong.append(f"{name} {place}: {one} became {kept.get((name, place), became)}")
    extra = [f"{n} {p}" for n, p in kept if n in truths and p not in truths[n]]
    wrong += [f"{place} is no reading" for place in extra]
    wrong += list(_traces(readings, drawn))
    counts["texture figures"] = sum(len(one["expected"]) for one in drawn)
    marked = [f for one in told for f in one["findings"] if f["severity"] == "ask"]
    return {
        "seed": seed, "counts": dict(sorted(counts.items())), "wrong": wrong,
        "kinds": len(set(like.values())),
        "asks": dict(Counter(f["code"] for f in marked)),
    }  # fmt: skip


def _known(value: object) -> int | None:
    return None if pd.isna(value) else int(value)  # type: ignore[call-overload, arg-type]


def _kept(readings: pd.DataFrame) -> dict[tuple[str, Place], tuple[object, ...]]:
    found = {}
    for r in readings.itertuples():
        sheet = r.sheet if isinstance(r.sheet, str) else None
        found[r.file, (sheet, int(r.row), r.column)] = (
            r.build, r.characteristic, r.feature, _known(r.station), _known(r.clock), int(r.value)
        )  # fmt: skip
    return found


def _held(held: pd.DataFrame) -> set[tuple[str, Place]]:
    found = set()
    for h in held.itertuples():
        sheet = h.sheet if isinstance(h.sheet, str) else None
        columns = [h.fields["cell"]] if "cell" in h.fields else [*h.fields, "limits"]
        found |= {(h.file, (sheet, int(h.row), column)) for column in columns}
    return found


def _became(kept: tuple[object, ...] | None, waits: bool, truth: Truth, specs: pd.DataFrame) -> str:
    if truth.kind == "limits":
        same = specs[(specs["engine"] == truth.build) & (specs["characteristic"] == truth.characteristic)]
        pairs = list(zip(same["lower"], same["upper"], strict=True))
        return "limits" if pairs == [(truth.value, truth.upper)] else "held" if waits else "wrong"
    if kept is None:
        return "held" if waits else "nothing"
    told = (truth.build, truth.characteristic, truth.feature, truth.station, truth.clock, truth.value)
    return "kept" if kept == told and truth.kind == "kept" else "wrong"


def _traces(readings: pd.DataFrame, drawn: list[dict[str, Any]]) -> Iterator[str]:
    """Texture figures that are not what the trace was drawn from, or that are missing."""
    for one in drawn:
        mine = readings[readings["file"] == one["file"]]
        for key, (value, near) in one["expected"].items():
            found = mine[mine["characteristic"] == key]["value"] / 100_000
            if len(found) != 1 or abs(found.iloc[0] - value) > near or set(mine["build"]) != {one["build"]}:
                yield f"{one['file']}: {key} {list(found)} instead of {value}"


def main_() -> None:
    """Take the second seed and write its result down."""
    with tempfile.TemporaryDirectory() as name:
        found = outcome(Path(name), SECOND)
    found |= {"at": datetime.now(UTC).isoformat(timespec="seconds"), "commit": kept_result.commit()}
    text = json.dumps(found, indent=1, ensure_ascii=False) + "\n"
    RESULT.write_text(text, encoding="utf-8")
    sys.stdout.write(text)


if __name__ == "__main__":
    main_()
