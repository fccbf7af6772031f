"""Whole commands as a person waits for them, beside a bare interpreter and beside plain pandas.

Run: python tests/benchmarks/commands.py [STORE]
STORE is a demo store (`qc demo --no-serve` makes demo.db); without it one is made in a temporary folder.
It prints seconds and ratios; ratios are what counts on a machine with other work. Nothing is asserted.
"""

import io
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
BEST_OF = 3
ENVIRONMENT = {**os.environ, "PYTHONPATH": str(ROOT)}


def seconds(*words: str, best_of: int = BEST_OF) -> float:
    """Least wall time of a process over some runs [s]."""
    found = []
    for _ in range(best_of):
        began = time.perf_counter()
        subprocess.run([sys.executable, *words], check=True, capture_output=True, env=ENVIRONMENT)
        found.append(time.perf_counter() - began)
    return min(found)


def plain_pandas(store: str) -> float:
    """Time to read the same readings as CSV and to take means and spreads a series, in this process [s]."""
    import pandas as pd

    made = subprocess.run(
        [sys.executable, "-m", "qc", "readings", "--store", store],
        check=True,
        capture_output=True,
        env=ENVIRONMENT,
    )
    began = time.perf_counter()
    frame = pd.read_csv(io.BytesIO(made.stdout), low_memory=False)
    keys = ["machine", "operation", "characteristic", "method", "state"]
    bores = frame.groupby([*keys, "build", "feature"], dropna=False)["deviation_um"].mean()
    bores.groupby(keys).agg(["mean", "std", "count"])
    return time.perf_counter() - began


def main(store: str) -> None:
    """Print the table."""
    bare = seconds("-c", "pass")
    pandas = seconds("-c", "import pandas")
    print(f"{'':34}{'s':>8}  {'x python':>9}")
    print(f"{'python alone':34}{bare:8.3f}  {1:9.1f}")
    print(f"{'python, import pandas':34}{pandas:8.3f}  {pandas / bare:9.1f}")
    for words in (["--help"], ["capability", "--help"]):
        took = seconds("-m", "qc", *words)
        print(f"{'qc ' + ' '.join(words):34}{took:8.3f}  {took / bare:9.1f}")
    for words in (["series"], ["readings"], ["month", "2026-10"], ["capability"], ["drift"]):
        took = _answer([*words, "--json", "--store", store])
        print(f"{'qc ' + ' '.join(words):34}{took:8.3f}  {took / bare:9.1f}")
    print(
        f"{'plain pandas, means and spreads':34}{plain_pandas(store):8.3f}  (reading its CSV, no intervals)"
    )


def _answer(words: list[str]) -> float:
    began = time.perf_counter()
    # drift leaves with 1 when something waits
    subprocess.run([sys.executable, "-m", "qc", *words], check=False, capture_output=True, env=ENVIRONMENT)
    return time.perf_counter() - began


if __name__ == "__main__":
    if len(sys.argv) > 1:
        main(sys.argv[1])
    else:
        with tempfile.TemporaryDirectory() as folder:
            subprocess.run(
                [sys.executable, "-m", "qc", "demo", "--no-serve"], check=True, capture_output=True,
                cwd=folder,
                env=ENVIRONMENT,
            )  # fmt: skip
            main(str(Path(folder) / "demo.db"))
