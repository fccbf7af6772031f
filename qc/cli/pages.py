"""The dashboard, over the shop's store or over the demo shop."""

import os
import sys
from pathlib import Path
from typing import Any, Final

import click

from qc.cli.options import given, shared, store_in_environment, whoever
from qc.errors import FileError, StoreError

FIRST_PORT: Final = 8050
DEMO: Final = Path("demo.db")
_PORT = click.option(
    "--port", type=click.IntRange(1, 65535), help=f"Port on this machine (from {FIRST_PORT} on)."
)


@click.command()
@_PORT
@click.option("--no-browser", is_flag=True, help="Only say the address.")
@shared
def serve(port: int | None, no_browser: bool, **options: Any) -> None:
    """The dashboard, reachable from this machine only."""
    from dashboard.app import create_app, free_port
    from dashboard.app import serve as run

    command = given(options)
    with command.opened(create=True) as store:  # an empty one shows where to put the first files
        click.echo(f"the store is {store.place}, revision {store.revision()}", err=True)
    app = create_app(command.store, by=command.by)
    chosen = port or free_port(FIRST_PORT)
    _opened(chosen, no_browser)
    run(app, chosen)


@click.command()
@_PORT
@click.option("--no-serve", is_flag=True, help="Stop after printing.")
@click.option("--no-browser", is_flag=True, help="Only say the address.")
def demo(port: int | None, no_serve: bool, no_browser: bool) -> None:
    """A made-up shop in demo.db, its four answers, and the dashboard over it."""
    from qc.cli import story

    files = demo_files()
    _make_room(DEMO)
    story.tell(DEMO, files)
    if no_serve:
        return
    from dashboard.app import create_app, free_port
    from dashboard.app import serve as run

    app = create_app(str(DEMO), by=whoever())
    chosen = port or free_port(FIRST_PORT)
    _opened(chosen, no_browser)
    run(app, chosen)


def demo_files() -> Path:
    """Folder with the demo shop's files, beside the package in a clone.

    Raises
    ------
    FileError
        When the package stands alone.
    """
    import qc

    files = Path(qc.__file__).resolve().parents[1] / "datasets" / "demo" / "files"
    if not files.is_dir():
        raise FileError(
            "the demo shop's files are not beside this program: run qc demo from a clone of the repository, "
            "installed with pip install -e ."
        )
    return files


def _make_room(place: Path) -> None:
    from qc.cli import story
    from qc.store import Store

    mine = store_in_environment()
    if mine and "://" not in mine and Path(mine).resolve() == place.resolve():
        raise StoreError(f"QC_STORE names {place}, which qc demo makes anew: name your store otherwise")
    if place.exists():
        with Store.open(place) as old:
            if story.MARK not in {one["reason"] for one in old.revisions().to_dict("records")}:
                raise StoreError(f"{place} was not made by qc demo: move it away, then run qc demo again")
    for part in (place, Path(f"{place}-wal"), Path(f"{place}-shm")):
        try:
            part.unlink(missing_ok=True)
        except OSError as trouble:  # some systems keep a file that another program has open
            raise StoreError(
                f"{part} cannot be made anew ({trouble.strerror}): stop the demo shop's dashboard and any "
                "other program that has it open, then run qc demo again"
            ) from trouble


def _opened(port: int, no_browser: bool) -> None:
    address = f"http://127.0.0.1:{port}/"
    click.echo(f"The pages are at {address} (stop with Ctrl+C)")
    if not no_browser and _has_screen():
        import threading
        import webbrowser

        threading.Timer(1.5, webbrowser.open, (address,)).start()


def _has_screen() -> bool:
    return sys.platform in ("win32", "darwin") or bool(
        os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")
    )


COMMANDS = (serve, demo)
