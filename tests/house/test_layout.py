import fnmatch
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
TOP = {"README.md", "DEVELOPERS.md", "pyproject.toml", "qc", "dashboard", "tests", "datasets"}
LONGEST = 400


def _ignored(name: str) -> bool:
    patterns = (ROOT / ".gitignore").read_text(encoding="utf-8").split()
    return any(fnmatch.fnmatch(name, pattern.strip("/")) for pattern in patterns)


def test_the_top_level_holds_the_fixed_names_and_nothing_else():
    found = {p.name for p in ROOT.iterdir() if not p.name.startswith(".") and not _ignored(p.name)}
    assert found == TOP


def test_no_module_is_longer_than_a_reader_can_hold():
    long = {
        str(path.relative_to(ROOT)): lines
        for folder in ("qc", "dashboard", "tests", "datasets")
        for path in (ROOT / folder).rglob("*.py")
        if (lines := len(path.read_text(encoding="utf-8").splitlines())) >= LONGEST
    }
    assert not long


def test_no_module_has_a_name_that_says_nothing():
    vague = {"utils.py", "helpers.py", "manager.py", "misc.py", "common.py"}
    assert not [p for folder in ("qc", "dashboard") for p in (ROOT / folder).rglob("*.py") if p.name in vague]


def test_every_lint_rule_that_is_ignored_says_why():
    lines = (ROOT / "pyproject.toml").read_text(encoding="utf-8").splitlines()
    ignored = [line for line in lines if re.match(r'\s*"([A-Z]+\d+|tests/\S+|datasets/\S+)"( =|,)', line)]
    assert ignored
    assert [line for line in ignored if "#" not in line] == []


def test_every_package_with_code_is_installed():
    shipped = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    assert shipped["project"]["scripts"]["qc"] == "qc.cli:main"
    bare = [
        folder
        for package in ("qc", "dashboard")
        for folder in (ROOT / package).rglob("*")
        if folder.is_dir() and any(folder.glob("*.py")) and not (folder / "__init__.py").exists()
    ]
    assert not bare, "a folder without __init__.py is left out of the installed package"


@pytest.mark.parametrize("tool", [["ruff", "check", "--quiet"], ["mypy", "--no-error-summary"]])
def test_lint_and_types_are_clean(tool):
    done = subprocess.run(
        [sys.executable, "-m", *tool], cwd=ROOT, capture_output=True, text=True, encoding="utf-8", check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
