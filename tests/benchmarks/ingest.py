"""1,000 small tidy files into a store, against the plain way of doing it: pd.read_csv and to_sql in a loop.

The plain way types no cell, asks no question, keeps no content and no history,
and is one transaction a file as well.
Run: python tests/benchmarks/ingest.py [files]; the result stands beside as ingest.json.
"""

import json
import os
import platform
import random
import sqlite3
import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path

import pandas as pd

sys.path.insert(0, str(Path(__file__).parents[2]))

from qc.ingest.run import ingest
from qc.store import Store

HEADER = (
    "build,engine,machine,operation,characteristic,feature,station_mm,clock_deg,state,value,unit,target,gauge,"
    "measured_at,order"
)


def write_files(folder: Path, files: int) -> int:
    """Write small readings files of 30 to 50 rows, one build each; the number of rows."""
    random.seed(1)
    total = 0
    for n in range(files):
        rows = random.randint(30, 50)
        lines = [HEADER]
        for i in range(rows):
            size = 96.0 + random.gauss(0.010, 0.003)
            lines.append(
                f"B{n:05d},v8-iron-96,hone-{n % 3 + 1},finish_bore,bore_diameter,cyl-{i % 8 + 1},"
                f"{20 + 40 * (i // 16)},{90 * (i // 8 % 2)},plate_on,{size:.4f},mm,96.010,bg-{n % 4},"
                f"2026-{n // 28 % 12 + 1:02d}-{n % 28 + 1:02d}T{8 + i // 12:02d}:{i % 12 * 5:02d},{i % 8 + 1}"
            )
        total += rows
        (folder / f"b{n:05d}.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return total


def seconds() -> tuple[float, float]:
    """The clock and the processor time used so far: on a busy machine only the second tells anything."""
    return time.perf_counter(), time.process_time()


def since(start: tuple[float, float]) -> tuple[float, float]:
    """Seconds by the clock and of the processor since then."""
    now = seconds()
    return now[0] - start[0], now[1] - start[1]


def plainly(folder: Path, place: Path) -> tuple[float, float]:
    """Seconds of the plain loop."""
    start = seconds()
    connection = sqlite3.connect(place)
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = FULL")
    for file in sorted(folder.glob("*.csv")):
        pd.read_csv(file).to_sql("readings", connection, if_exists="append", index=False)
        connection.commit()
    connection.close()
    return since(start)


def properly(folder: Path, place: Path) -> tuple[tuple[float, float], tuple[float, float], int]:
    """Seconds of the first ingest and of the same folder again, and readings kept."""
    with Store.open(place, create=True) as store:
        start = seconds()
        ingest(store, [folder], by="benchmark")
        first = since(start)
        start = seconds()
        again = ingest(store, [folder], by="benchmark")
        second = since(start)
        assert all(one.status == "already_kept" for one in again.files)
        return first, second, store.counts()["readings"]


def one_more(place: Path, extra: Path, times: int = 25) -> tuple[float, float]:
    """Seconds of one more file in a store that holds the folder, mean of several."""
    write_files(extra, times)
    with Store.open(place) as store:
        for file in sorted(extra.glob("*.csv")):
            file.write_text(file.read_text(encoding="utf-8").replace("B0", "X0"), encoding="utf-8")
        start = seconds()
        for file in sorted(extra.glob("*.csv")):
            (done,) = ingest(store, [file], by="benchmark").files
            assert done.status == "kept", done.findings
        clock, processor = since(start)
    return clock / times, processor / times


def main(files: int) -> None:
    """Run both and write the figures down."""
    with tempfile.TemporaryDirectory() as name:
        folder, extra = Path(name, "files"), Path(name, "extra")
        folder.mkdir()
        extra.mkdir()
        rows = write_files(folder, files)
        plain = plainly(folder, Path(name, "plain.db"))
        first, second, kept = properly(folder, Path(name, "shop.db"))
        assert kept == rows
        more = one_more(Path(name, "shop.db"), extra)
    result: dict[str, object] = {
        "files": files, "rows": rows, "at": datetime.now(UTC).isoformat(timespec="seconds"),
        "python": platform.python_version(), "pandas": pd.__version__, "processors": os.cpu_count(),
        "load_average": round(os.getloadavg()[0], 1),
    }  # fmt: skip
    for name, (clock, processor) in (("ingest", first), ("again", second), ("plain", plain)):
        result[name] = {
            "clock_s": round(clock, 2), "processor_s": round(processor, 2),
            "files_a_second": round(files / clock, 1),
            "files_a_processor_second": round(files / processor, 1),
        }  # fmt: skip
    result["ingest_over_plain"] = {
        "clock": round(first[0] / plain[0], 2), "processor": round(first[1] / plain[1], 2),
    }  # fmt: skip
    result["one_more_file_s"] = {"clock": round(more[0], 4), "processor": round(more[1], 4)}
    print(json.dumps(result, indent=1))
    if files == 1_000:
        text = json.dumps(result, indent=1) + "\n"
        Path(__file__).with_suffix(".json").write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000)
