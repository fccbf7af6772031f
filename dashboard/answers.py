"""The answers that the pages show, each kept until the store has a newer revision."""

import logging
from collections import OrderedDict
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import suppress
from importlib import import_module
from threading import Lock
from typing import Any, Final

from qc.errors import QcError, QuestionError
from qc.history.zone import shop_zone
from qc.store import Store
from qc.store.dated import Daily
from qc.units import TICKS_PER_UM

Question = Mapping[str, tuple[str, ...]]
Document = dict[str, Any]
EVERYTHING: Final[Question] = {}
FILTERS: Final = (
    "machine",
    "operation",
    "characteristic",
    "method",
    "state",
    "feature",
    "engine",
    "build",
    "gauge",
    "since",
    "until",
    "as_of",
)
KEPT: Final = 64


class Kept:
    """One piece of work: done or not, and what came of it."""

    def __init__(self) -> None:
        self.working = Lock()
        self.done = False
        self.found: Any = None


class Answers:
    """Every answer of `qc.reports` over one store, kept per (revision, question)."""

    def __init__(self, place: str, *, by: str) -> None:
        self.by = by
        self._place = place
        self._opened: Store | None = None
        self._kept: OrderedDict[tuple[Any, ...], Kept] = OrderedDict()
        self._lock = Lock()
        self._working = Lock()  # answers share much of their work: two at once would do it twice

    @property
    def store(self) -> Store:
        """The store, made when it is not there yet: an empty page is the first step."""
        with self._lock:
            if self._opened is None:
                self._opened = Store.open(self._place, create=True)
                self._opened.before_write = Daily(logging.getLogger("dashboard").warning)
            return self._opened

    @property
    def place(self) -> str:
        """Where the store is, for messages."""
        return self.store.place

    def revision(self) -> int:
        """Newest revision of the store."""
        return self.store.data_version()

    def _once(self, key: tuple[Any, ...], work: Callable[[], Any]) -> Any:
        """Work done once a revision, however many pages ask for it meanwhile."""
        key = (self.revision(), *key)
        with self._lock:
            mine = self._kept.setdefault(key, Kept())
            self._kept.move_to_end(key)
            while len(self._kept) > KEPT:
                self._kept.popitem(last=False)
        with mine.working:
            if not mine.done:
                mine.found = work()
                mine.done = True
            return mine.found

    def warm(self) -> None:
        """Work out what the first page shows, so that nobody waits for it; a refusal is for the page."""
        with suppress(QcError):
            self.drift()
            self.chart()

    def _answer(self, name: str, asked: Question, *before: Any, **more: Any) -> Document:
        def work() -> Document:
            from qc.reports import question

            options = {k: v for k, v in asked.items() if k in FILTERS}
            report = import_module(f"qc.reports.{name}")
            with self._working:
                found: Document = report.answer(
                    self.store, *before, question.asked(self.store, options), **more
                )
            return found

        words = tuple(sorted((k, tuple(v)) for k, v in asked.items() if k in FILTERS))
        found: Document = self._once((name, words, *before, *more.items()), work)
        return found

    def drift(self, asked: Question = EVERYTHING) -> Document:
        """Conditions and forecasts, most urgent first."""
        return self._answer("drift", asked)

    def chart(self, asked: Question = EVERYTHING) -> Document:
        """Blocks, limits, stretches and events of each series."""
        return self._answer("chart", asked)

    def kinds(self, asked: Question, kind: str | None) -> Document:
        """Charts of a kind, of the kind chosen for each series where none is asked for."""
        return self._answer("charts_by_kind", asked, kind=kind)

    def shape(self, asked: Question = EVERYTHING) -> Document:
        """Bores of each series beside their family and its runner-up."""
        return self._answer("shape", asked)

    def capability(self, asked: Question = EVERYTHING) -> Document:
        """Spreads, intervals and indices of each series and window."""
        return self._answer("capability", asked)

    def clearance(self, asked: Question = EVERYTHING) -> Document:
        """Planned against achieved, each build tightest first."""
        return self._answer("clearance", asked)

    def series(self, asked: Question = EVERYTHING) -> Document:
        """Heads of all series."""
        return self._answer("series", asked)

    def readings(self, asked: Question = EVERYTHING) -> Document:
        """Kept readings with the file, row and text they came from."""
        return self._answer("readings", asked)

    def held(self) -> Document:
        """Findings that wait for a person."""
        return self._answer("held", EVERYTHING)

    def doubt(self, finding: int) -> Document:
        """One doubt in full: what a decision would change."""
        return self._answer("held_effect", EVERYTHING, finding)

    def doubts(self) -> Document:
        """Every doubt, open or decided."""
        return self._answer("held", EVERYTHING, every=True)

    def month(self, month: str, asked: Question = EVERYTHING) -> Document:
        """One month against the last and the year before."""
        return self._answer("month", asked, month)

    def settings(self) -> dict[str, str]:
        """The shop's settings."""
        found: dict[str, str] = self._once(("settings",), self.store.settings)
        return found

    def zone(self) -> str:
        """The shop's zone by name."""
        return str(shop_zone(self.settings()))

    def units(self) -> str:
        """`metric` or `inch`."""
        return "inch" if self.settings().get("units") == "inch" else "metric"

    def uncertainty(self, gauges: Iterable[str]) -> float | None:
        """Largest standard uncertainty of these gauges, newest rows [um]; None where one is unknown."""
        rows = self._once(("gauges",), self.store.gauges)
        newest = {row.gauge: row.standard_uncertainty for row in rows if row.standard_uncertainty is not None}
        known = [newest.get(name) for name in gauges]
        if not known or any(value is None for value in known):
            return None
        largest: int = max(value for value in known if value is not None)
        return largest / TICKS_PER_UM

    def act(self, matter: str, kind: Any, *, initials: str, said: str) -> None:
        """Note that a person took a matter up, did something about it, or ended it.

        Raises
        ------
        QuestionError
            When there is no such open matter, or initials or sentence are missing.
        """
        from qc.reports import acts

        acts.act(self.store, matter, kind, initials=initials, said=said, by=self.by)

    def choose(
        self, series: Sequence[str], name: str, value: str | None, *, initials: str, reason: str
    ) -> None:
        """Note what a person chose for a series.

        Raises
        ------
        QuestionError
            Without initials or reason, or where the series cannot bear the choice.
        """
        from qc.reports import choosing

        if not initials.strip():
            raise QuestionError("a choice needs your initials: write them beside the reason")
        who = f"{initials.strip()} ({self.by})"
        choosing.note(self.store, series, name, value, reason=reason, by=who, command="dashboard")

    def set(self, name: str, value: str) -> None:
        """Write one setting as one revision.

        Raises
        ------
        QuestionError
            For a setting that the pages do not write.
        """
        if name != "units" or value not in ("metric", "inch"):
            raise QuestionError(f"the pages do not set {name} to {value!r}: use qc shop set")
        with self.store.write(by=self.by, command="dashboard", reason=None) as write:
            write.set(name, value)
