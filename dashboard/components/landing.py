"""Files dropped on a page land in a folder of their own, take the one way in, and each is told about."""

import binascii
import re
import threading
from base64 import b64decode
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from secrets import token_hex
from tempfile import TemporaryDirectory
from typing import Any, Final

from dash import dcc, html
from dash.development.base_component import Component

from dashboard import ids
from dashboard.answers import Answers
from dashboard.components.plain import Children, fold
from dashboard.theme.shown import many
from qc.errors import FileError, QcError

LARGEST: Final = 64 * 2**20  # bytes of one dropped file
JOBS: Final = 20


def safe_name(name: str) -> str:
    """The file's own name without folders, control characters and leading dots."""
    base = re.split(r"[/\\]", name)[-1]
    cleaned = re.sub(r"[\x00-\x1f\x7f<>:\"|?*]", "_", base).lstrip(". ").strip()
    return cleaned[-120:] or "file"


def decoded(name: str, content: str) -> bytes:
    """Bytes of a dropped file.

    Raises
    ------
    FileError
        When they did not arrive whole.
    """
    try:
        return b64decode(content.partition(",")[2], validate=True)
    except (binascii.Error, ValueError) as error:
        raise FileError(f"{name} did not arrive whole: drop it again") from error


@dataclass
class Job:
    """One drop: how many files, what became of each, and a refusal in words."""

    total: int
    files: list[dict[str, Any]] = field(default_factory=list)
    refused: list[str] = field(default_factory=list)
    changed: list[str] = field(default_factory=list)
    finished: bool = False


class Landing:
    """Takes drops in, one after another."""

    def __init__(self, answers: Answers) -> None:
        self._answers = answers
        self._jobs: dict[str, Job] = {}
        self._turn = threading.Lock()

    def begin(self, names: Sequence[str], contents: Sequence[str]) -> str:
        """Start on a drop; its key tells how far it is."""
        key, job = token_hex(8), Job(len(names))
        self._jobs[key] = job
        for old in list(self._jobs)[:-JOBS]:
            del self._jobs[old]
        threading.Thread(
            target=self._work, args=(job, list(zip(names, contents, strict=True))), daemon=True
        ).start()
        return key

    def job(self, key: str | None) -> Job | None:
        """How far a drop is."""
        return self._jobs.get(key or "")

    def _work(self, job: Job, dropped: list[tuple[str, str]]) -> None:
        with self._turn, TemporaryDirectory(prefix="qc-drop-") as folder:
            try:
                self._take(job, self._put(job, Path(folder), dropped))
            except QcError as error:
                job.refused.append(str(error))
            finally:
                job.finished = True

    def _put(self, job: Job, folder: Path, dropped: list[tuple[str, str]]) -> list[Path]:
        from qc.export.write import whole

        places = []
        for number, (name, content) in enumerate(dropped):
            try:
                data = decoded(name, content)
                if len(data) > LARGEST:
                    raise FileError(f"{name} is larger than 64 MB: take it in with qc ingest")
                place = folder / str(number) / safe_name(name)
                place.parent.mkdir()
                whole(data, place)
                places.append(place)
            except FileError as error:
                job.refused.append(str(error))
        return places

    def _take(self, job: Job, places: list[Path]) -> None:
        from qc.ingest import run
        from qc.notify.after import Watch
        from qc.reports import changes

        watch = Watch(self._answers.store, by=self._answers.by)
        for place in places:  # one call a file, so that the page can tell about each as it is done
            try:
                taken = run.ingest(self._answers.store, [place], by=self._answers.by, command="dashboard")
                job.files += [one.document() for one in taken.files]
            except QcError as error:
                job.refused.append(f"{place.name}: {error}")
        told = watch.told()
        job.changed += changes.lines(told["changed"] or [])
        job.refused += list(told["not_given"].values())


def drop_area(words: str) -> Component:
    """Where files are dropped, and the news of the last drop."""
    polite: dict[str, Any] = {"aria-live": "polite"}
    return html.Div(
        [
            dcc.Upload(
                [html.Span(words), html.Span("Choose files", className="like-link")],
                id=ids.DROP,
                multiple=True,
                className="drop",
                max_size=LARGEST,
            ),
            dcc.Store(id=ids.DROP_JOB),
            dcc.Interval(id=ids.DROP_TICK, interval=350, disabled=True),
            html.Div(id=ids.DROP_NEWS, className="news", role="status", **polite),
        ]
    )


def _became(file: Mapping[str, Any]) -> str:
    if file["status"] == "already_kept":
        return "already kept, nothing new in it"
    parts = [f"{file['kept']} kept"]
    if file["held"]:
        parts.append(f"{file['held']} held until you decide")
    if file["already_kept"]:
        parts.append(f"{file['already_kept']} already kept")
    return ", ".join(parts)


def _cell(cell: Mapping[str, Any]) -> str:
    sheet = f"{cell['sheet']} " if cell.get("sheet") else ""
    quoted = f"\N{LEFT SINGLE QUOTATION MARK}{cell['text']}\N{RIGHT SINGLE QUOTATION MARK}"
    return f"{sheet}row {cell['row']} {cell['column']} {quoted}"


def doubt(finding: Mapping[str, Any]) -> Component:
    """One finding in its five parts: where, what is seen, the doubt, what is proposed, what changes."""
    cells = finding.get("cells") or ()
    where = ", ".join(_cell(c) for c in cells[:4])
    count = finding.get("count") or len(cells)
    more = f" and {count - 4} more" if count > 4 else ""
    said = [finding.get(key) for key in ("saw", "doubt", "proposal", "effect")]
    return html.Li([html.P(where + more, className="where"), html.P(" ".join(str(s) for s in said if s))])


def news(job: Job) -> Children:
    """What became of each file so far, and how many are still to come."""
    lines: list[Children] = []
    for file in job.files:
        told: list[Children] = [html.Strong(str(file["file"])), ": ", _became(file)]
        waiting = [f for f in file.get("findings") or () if not f.get("decided")]
        lines.append(
            html.Li(
                [
                    html.Span(told),
                    *(
                        [fold(many(len(waiting), "doubt"), html.Ul([doubt(f) for f in waiting]))]
                        if waiting
                        else []
                    ),
                ]
            )
        )
    done = len(job.files) + len(job.refused)
    lines += [html.Li(text, className="refused") for text in job.refused]
    head = (
        f"{many(job.total, 'file')} taken in"
        if job.finished
        else f"Reading: {done} of {many(job.total, 'file')} done"
    )
    after: Children = html.Progress(value=str(done), max=str(job.total))
    if job.finished:
        after = html.A("Show the floor with them", href="/", className="way")
    what = [html.P("What changed"), html.Ul([html.Li(text) for text in job.changed])] if job.changed else []
    return [html.P(head), html.Ul(lines), *what, after]
