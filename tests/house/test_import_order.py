import importlib.util
import sys
from pathlib import Path

import pytest

_spec = importlib.util.spec_from_file_location("house_tree", Path(__file__).with_name("tree.py"))
assert _spec is not None
assert _spec.loader is not None
tree = importlib.util.module_from_spec(_spec)
sys.modules["house_tree"] = tree
_spec.loader.exec_module(tree)


def test_every_module_keeps_the_import_order_and_the_places_of_foreign_packages():
    found = [fault for module in tree.modules() for fault in tree.faults(module)]
    assert not found, "\n".join(found)


def test_every_package_has_a_rank():
    present = {m.place for m in tree.modules()} - {"qc", "dashboard"}
    assert present <= set(tree.RANKS), f"give a rank to {sorted(present - set(tree.RANKS))}"
    assert present


@pytest.mark.parametrize(
    ("name", "source", "words"),
    [
        ("qc.stats.lines", "from qc.charts import rules", "qc.stats may not import qc.charts"),
        ("qc.charts.ewma", "import qc.capability.normal", "qc.charts may not import qc.capability"),
        ("qc.store.read", "from qc import history", "qc.store may not import qc.history"),
        ("qc.reports.chart", "from qc.export import csv", "qc.reports may not import qc.export"),
        ("qc.reports.chart", "import sqlalchemy as sa", "sqlalchemy may not be used in qc.reports"),
        ("qc.export.pack", "import sqlite3", "sqlite3 may not be used in qc.export"),
        (
            "dashboard.pages.floor",
            "import plotly.graph_objects as go",
            "plotly may not be used in dashboard.pages",
        ),
        ("dashboard.figures.ribbon", "from dash import html", "dash may not be used in dashboard.figures"),
        (
            "dashboard.login",
            "from dashboard.pages import floor",
            "dashboard.login may not import dashboard.pages",
        ),
        ("dashboard.app", "from qc.cli import main", ""),
        ("qc.cli.pages", "from dashboard.app import serve", "qc does not import dashboard"),
        ("qc.cli.pages", "def other():\n    from dashboard.app import serve", "qc does not import dashboard"),
        (
            "qc.reports.chart",
            "def serve():\n    from dashboard.app import serve",
            "qc does not import dashboard",
        ),
        ("qc.reports.chart", "text = Path('a').read_text()", "opens a file (read_text)"),
        ("qc.history.specs", "with open('a') as f: pass", "opens a file (open)"),
        ("qc.history.specs", "with Path('a').open() as f: pass", "opens a file (open)"),
        ("dashboard.app", "import pandas as pd\npd.read_csv('a')", "opens a file (read_csv)"),
        ("qc.helpful", "import math", "qc.helpful has no rank"),
        ("qc.reports.chart", "from .capability import answer", "as an absolute import"),
        ("qc", "import numpy", "only the version"),
    ],
)
def test_a_broken_rule_is_named(name, source, words):
    found = tree.faults(tree.Module(name, source))
    assert (not found) if not words else any(words in fault for fault in found), found


@pytest.mark.parametrize(
    ("name", "source"),
    [
        ("qc.cli.pages", "def serve():\n    from dashboard.app import serve"),
        ("qc.store.read", "import sqlalchemy\nfrom qc.records import Reading"),
        ("qc.ingest.run", "from pathlib import Path\nPath('a').read_bytes()"),
        ("qc.charts.ewma", "from qc.charts import shewhart\nfrom qc.stats.constants import c4"),
        ("dashboard.app", "from qc.store import Store\nStore.open('a')"),
        ("dashboard.pages.floor", "from dash import html\nfrom dashboard.figures import ribbon"),
        ("qc.export.pack", "from qc import __version__"),
    ],
)
def test_what_the_order_allows_is_allowed(name, source):
    assert tree.faults(tree.Module(name, source)) == []
