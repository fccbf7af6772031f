"""What a process that will be killed does; apart, so that it need not load the tools of tests."""

from pathlib import Path

from qc.ingest.run import ingest
from qc.store import Store


def take(store: str, folder: str, mark: str, before: int) -> None:
    """Take a folder in; `mark` appears when the first file that was not there `before` is kept."""
    told = 0

    def progress(*_words: str) -> None:
        nonlocal told
        told += 1
        if told == before + 1:
            Path(mark).touch()

    with Store.open(store) as opened:
        ingest(opened, [folder], by="child", progress=progress)
