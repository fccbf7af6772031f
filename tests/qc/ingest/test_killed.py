"""A process killed in mid-ingest: each file is there whole or not at all, and nothing comes in twice."""

import multiprocessing
import os
import random
import signal
import time
from pathlib import Path

import pytest

from qc.ingest.run import ingest
from qc.store import Store
from tests.qc.ingest.child import take

FILES, ROWS, KILLS = 100, 12, 22


@pytest.fixture
def folder(tmp_path, table, bore) -> Path:
    place = tmp_path / "folder"
    place.mkdir()
    for n in range(FILES):
        rows = [
            bore(build=f"B-{n:03d}", feature=f"cyl-{i + 1}", value=f"96.{100 + (n * 37 + i * 11) % 800:03d}")
            for i in range(ROWS)
        ]
        rows[3]["value"] = "OK" if n % 10 == 0 else rows[3]["value"]
        (place / f"{n:03d}.csv").write_text(table(rows), encoding="utf-8")
    return place


def _whole(store: Store) -> int:
    """Number of files there; each with all its rows, or the store contradicts itself."""
    files = store.files()
    readings = store.readings(status="all").groupby("file_id").size()
    held = store.held(open_only=False).groupby("file_id").size()
    for file in files.itertuples():
        assert readings.get(file.file_id, 0) == file.kept
        assert held.get(file.file_id, 0) == file.held
        assert file.kept + file.held == file.rows == ROWS
        assert store.file_content(file.sha256)
    assert readings.sum() == files["kept"].sum()
    assert len(store.revisions()) == store.revision()
    return len(files)


@pytest.mark.skipif(os.name == "nt", reason="processes are killed otherwise there")
def test_a_killed_ingest_loses_and_doubles_nothing(shop, folder, tmp_path):
    delays = random.Random(20260403)
    forks = multiprocessing.get_context("forkserver")  # each child a process of its own, without loading anew
    forks.set_forkserver_preload(["tests.qc.ingest.child", "qc.store.neighbours"])
    seen, killed = [0], 0
    for n in range(KILLS):
        mark = tmp_path / f"mark-{n}"
        child = forks.Process(target=take, args=(shop.place, str(folder), str(mark), seen[-1]))
        child.start()
        while not mark.exists() and child.is_alive():
            time.sleep(0.0005)
        time.sleep(delays.uniform(0.0, 0.03))
        assert child.pid is not None
        os.kill(child.pid, signal.SIGKILL)
        child.join()
        killed += child.exitcode == -signal.SIGKILL
        assert child.exitcode in (0, -signal.SIGKILL)
        seen.append(_whole(shop))
        assert seen[-1] >= seen[-2]
    assert killed >= 20
    assert seen[-1] > 20, "the kills fell before anything was written"
    results = ingest(shop, [folder], by="me").files
    assert _whole(shop) == FILES
    assert sum(r.status == "already_kept" for r in results) == seen[-1]
    assert len(shop.readings()) == FILES * ROWS - FILES // 10
    assert len(shop.held()) == FILES // 10
