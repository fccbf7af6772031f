import os
import re
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import pytest

from qc.cli import pages
from qc.cli.story import MARK
from qc.errors import StoreError
from qc.store import Store

ROOT = Path(__file__).parents[3]
README = ROOT / "README.md"
BLOCK = re.compile(r"(<!-- transcript: begin -->\n```text\n)(.*?)(```\n<!-- transcript: end -->)", re.DOTALL)


def environment(**more):
    return {"PYTHONPATH": str(ROOT), "PATH": "", "TZ": "UTC", "PYTHONIOENCODING": "utf-8", **more}


@pytest.fixture(scope="session")
def told(tmp_path_factory):
    """What `qc demo --no-serve` prints, in a folder where a shop's own store lies."""
    folder = tmp_path_factory.mktemp("demo")
    (folder / "shop.db").write_bytes(b"the shop's own")
    done = subprocess.run(
        [sys.executable, "-m", "qc", "demo", "--no-serve"], cwd=folder, capture_output=True, text=True,
        encoding="utf-8", check=False, env=environment(QC_STORE="shop.db"),
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return folder, done


def test_the_transcript_in_the_readme_is_what_the_demo_prints(told):
    _, done = told
    before = README.read_text(encoding="utf-8")
    if os.environ.get(
        "QC_WRITE_TRANSCRIPT"
    ):  # after a change of words: run once with it, and read the difference
        README.write_text(BLOCK.sub(lambda m: m[1] + done.stdout + m[3], before), encoding="utf-8")
    assert BLOCK.search(before)[2] == done.stdout


def test_the_demo_tells_the_four_answers_and_what_waits(told):
    folder, done = told
    for start in ("The demo shop:", "Drift:", "Month:", "Clearances:", "Audit:"):
        assert any(line.startswith(start) for line in done.stdout.splitlines()), start
    assert "wait for a person, on purpose" in done.stdout
    assert str(folder) not in done.stdout
    assert max(len(line) for line in done.stdout.splitlines()) <= 100
    assert "Warning" not in done.stderr


def test_the_demo_never_touches_the_shops_store(told):
    folder, _ = told
    assert (folder / "shop.db").read_bytes() == b"the shop's own"
    assert (folder / "demo.db").exists()


def test_a_store_that_the_demo_did_not_make_is_never_overwritten(qc, tmp_path):
    assert qc("shop", "set", "units", "inch", store=tmp_path / "demo.db").exit_code == 0
    before = (tmp_path / "demo.db").read_bytes()
    done = qc("demo", "--no-serve")
    assert done.exit_code == 2
    assert "was not made by qc demo" in done.stderr
    assert (tmp_path / "demo.db").read_bytes() == before


def test_a_demo_store_that_is_open_elsewhere_is_told_as_such(monkeypatch, tmp_path):
    place = tmp_path / "demo.db"
    with Store.open(place, create=True) as made, made.write(by="me", command="demo", reason=MARK) as write:
        write.set("zone", "UTC")

    def kept(*_, **__):
        raise PermissionError(13, "in use")

    monkeypatch.setattr(Path, "unlink", kept)
    with pytest.raises(StoreError, match="stop the demo shop's dashboard"):
        pages._make_room(place)


def test_the_demo_is_refused_where_the_shops_store_has_its_name(qc, monkeypatch):
    monkeypatch.setenv("QC_STORE", "./demo.db")
    done = qc("demo", "--no-serve")
    assert (done.exit_code, "name your store otherwise" in done.stderr) == (2, True)


def test_a_program_without_the_demo_files_says_where_they_are(qc, monkeypatch, tmp_path):
    import qc as package

    monkeypatch.setattr(package, "__file__", str(tmp_path / "site" / "qc" / "__init__.py"))
    done = qc("demo", "--no-serve")
    assert (done.exit_code, "from a clone of the repository" in done.stderr) == (2, True)


@pytest.mark.skipif(sys.platform == "win32", reason="a console's interrupt is sent otherwise there")
def test_the_pages_are_served_on_this_machine_until_interrupted(shop, tmp_path):
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    running = subprocess.Popen(
        [sys.executable, "-m", "qc", "serve", "--no-browser", "--port", str(port), "--store", str(shop)],
        cwd=tmp_path, env=environment(), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        encoding="utf-8",
    )  # fmt: skip
    try:
        for _ in range(600):
            try:
                with urllib.request.urlopen(f"http://127.0.0.1:{port}/", timeout=5) as page:
                    assert page.status == 200
                    break
            except OSError:
                assert running.poll() is None, running.stderr.read()
                time.sleep(0.1)
        else:
            pytest.fail("no page was served within a minute")
    finally:
        running.send_signal(signal.SIGINT)
        out, err = running.communicate(timeout=30)
    assert f"http://127.0.0.1:{port}/" in out
    assert "Traceback" not in err
