import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
HEAVY = {
    "numpy",
    "pandas",
    "scipy",
    "sqlalchemy",
    "plotly",
    "dash",
    "statsmodels",
    "psycopg",
    "rich",
    "xlsxwriter",
}


@pytest.mark.parametrize(
    "words", [["--help"], ["capability", "--help"], ["held", "--help"], ["spec", "add", "--help"]]
)
def test_help_loads_nothing_heavy(words):
    done = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "qc", *words],
        cwd=ROOT, capture_output=True, text=True, encoding="utf-8", check=True,
    )  # fmt: skip
    loaded = {m.group(1).split(".")[0] for m in re.finditer(r"\|\s+([\w.]+)$", done.stderr, re.MULTILINE)}
    assert "click" in loaded
    assert loaded & HEAVY == set()
    assert "Usage: qc" in done.stdout
