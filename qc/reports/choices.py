"""What a person chose for one series: kind of chart, family, wanted index, blocks not to learn from."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import pandas as pd

from qc.errors import QuestionError
from qc.history import SERIES, history, series_id, series_key
from qc.history.zone import iso
from qc.records import Asked
from qc.reports.chart_kinds import SINGLE
from qc.reports.heads import Key, groups
from qc.reports.question import head

DEFAULT_KIND: Final = "block_means"
SERIES_KINDS: Final = (DEFAULT_KIND, *SINGLE)
NAMES: Final[Mapping[str, str]] = {
    "chart": "which kind of chart stands first",
    "family": "which family of distributions the indices assume",
    "wanted": "which index is wanted of it",
    "learn_without": "builds whose cause is known, that limits are not learned from",
}
LEAST_WANTED, MOST_WANTED = 0.1, 10.0


@dataclass(frozen=True, slots=True)
class Choice:
    """One choice: what, by whom, when (microseconds since 1970) and why."""

    value: str
    by: str
    at: int
    reason: str

    def told(self) -> dict[str, Any]:
        """The choice as answers write it."""
        return {"value": self.value, "by": self.by, "at": iso(self.at), "reason": self.reason}


Choices = Mapping[Key, Mapping[str, Choice]]


def choices(store: Any, as_of: int | None = None) -> dict[Key, dict[str, Choice]]:
    """Choices in force by series and name; what went back to the usual is not among them."""
    found: dict[Key, dict[str, Choice]] = {}
    frame = store.records("choice", as_of)
    for row in frame.sort_values("seq").to_dict("records"):
        key = series_key(row)
        mine = found.setdefault(key, {})
        if pd.isna(row["value"]):
            mine.pop(row["name"], None)
        else:
            mine[row["name"]] = Choice(
                str(row["value"]), str(row["by"]), int(row["at_written"]), str(row["reason"])
            )
    return {key: mine for key, mine in found.items() if mine}


def wanted_index(value: str, values: object = None) -> str:
    """A wanted index as it is kept.

    Raises
    ------
    QuestionError
        When it is no number from 0.1 to 10.
    """
    try:
        number = float(value.replace(",", "."))
    except ValueError:
        number = float("nan")
    if not LEAST_WANTED <= number <= MOST_WANTED:
        raise QuestionError(f"a wanted index is a number from 0.1 to 10, like 1.33, not {value!r}")
    return repr(number)


def builds_of(value: str) -> tuple[str, ...]:
    """Builds of a choice that names several with commas between."""
    return tuple(dict.fromkeys(name.strip() for name in value.split(",") if name.strip()))


def causes_known(chosen: Choices) -> dict[Key, tuple[str, ...]]:
    """Builds of each series whose cause a person knows."""
    return {
        key: builds_of(mine["learn_without"].value) for key, mine in chosen.items() if "learn_without" in mine
    }


def said(choice: Choice, what: str) -> str:
    """Who chose what and why, as a sentence."""
    return f"{what} was chosen by {choice.by}, because: {choice.reason.rstrip('.')}."


def answer(store: Any, asked: Asked) -> dict[str, Any]:
    """Choices in force for the series that the question leaves."""
    found = history(store, asked)
    there = set(groups(found.values))
    rows = [
        {**dict(zip(SERIES, key, strict=True)), "id": series_id(key), "name": name, **choice.told()}
        for key, mine in sorted(choices(store, asked.as_of).items())
        if key in there
        for name, choice in sorted(mine.items())
    ]
    return {**head("choices", found.revision, asked, found.settings), "choices": rows}
