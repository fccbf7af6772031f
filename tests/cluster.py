"""A PostgreSQL server of the tests' own: started once, thrown away at the end."""

import os
import re
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

SUPERUSER = "postgres"


class NoServer(Exception):
    """There are no PostgreSQL server programs here."""


@contextmanager
def cluster() -> Iterator[str]:
    """URL of the one database of a running server.

    The server refuses to run as root, so root hands it to the user that the package made. Its folder lies
    outside pytest's, which that user may not enter.
    """
    if os.name == "nt":
        raise NoServer("a server of our own is started on other systems than Windows only")
    programs = _programs()
    folder = Path(tempfile.mkdtemp(prefix="qc-pg-", dir=_room()))
    try:
        if os.geteuid() == 0:
            shutil.chown(folder, SUPERUSER, SUPERUSER)
        port = _free_port()
        data = folder / "data"
        made = ["-U", SUPERUSER, "-A", "trust", "-E", "UTF8", "--locale=C.UTF-8", "--no-sync"]
        _run([programs / "initdb", "-D", data, *made], folder)
        options = (
            f"-p {port} -k {folder} -c listen_addresses='' -c fsync=off -c synchronous_commit=off "
            "-c full_page_writes=off -c shared_buffers=64MB -c max_wal_size=128MB -c max_connections=50"
        )
        control = [programs / "pg_ctl", "-D", data, "-w", "-t", "60"]
        _run([*control, "-l", folder / "log", "-o", options, "start"], folder)
        try:
            yield f"postgresql://{SUPERUSER}@/postgres?host={folder}&port={port}"
        finally:
            _run([*control, "-m", "immediate", "stop"], folder)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _room() -> Path:
    """Memory where there is plenty, else the disk: thousands of small files come and go. A short path, as a
    socket's must be.
    """
    memory = Path("/dev/shm")
    if memory.is_dir() and os.access(memory, os.W_OK) and shutil.disk_usage(memory).free > 2**31:
        return memory
    return Path("/tmp")


def _programs() -> Path:
    """Folder of the newest server's programs; Debian keeps them off PATH."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=_version)
    if found:
        return found[-1].parent
    on_path = shutil.which("initdb")
    if on_path is not None:
        return Path(on_path).resolve().parent
    raise NoServer(
        "no PostgreSQL server is installed here: install the package postgresql to run these tests"
    )


def _version(path: Path) -> int:
    return int(re.sub(r"\D", "", path.parent.parent.name) or 0)


def _run(command: list, folder: Path) -> None:
    words = [str(word) for word in command]
    if os.geteuid() == 0:
        words = ["runuser", "-u", SUPERUSER, "--", *words]
    # pg_ctl leaves the server behind with our output open: never wait for a pipe to close
    with (folder / "said").open("w", encoding="utf-8") as said:
        done = subprocess.run(
            words, cwd=folder, stdin=subprocess.DEVNULL, stdout=said, stderr=said, check=False
        )
    if done.returncode:
        told = (folder / "said").read_text(encoding="utf-8", errors="replace")
        raise RuntimeError(f"{' '.join(words)} failed ({done.returncode}):\n{told}")


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])
