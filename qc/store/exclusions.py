"""Which readings an exclusion in force keeps out of answers."""

import json
from collections.abc import Iterable, Mapping
from typing import Any, Final

import numpy as np
import pandas as pd
from sqlalchemy import Connection, and_, select

from qc.errors import QuestionError
from qc.store import identity, tables

NAMES: Final = (
    "machine", "operation", "characteristic", "method", "state", "feature", "engine", "build", "gauge",
)  # fmt: skip


def checked(scope: Mapping[str, object]) -> dict[str, object]:
    """The scope, when it names something.

    Raises
    ------
    QuestionError
        For an empty scope, an unknown word, or a word without a value.
    """
    told = {name: value for name, value in scope.items() if value is not None and value != () and value != []}
    unknown = sorted(set(told) - {"reading", "since", "until", *NAMES})
    if unknown:
        raise QuestionError(
            f"an exclusion cannot be limited by {', '.join(unknown)}: use reading, {', '.join(NAMES)}, "
            "since or until"
        )
    if not told:
        raise QuestionError(
            "an exclusion needs a scope: name the reading, or the build, machine, feature it is about"
        )
    return told


def in_force(connection: Connection, as_of: int | None) -> list[dict[str, Any]]:
    """Scopes of the exclusions in force."""
    e, w = tables.REGISTERS["exclusion"].c, tables.withdrawal.c
    gone = select(w.seq).where(w.kind == "exclusion")
    statement = select(e.scope).order_by(e.seq)
    if as_of is not None:
        gone = gone.where(w.revision <= as_of)
        statement = statement.where(e.revision <= as_of)
    return [json.loads(scope) for scope in connection.scalars(statement.where(e.seq.not_in(gone)))]


def excluded(connection: Connection, readings: pd.DataFrame, as_of: int | None) -> np.ndarray:
    """Whether each reading of the frame is excluded."""
    found = np.zeros(len(readings), dtype=bool)
    scopes = in_force(connection, as_of)
    named: set[str] = set()
    for scope in scopes:
        if "reading" in scope:
            named.update(_several(scope["reading"]))
        elif len(readings):
            found |= _within(readings, scope)
    if named:
        found |= readings["id"].isin(named).to_numpy()
    return found


def _within(readings: pd.DataFrame, scope: Mapping[str, Any]) -> np.ndarray:
    inside = np.ones(len(readings), dtype=bool)
    for name in NAMES:
        if name in scope:
            inside &= readings[name].isin(_several(scope[name])).to_numpy()
    made = readings["made_at"].to_numpy()
    if "since" in scope:
        inside &= made >= scope["since"]
    if "until" in scope:
        inside &= made <= scope["until"]
    return inside


def _several(value: Any) -> list[str]:
    return list(value) if isinstance(value, Iterable) and not isinstance(value, str) else [value]


def series(connection: Connection, scope: str) -> list[int]:
    """Numbers of the series that a scope may touch."""
    told = json.loads(scope)
    if "reading" in told:
        return [identity.found(connection, one)[0] for one in _several(told["reading"])]
    s = tables.series.c
    filters = [s[name].in_(_several(told[name])) for name in tables.SERIES if name in told]
    return list(connection.scalars(select(s.id).where(and_(True, *filters))))
