"""A watched folder with real processes: files that grow, a kill and a new start, and what cannot be read."""

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from qc.errors import StoreError
from qc.ingest import sources
from qc.ingest.watch import Watched
from qc.records import Asked
from qc.store import Store

HEADER = "build,machine,operation,characteristic,feature,value,unit,measured_at\n"
EVERY = 1.0
pytestmark = pytest.mark.skipif(os.name == "nt", reason="processes are killed otherwise there")


def text(build, rows=12):
    draw = random.Random(build)  # no two blocks measure alike to the last digit
    return HEADER + "".join(
        f"{build},hone-1,hone,bore_diameter,cyl-{n},{96 + draw.gauss(0.015, 0.004):.4f},mm,2026-04-03\n"
        for n in range(1, rows + 1)
    )


class Watch:
    """`qc ingest --watch` as a process of its own, its log in a file."""

    def __init__(self, folder: Path, store: Path, log: Path) -> None:
        self.log = log
        self.out = log.open("w", encoding="utf-8")
        self.process = subprocess.Popen(
            [sys.executable, "-m", "qc", "ingest", "--watch", str(folder), "--every", str(EVERY), "--store",
             str(store), "--no-judge"],
            stdout=self.out, stderr=subprocess.STDOUT, cwd=Path(__file__).parents[3],
            env={**os.environ, "PYTHONUNBUFFERED": "1"},
        )  # fmt: skip

    def said(self, words: str, seconds: float = 90) -> str:
        """The log once it says these words."""
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            told = self.log.read_text(encoding="utf-8")
            if words in told:
                return told
            assert self.process.poll() is None, told
            time.sleep(0.1)
        raise AssertionError(self.log.read_text(encoding="utf-8"))

    def stop(self, how: int = signal.SIGKILL) -> str:
        self.process.send_signal(how)
        self.process.wait(60)
        self.out.close()
        return self.log.read_text(encoding="utf-8")


def test_a_growing_file_is_taken_whole_and_a_killed_watch_goes_on_where_it_was(tmp_path):
    folder, store = tmp_path / "sheets", tmp_path / "sheets" / "shop.db"  # the store itself is no sheet
    folder.mkdir()
    (folder / "first.csv").write_text(text("B-1"), encoding="utf-8")
    (folder / "too large.csv").touch()
    os.truncate(folder / "too large.csv", sources.LARGEST + 1)
    watch = Watch(folder, store, tmp_path / "one.log")
    try:
        watch.said("first.csv: kept")
        whole = text("B-2", 200)
        with (folder / "growing.csv").open("w", encoding="utf-8") as growing:
            for at in range(0, len(whole), 500):
                growing.write(whole[at : at + 500])
                growing.flush()
                time.sleep(0.1)
        told = watch.said("growing.csv: ")
    finally:
        told = watch.stop()
    assert told.count("growing.csv: kept, readings, 200 kept") == 1, told
    assert told.count("growing.csv") == 2, told  # the line of the log, and one of progress
    assert told.count("too large.csv: stays where it is, it has 50 MB") == 1
    assert "Traceback" not in told
    (folder / "second.csv").write_text(text("B-3"), encoding="utf-8")
    again = Watch(folder, store, tmp_path / "two.log")
    try:
        told = again.said("second.csv: kept")
    finally:
        told = again.stop(signal.SIGINT)
    assert "first.csv" not in told
    assert "growing.csv" not in told
    assert "2 files taken in before, left alone" in told
    assert again.process.returncode == 130
    with Store.open(store) as opened:
        kept = opened.readings(Asked()).groupby("file").size().to_dict()
    assert kept == {"first.csv": 12, "growing.csv": 200, "second.csv": 12}
    assert (folder / "too large.csv").exists()


def test_a_file_is_ready_at_the_second_look_that_finds_it_the_same(tmp_path):
    watched = Watched([tmp_path], str(tmp_path / "shop.db"))
    place = tmp_path / "a.csv"
    assert watched.ready() == []
    place.write_text("a", encoding="utf-8")
    assert watched.ready() == []
    place.write_text("ab", encoding="utf-8")
    assert watched.ready() == []
    assert watched.ready() == [place]
    watched.taken(place, waits=False)
    assert watched.ready() == []
    place.write_text("abc", encoding="utf-8")
    watched.ready()
    assert watched.ready() == [place]
    place.unlink()
    assert watched.ready() == []


def test_what_cannot_be_read_is_said_once_and_tried_until_it_can(tmp_path, monkeypatch):
    place = tmp_path / "a.csv"
    place.write_text("a", encoding="utf-8")
    watched = Watched([tmp_path], str(tmp_path / "shop.db"))
    watched.ready()
    with monkeypatch.context() as patch:
        patch.setattr(sources, "LARGEST", 0)
        ((path, why),) = watched.troubles(watched.ready())[1]
        assert (path, why) == (place, "it has 0 MB; at most 0 MB are read: split it")
        assert watched.troubles(watched.ready()) == ([], [])
    assert watched.troubles(watched.ready()) == ([place], [])


def test_what_waits_is_tried_again_when_a_layout_comes(tmp_path):
    place = tmp_path / "in" / "a.csv"
    place.parent.mkdir()
    place.write_text("a", encoding="utf-8")
    watched = Watched([place.parent], str(tmp_path / "shop.db"))
    watched.ready()
    watched.ready()
    watched.taken(place, waits=True)
    assert watched.ready() == []
    (tmp_path / "layouts").mkdir()
    (tmp_path / "layouts" / "a.toml").write_text("x", encoding="utf-8")
    assert watched.ready() == [place]


def test_a_store_that_is_busy_leaves_the_file_for_the_next_look(tmp_path, capsys):
    from qc.cli import watching

    place = tmp_path / "a.csv"
    place.write_text("a", encoding="utf-8")
    watched = Watched([tmp_path], str(tmp_path / "shop.db"))

    def busy(_):
        raise StoreError("somebody else writes")

    for _ in range(3):
        watching._look(watched, busy)
    assert capsys.readouterr().out.count("a.csv: not taken in, somebody else writes") == 2
    document = {"files": [{"file": "a.csv", "sha256": "x", "status": "kept"}]}
    watching._look(watched, lambda _: document)
    assert watched.ready() == []
