import os
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from types import ModuleType

import pytest

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
BUILDS = 24  # of the demo: enough for limits and indices, few enough for a test
LISTS = ("builds", "events", "gauges", "machines", "measuring_plan", "specifications")
PATIENCE = 60_000  # milliseconds: a busy machine draws slowly
WAIT = 120.0  # seconds until a server must answer


@pytest.fixture(scope="session")
def documents() -> ModuleType:
    """The module with the invented shop."""
    from tests.dashboard import documents as module

    return module


def _browser_path() -> str:
    for name in ("chromium-headless-shell", "chromium"):
        found = shutil.which(name)
        if found:
            return found
    words = "no chromium-headless-shell or chromium on PATH: install one of Debian's packages"
    if os.environ.get("CI"):
        pytest.fail(words)
    pytest.skip(words)


@pytest.fixture(scope="session")
def chromium(tmp_path_factory):
    """One headless Chromium with a fresh profile."""
    from playwright.sync_api import expect, sync_playwright

    path = _browser_path()
    with sync_playwright() as playwright:
        context = playwright.chromium.launch_persistent_context(
            tmp_path_factory.mktemp("profile"),
            executable_path=path,
            args=list(FLAGS),
            headless=True,
            viewport={"width": 1440, "height": 1000},
        )
        context.set_default_timeout(PATIENCE)
        expect.set_options(timeout=PATIENCE)
        yield context
        context.close()


@contextmanager
def served(what: str) -> Iterator[str]:
    """The pages in a process of their own; the address they answer at."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    child = subprocess.Popen(
        [sys.executable, str(HERE / "serve_documents.py"), str(port), what],
        cwd=ROOT,
        env=environment,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
        encoding="utf-8",
    )
    try:
        _until_open(port, child)
        yield f"http://127.0.0.1:{port}"
    finally:
        child.terminate()
        child.communicate(timeout=20)


def _until_open(port: int, child: "subprocess.Popen[str]") -> None:
    end = time.monotonic() + WAIT
    while time.monotonic() < end:
        if child.poll() is not None:
            assert child.stderr is not None
            pytest.fail("the server stopped: " + child.stderr.read()[-2000:])
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.1)
    pytest.fail(f"no server on port {port} after {WAIT} s")


@pytest.fixture(scope="session")
def shop() -> Iterator[str]:
    """Address of the invented shop."""
    with served("full") as address:
        yield address


@pytest.fixture(scope="session")
def empty_shop() -> Iterator[str]:
    """Address of a shop without a reading."""
    with served("empty") as address:
        yield address


@pytest.fixture(scope="session")
def demo_store(tmp_path_factory) -> Path:
    """A store with the lists and the first builds of the demo shop, taken in by the command line."""
    files = ROOT / "datasets" / "demo" / "files"
    folder = tmp_path_factory.mktemp("demo")
    place = folder / "shop.db"
    builds = sorted(p for p in files.iterdir() if p.name.startswith("20"))[:BUILDS]
    lists = [files / f"{name}.csv" for name in LISTS]
    done = subprocess.run(
        [sys.executable, "-m", "qc", "ingest", "--store", str(place), *map(str, [*lists, *builds])],
        cwd=ROOT,
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )
    assert done.returncode in (0, 1), done.stderr
    return place


@pytest.fixture(scope="session")
def demo(demo_store) -> Iterator[str]:
    """Address of the pages over that store."""
    with served(str(demo_store)) as address:
        yield address


@pytest.fixture
def serving() -> Iterator[Callable[[str], str]]:
    """Serves pages for one test; they stop only when its pages are closed."""
    with ExitStack() as servers:
        yield lambda what: servers.enter_context(served(what))


@pytest.fixture
def open_page(chromium, serving) -> Iterator[Callable]:
    """Opens an address; afterwards there was no console message and no request to another host."""
    heard: list[str] = []
    pages = []

    def opened(base: str, path: str = "/", *, width: int = 1440, scheme: str = "light"):
        page = chromium.new_page()
        pages.append(page)
        page.set_viewport_size({"width": width, "height": 1000})
        page.emulate_media(color_scheme=scheme)
        page.on(
            "console",
            lambda m: heard.append(f"{m.type}: {m.text}") if m.type in ("error", "warning") else None,
        )
        page.on("pageerror", lambda error: heard.append(f"error: {error}"))
        page.on("request", lambda r: heard.append(f"other host: {r.url}") if not _own(r.url, base) else None)
        page.on("response", lambda r: heard.append(f"{r.status}: {r.url}") if r.status >= 400 else None)
        page.goto(base + path)
        page.wait_for_selector("#page h1")
        return page

    yield opened
    for page in pages:
        page.close()
    assert heard == []


def _own(url: str, base: str) -> bool:
    return url.startswith((base + "/", "data:", "blob:"))
