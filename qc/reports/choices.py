"""What a person chose for one series: kind of chart, family, wanted index, blocks not to learn from."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import pandas as pd

from qc.errors import QuestionError
from qc.history import SERIES, history, series_id
from qc.history.zone import iso
from qc.records import Asked
from qc.reports.chart_kinds import SINGLE
from qc.reports.heads import Key, groups
from qc.reports.question import head
from qc.stats.families import family

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
        key = tuple(str(row[n]) for n in SERIES)
        mine = found.setdefault(key, {})
        if pd.isna(row["value"]):
            mine.pop(row["name"], None)
        else:
            mine[row["name"]] = Choice(
                str(row["value"]), str(row["by"]), int(row["at_written"]), str(row["reason"])
            )
    return {key: mine for key, mine in found.items() if mine}


def note(
    store: Any, series: Sequence[str], name: str, value: str | None, *, reason: str, by: str, command: str
) -> str | None:
    """Write one choice for one series and return its value as kept; None goes back to the usual.

    Raises
    ------
    QuestionError
        An unknown name or value, a series that is not there, a family that cannot hold its values, or no
        reason.
    """
    if name not in NAMES:
        raise QuestionError(f"{name!r} is nothing to choose: it is one of {', '.join(NAMES)}")
    if not reason.strip():
        raise QuestionError("a choice needs a reason: say why this series is to be read otherwise")
    key = tuple(series)
    mine = history(store, Asked(**{n: (v,) for n, v in zip(SERIES, key, strict=True)}))  # type: ignore[arg-type]
    values = groups(mine.values).get(key)
    if values is None:
        raise QuestionError(f"there is no series {'/'.join(key)}: qc series lists what there is")
    kept = None if value is None else _CHECKS[name](value.strip(), values)
    with store.write(by=by, command=command, reason=reason.strip()) as write:
        write.choose(key, name, kept, reason.strip())
    return kept


def _chart(value: str, values: pd.DataFrame) -> str:
    if value not in SERIES_KINDS:
        raise QuestionError(
            f"there is no chart of kind {value!r} for one series: take one of {', '.join(SERIES_KINDS)}"
        )
    return value


def _family(value: str, values: pd.DataFrame) -> str:
    chosen = family(value)
    known = values["value"].dropna().to_numpy(dtype=float)
    if not chosen.holds(known):
        raise QuestionError(
            f"the {chosen.label} family takes {chosen.needs}, and this series has {known.min():g}: choose "
            "another"
        )
    return value


def wanted_index(value: str, values: pd.DataFrame | None = None) -> str:
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


def _learn_without(value: str, values: pd.DataFrame) -> str:
    named, there = builds_of(value), set(values["build"].dropna())
    unknown = [name for name in named if name not in there]
    if not named or unknown:
        said = f"this series has no build {', '.join(unknown)}" if named else "no build is named"
        raise QuestionError(f"{said}: name builds of the chart, with commas between them")
    return ", ".join(named)


_CHECKS: Final[Mapping[str, Callable[[str, pd.DataFrame], str]]] = {
    "chart": _chart, "family": _family, "wanted": wanted_index, "learn_without": _learn_without,
}  # fmt: skip


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
