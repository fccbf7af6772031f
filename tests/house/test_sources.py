"""A formula that names its source is held against numbers that came from elsewhere."""

import ast
from collections.abc import Iterator
from pathlib import Path

from tests.reference.loader import checks

ROOT = Path(__file__).parents[2]
HELD = ("stats", "charts", "capability")


def formulas() -> Iterator[str]:
    """The dotted name of every public function whose docstring has a `Source:`."""
    for package in HELD:
        for file in sorted((ROOT / "qc" / package).glob("*.py")):
            for node in ast.parse(file.read_text(encoding="utf-8")).body:
                public = isinstance(node, ast.FunctionDef) and not node.name.startswith("_")
                if public and "Source:" in (ast.get_docstring(node) or ""):
                    yield f"qc.{package}.{file.stem}.{node.name}"


def test_every_formula_with_a_source_is_the_subject_of_a_case():
    subjects = {subject for check in checks() for subject in check.subjects}
    without = sorted(set(formulas()) - subjects)
    assert not without, "add a case to tests/reference for each, or let it name no source"


def test_formulas_are_found():
    assert {"qc.stats.pivotal.pivots", "qc.charts.ewma.limits", "qc.capability.general.indices"} <= set(
        formulas()
    )
