import re
from pathlib import Path

import click

from qc.cli import main

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def commands(group=main, before="qc"):
    for name, command in group.commands.items():
        path = f"{before} {name}"
        yield path, command
        if isinstance(command, click.Group):
            yield from commands(command, path)


def test_every_command_is_documented():
    missing = [path for path, _ in commands() if path not in README and not _grouped(path)]
    assert not missing, f"README.md says nothing of {missing}"


def _grouped(path):
    # `qc held` (`list`, `show`, ...) names its own
    group, _, name = path.rpartition(" ")
    return any(f"`{group}`" in line and f"`{name}`" in line for line in README.splitlines())


def test_every_command_it_names_exists():
    known = {path for path, _ in commands()}
    named = set(re.findall(r"`?(qc [a-z]+(?: (?:add|list|set|check|backup|restore|copy))?)\b", README))
    named |= {line.split("#")[0].strip() for line in README.splitlines() if line.startswith("qc ")}
    unknown = {words for words in named if " ".join(words.split()[:2]) not in known}
    assert not unknown
    assert len(named) > 15


def test_every_filter_and_every_exit_code_is_documented():
    for option in (
        "--json",
        "--out",
        "--as-of",
        "--store",
        "QC_STORE",
        "--machine",
        "--since",
        "--until",
        "--gauge",
    ):
        assert option in README
    for code in ("Exit code 0", "1: done, and something waits", "2: refused"):
        assert code in README


def test_the_two_commands_stand_in_one_block():
    block = re.search(r"```sh\n(.*?)```", README, re.DOTALL).group(1)
    assert block.splitlines() == [
        "python3 -m venv .venv && . .venv/bin/activate && pip install -c .ci/constraints.txt -e . && qc demo",
        ". .venv/bin/activate && pip install -c .ci/constraints.txt -e '.[test]' && "
        "pytest -n 2 --dist loadfile",
    ]


def test_no_document_tells_of_a_machine_or_a_host():
    for name in ("README.md", "DEVELOPERS.md"):
        text = (ROOT / name).read_text(encoding="utf-8")
        assert not re.search(r"/(home|work|tmp|root|Users)/", text), name
        assert not re.search(r"https?://(?!127\.0\.0\.1)[a-z0-9.-]*(registry|mirror|proxy|index)", text), name
