"""From a person's filters to `Asked`, and the head every answer begins with."""

import re
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from difflib import get_close_matches
from typing import Any, Final
from zoneinfo import ZoneInfo

from qc.catalogue import CATALOGUE, STATES, nearest
from qc.errors import QuestionError
from qc.history.zone import microseconds, shop_zone
from qc.records import Asked

FILTERS: Final = (
    "machine", "operation", "characteristic", "method", "state", "feature", "engine", "build", "gauge",
)  # fmt: skip
_NAMES: Final = ("machine", "operation", "method", "feature", "engine", "build", "gauge")
CAUTIONS: Final = (
    "Figures are advice: the engine maker's data and the responsible machinist decide.",
    "A signal is not a defect, and inside the chart's limits is not inside tolerance.",
)
_MONTH = re.compile(r"\d{4}-\d{2}")
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")


def span(text: str, zone: ZoneInfo) -> tuple[int, int]:
    """First and last microsecond of a month, a day or a point in time.

    Raises
    ------
    QuestionError
        When the text is none of the three.
    """
    cleaned = text.strip()
    try:
        if _MONTH.fullmatch(cleaned):
            start = datetime.strptime(cleaned, "%Y-%m").replace(tzinfo=zone)
            end = (start + timedelta(days=32)).replace(day=1)
        elif _DAY.fullmatch(cleaned):
            start = datetime.strptime(cleaned, "%Y-%m-%d").replace(tzinfo=zone)
            end = (start + timedelta(days=1)).replace(hour=0)
        else:
            when = datetime.fromisoformat(cleaned)
            exact = microseconds(when if when.tzinfo else when.replace(tzinfo=zone))
            return exact, exact
    except ValueError as error:
        raise QuestionError(
            f"{cleaned!r} is no date we read: write 2026-05, 2026-05-03 or 2026-05-03T14:30"
        ) from error
    return microseconds(start), microseconds(end) - 1


def _several(value: Any) -> tuple[str, ...]:
    if value is None or value == "":
        return ()
    return (value,) if isinstance(value, str) else tuple(str(v) for v in value)


def asked(store: Any, options: Mapping[str, Any]) -> Asked:
    """The question a person asked.

    Parameters
    ----------
    store : qc.store.Store
    options : mapping
        Filters by name (text or several), `since`, `until`, `as_of`; anything else is left alone.

    Raises
    ------
    QuestionError
        An unknown characteristic or state, a date that is none, a start after its end, an unknown revision.
    """
    fields: dict[str, Any] = {name: _several(options.get(name)) for name in FILTERS}
    _known(fields["characteristic"], CATALOGUE, "characteristic")
    _known(fields["state"], STATES, "state")
    told = {name: list(values) for name, values in fields.items() if values}
    as_of = options.get("as_of")
    revision = store.revision(as_of) if as_of not in (None, "") else None
    zone = shop_zone(store.settings(revision))
    for name, end in (("since", 0), ("until", 1)):
        if options.get(name):
            fields[name] = span(str(options[name]), zone)[end]
            told[name] = str(options[name])  # type: ignore[assignment]
    if fields.get("since") and fields.get("until") and fields["since"] > fields["until"]:
        raise QuestionError(f"since {options['since']} is after until {options['until']}: turn them round")
    _present(store, fields)
    if revision is not None:
        told["as_of"] = str(as_of)  # type: ignore[assignment]
    return Asked(**fields, as_of=revision, text=dict(told))


def _present(store: Any, fields: Mapping[str, Any]) -> None:
    """Refuse a name that nothing in the store has ever carried: a slip must not look like an empty answer."""
    wanted = {name: fields[name] for name in _NAMES if fields.get(name)}
    if not wanted:
        return
    from qc.history import history

    whole = history(store, Asked())
    for name, values in wanted.items():
        there = names(whole, name)
        for value in values:
            if value not in there:
                near = get_close_matches(value, sorted(there), 1, 0.6)
                hint = f": is it {near[0]}?" if near else ": qc series lists what there is"
                raise QuestionError(f"no {name} {value!r} is in the store{hint}")


def names(whole: Any, name: str) -> set[str]:
    """Every name of a kind that a history carries, in readings, derived values or records."""
    if name == "gauge":
        return {g for gs in whole.values["gauges"] for g in gs} | {g.gauge for g in whole.gauges}
    found = {v for v in whole.values[name] if isinstance(v, str)}
    if name in whole.readings:
        found |= {v for v in whole.readings[name] if isinstance(v, str)}
    if name == "build":
        found |= set(whole.builds)
    if name in whole.held:
        found |= {v for v in whole.held[name] if isinstance(v, str)}
    return found | {str(v) for b in whole.builds.values() if (v := getattr(b, name, None))}


def _known(values: Sequence[str], names: Any, what: str) -> None:
    for value in values:
        if value not in names:
            near = nearest(value) if what == "characteristic" else ""
            hint = f": is it {near}?" if near else f": it is one of {', '.join(names)}"
            raise QuestionError(f"{value!r} is no {what} we know{hint}")


def head(answer: str, revision: int, question: Asked, settings: Mapping[str, str]) -> dict[str, Any]:
    """What every answer begins with."""
    return {
        "answer": answer,
        "version": 1,
        "revision": revision,
        "asked": dict(question.text),
        "zone": str(shop_zone(settings)),
        "cautions": list(CAUTIONS),
    }
