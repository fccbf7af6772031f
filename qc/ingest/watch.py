"""Which files of a watched folder are to be taken in now: those at rest, each once.

A file is at rest when it looks the same at two looks: one that is still being written is not. What cannot be
read stays where it is and is tried again at every look.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from qc.errors import FileError
from qc.ingest import shelf, sources

State = tuple[int, int]


@dataclass(slots=True)
class Watched:
    """What is known of the files of watched folders between one look and the next.

    known : hashes of files that the store had taken in before the watch began
    """

    paths: Sequence[Path]
    store: str
    known: frozenset[str] = frozenset()
    layouts: Sequence[Path] = ()
    before: int = 0
    _first: frozenset[Path] | None = None
    _seen: dict[Path, State] = field(default_factory=dict)
    _done: dict[Path, State] = field(default_factory=dict)
    _waiting: set[Path] = field(default_factory=set)
    _said: dict[Path, str] = field(default_factory=dict)
    _shelf: tuple[tuple[str, int], ...] | None = None

    def ready(self) -> list[Path]:
        """Files at rest that have not been taken in as they are."""
        self._look_at_layouts()
        now = dict(self._states())
        if self._first is None:
            self._first = frozenset(now)
        rested = [p for p, state in now.items() if self._seen.get(p) == state and self._done.get(p) != state]
        self._seen = now
        return [path for path in rested if not self._came_before(path)]

    def troubles(self, paths: Iterable[Path]) -> tuple[list[Path], list[tuple[Path, str]]]:
        """The files among these that can be read, and what is new about those that cannot."""
        readable, said = [], []
        for path in paths:
            try:
                sources.content(path)
            except FileError as fault:
                if self._said.get(path) != str(fault):
                    said.append((path, str(fault)))
                self._said[path] = str(fault)
            else:
                self._said.pop(path, None)
                readable.append(path)
        return readable, said

    def taken(self, path: Path, *, waits: bool) -> None:
        """Note that a file as it was seen last is in the store; one that waits is tried with new layouts."""
        self._done[path] = self._seen[path]
        (self._waiting.add if waits else self._waiting.discard)(path)

    def _states(self) -> Iterable[tuple[Path, State]]:
        for path in self.paths:
            try:
                files = sources.found([path], self.store) if path.exists() else []
            except FileError:  # an empty folder: something may come yet
                files = []
            for one in files:
                try:
                    at = one.path.stat()
                except OSError:  # gone since the folder was listed
                    continue
                yield one.path, (at.st_size, at.st_mtime_ns)

    def _came_before(self, path: Path) -> bool:
        """Whether a file was there when the watch began and had been taken in by an earlier one."""
        if not self.known or self._first is None or path not in self._first or path in self._done:
            return False
        try:
            if sources.sha256(sources.content(path)) not in self.known:
                return False
        except FileError:
            return False
        self._done[path] = self._seen[path]
        self.before += 1
        return True

    def _look_at_layouts(self) -> None:
        """Try what waits again when a layout has come or changed."""
        folder = shelf.folder(self.store)
        places = [*self.layouts, *(sorted(folder.glob("*.toml")) if folder.is_dir() else [])]
        now = tuple((str(p), p.stat().st_mtime_ns) for p in places if p.exists())
        if self._shelf is not None and now != self._shelf:
            for path in self._waiting:
                self._done.pop(path, None)
        self._shelf = now
