import re
from pathlib import Path

from qc.export.packed import PackedStore

ROOT = Path(__file__).parents[3]
NOT_IN_A_PACK = {
    "held.py",  # what waits for a person is a table of the pack, not an answer that is recomputed
    "held_effect.py",  # what a decision about it would change
    "choosing.py",  # writes, and nothing is written into a pack
    "acts.py",  # likewise
    "changes.py",  # what new files changed; a pack takes none
}


def test_a_pack_answers_everything_that_reports_ask_of_a_store():
    asked = {
        name
        for folder in ("reports", "history")
        for path in (ROOT / "qc" / folder).glob("*.py")
        if path.name not in NOT_IN_A_PACK
        for name in re.findall(r"\bstore\.([a-z_]+)\(", path.read_text(encoding="utf-8"))
    }
    assert {"readings", "specs", "held"} <= asked
    assert asked - set(dir(PackedStore)) == set()
