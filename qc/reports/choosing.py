"""A choice for one series written down, after it was checked that the series can bear it."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final

import pandas as pd

from qc.errors import QuestionError
from qc.history import SERIES, history
from qc.records import Asked
from qc.reports.choices import NAMES, SERIES_KINDS, builds_of, wanted_index
from qc.reports.heads import groups
from qc.stats.families import family


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
