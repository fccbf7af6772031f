"""What a kept result says of itself: the day and the state of the code that gave it; its cells one a line.

A simulation is run by `python -m tests.simulations.NAME`.
"""

import json
import subprocess
from datetime import UTC, datetime
from pathlib import Path

import numpy as np


def commit():
    """The state of the code."""
    git = ["git", "-C", str(Path(__file__).parent), "rev-parse", "HEAD"]
    return subprocess.run(git, capture_output=True, text=True, check=True).stdout.strip()


def today():
    """The day of the run."""
    return datetime.now(UTC).date().isoformat()


def of_this_run():
    """Day, state of the code and of numpy."""
    return {"at": today(), "commit": commit(), "numpy": np.__version__}


def write_cells(place, result, cells):
    """Write what is said of a run, and its cells, one a line."""
    rows = ",\n  ".join(json.dumps(cell) for cell in cells)
    head = json.dumps(result | of_this_run(), indent=1)[:-2]
    place.write_text(f'{head},\n "cells": [\n  {rows}\n ]\n}}\n', encoding="utf-8")
