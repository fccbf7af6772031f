"""1,000 mixed small files into a store with every check on, against reading the same files with pandas alone;
and the cost of one more file in a store of a million readings against an empty one.

The plain way is told separator, encoding and decimal mark of each file, types no cell, asks no question and
keeps nothing. Run: python tests/benchmarks/ingest.py [files] [readings]; the result stands beside as
ingest.json.
"""

import json
import os
import platform
import random
import sys
import tempfile
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path

import pandas as pd

sys.path.insert(0, str(Path(__file__).parents[2]))

from qc.ingest.run import ingest
from qc.records import Batch, Reading, Source
from qc.store import Store
from tests.generate import files, lists, sheets

PER_BUILD, PER_FILE = 48, 48_000
UM, MM = 100_000, 100_000_000


def made(number: int, draw: random.Random) -> files.Made | sheets.Case:
    """One file: of ten seven are tidy, one JSON lines, one a workbook, one a list, sheet or logger's list."""
    kind = number % 10
    if kind < 7:
        return files.delimited(draw, number, files.TIDY[number // 10 % len(files.TIDY)])
    if kind == 7:
        return files.json_lines(draw, number, "utf-8")
    if kind == 8:
        return files.workbook(draw, number, "")
    which = number // 10 % 3
    if which == 0:
        return lists.centres(draw, number, (",", ";", "\t", "fixed")[number // 30 % 4])
    if which == 1:
        return lists.logger(draw, number, "mm", True)
    return sheets.Maker(number, sheets.STYLES[number // 30 % len(sheets.STYLES)], 10_000).case()


def write_files(folder: Path, numbers: range) -> int:
    """Write the files and their layouts; the number of cells that are readings."""
    draw = random.Random(numbers.start)
    (folder / "layouts").mkdir(parents=True, exist_ok=True)
    total = 0
    for n in numbers:
        one = made(n, draw)
        name = f"{n:05d} {one.name}"
        layout = one.layout.replace(f'"{one.name}"', f'"{name}"')
        (folder / name).write_bytes(one.content)
        if layout:
            (folder / "layouts" / f"{n:05d}.toml").write_text(layout, encoding="utf-8")
        total += len(one.truth)
    return total


def seconds() -> tuple[float, float]:
    """The clock and the processor time used so far: on a busy machine only the second tells anything."""
    return time.perf_counter(), time.process_time()


def since(start: tuple[float, float]) -> tuple[float, float]:
    """Seconds by the clock and of the processor since then."""
    now = seconds()
    return now[0] - start[0], now[1] - start[1]


def measurement_files(folder: Path) -> list[Path]:
    """The files of a folder without its layouts and store."""
    return sorted(p for p in folder.iterdir() if p.is_file() and p.name[:5].isdigit())


def plainly(folder: Path) -> tuple[float, float]:
    """Seconds of pandas alone: each file read into a frame."""
    start = seconds()
    for place in measurement_files(folder):
        data = place.read_bytes()
        if place.suffix == ".xlsx":
            pd.read_excel(BytesIO(data), engine="calamine", sheet_name=None)
        elif place.suffix == ".jsonl":
            pd.read_json(BytesIO(data), lines=True)
        elif place.suffix == ".txt":
            pd.read_fwf(BytesIO(data))
        else:
            way = files.Way(separator=";")
            if " tidy " in place.name:
                way = files.TIDY[int(place.name[:5]) // 10 % len(files.TIDY)]
            pd.read_csv(
                BytesIO(data), sep=way.separator, encoding=way.encoding, decimal="," if way.comma else ".",
                on_bad_lines="skip", dtype_backend="numpy_nullable",
            )  # fmt: skip
    return since(start)


def properly(folder: Path, place: Path) -> tuple[tuple[float, float], tuple[float, float], dict[str, int]]:
    """Seconds of the first ingest and of the same files again, and what became of the rows."""
    known = sorted((folder / "layouts").glob("*.toml"))
    with Store.open(place, create=True) as store:
        start = seconds()
        taken = ingest(store, measurement_files(folder), by="benchmark", layouts=known).files
        first = since(start)
        start = seconds()
        ingest(store, measurement_files(folder), by="benchmark", layouts=known)
        second = since(start)
    return first, second, {"kept": sum(t.kept for t in taken), "held": sum(t.held for t in taken)}


def readings(first: int, count: int, digest: str, draw: random.Random) -> Iterator[Reading]:
    """Yield sizes of many blocks of the machine that the files are about."""
    day = 86_400_000_000
    for n in range(first, first + count):
        build, within = divmod(n, PER_BUILD)
        at = 1_500_000_000_000_000 + build * day // 40
        yield Reading(
            source=Source(digest, n - first + 2, "value", "96.01", None), build=f"old-{build}",
            machine="hone-1", operation="finish_bore", characteristic="bore_diameter", unit="mm",
            state="plate_on",
            method="two_point", feature=f"cyl-{within % 8 + 1}", station=(20, 60, 118)[within // 16] * MM,
            clock=(0, 90)[within // 8 % 2] * UM, value=9_601_200_000 + round(draw.gauss(0, 3)) * UM,
            target=9_601_200_000, measured_at=at, made_at=at, trial=1,
        )  # fmt: skip


def filled(place: Path, count: int) -> float:
    """Seconds of filling a store with readings past the checks."""
    draw, start = random.Random(7), time.perf_counter()
    with Store.open(place, create=True) as store:
        for n in range(0, count, PER_FILE):
            some = min(PER_FILE, count - n)
            digest = f"{n:064x}"[::-1]
            with store.write(by="benchmark", command="fill") as write:
                batch = Batch(f"old {n}.csv", digest, "readings", b"", some)
                number = write.add_file(batch, status="kept", kept=some, held=0, already_kept=0)
                write.add_readings(number, list(readings(n, some, digest, draw)))
    return time.perf_counter() - start


def one_more(folder: Path, place: Path) -> tuple[float, float]:
    """Seconds of one more file, mean of a folder of them taken one by one."""
    known = sorted((folder / "layouts").glob("*.toml"))
    some = measurement_files(folder)
    with Store.open(place, create=True) as store:
        ingest(store, some[:1], by="benchmark", layouts=known)  # what is loaded once is no file's cost
        start = seconds()
        for file in some[1:]:
            ingest(store, [file], by="benchmark", layouts=known)
        clock, processor = since(start)
    return clock / len(some[1:]), processor / len(some[1:])


def main(number: int, count: int) -> None:
    """Run all and write the figures down."""
    with tempfile.TemporaryDirectory() as name:
        folder, extra = Path(name, "files"), Path(name, "extra")
        rows = write_files(folder, range(number))
        write_files(extra, range(50_000, 50_041))
        plain = plainly(folder)
        first, second, became = properly(folder, Path(name, "shop.db"))
        empty = one_more(extra, Path(name, "empty.db"))
        fill = filled(Path(name, "full.db"), count)
        full = one_more(extra, Path(name, "full.db"))
    result: dict[str, object] = {
        "files": number, "readings_in_them": rows, **became,
        "at": datetime.now(UTC).isoformat(timespec="seconds"),
        "python": platform.python_version(), "pandas": pd.__version__, "processors": os.cpu_count(),
        "load_average": round(os.getloadavg()[0], 1),
    }  # fmt: skip
    for name, (clock, processor) in (("ingest", first), ("again", second), ("plain_read", plain)):
        result[name] = {
            "clock_s": round(clock, 2), "processor_s": round(processor, 2),
            "files_a_second": round(number / clock, 1),
            "files_a_processor_second": round(number / processor, 1),
        }  # fmt: skip
    result["ingest_over_plain_read"] = {
        "clock": round(first[0] / plain[0], 2), "processor": round(first[1] / plain[1], 2),
    }  # fmt: skip
    result["one_more_file"] = {
        "empty_store_processor_s": round(empty[1], 4), "readings_in_full_store": count,
        "full_store_processor_s": round(full[1], 4),
        "full_over_empty_processor": round(full[1] / empty[1], 2),
        "full_over_empty_clock": round(full[0] / empty[0], 2), "fill_clock_s": round(fill, 1),
    }  # fmt: skip
    print(json.dumps(result, indent=1))
    if number == 1_000 and count == 1_000_000:
        text = json.dumps(result, indent=1) + "\n"
        Path(__file__).with_suffix(".json").write_text(text, encoding="utf-8")


if __name__ == "__main__":
    told = [int(text) for text in sys.argv[1:]]
    main(*(told + [1_000, 1_000_000][len(told) :]))
