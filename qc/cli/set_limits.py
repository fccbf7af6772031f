"""Limits of charts: frozen by a person, listed, or left to be learned again."""

from math import isfinite
from typing import Any, Final

import click

from qc.cli.options import Given, asks, because, given, has_words, shared
from qc.errors import QuestionError

_NUMBERS: Final = ("center", "lower", "upper")


@click.group()
def limits() -> None:
    """Limits of a chart set for good, or learned again: set, list, lift.

    They are limits for block means, not tolerances: those are in qc spec.
    """


@limits.command("set")
@click.option("--center", type=float, metavar="NUMBER", help="Centre, as charted (um off target ...).")
@click.option("--lower", type=float, metavar="NUMBER", help="Lower limit for block means.")
@click.option("--upper", type=float, metavar="NUMBER", help="Upper limit for block means.")
@because
@asks
def limits_set(
    center: float | None, lower: float | None, upper: float | None, reason: str, **options: Any
) -> None:
    """Freeze the limits as learned today, or as given; the filters say of which series."""
    from qc.history import series_key

    command = given(options)
    has_words(reason)
    if not command.filters:
        raise QuestionError("say of which series: --machine, --operation, --characteristic (see qc series)")
    own = {"center": center, "lower": lower, "upper": upper}
    with command.opened() as store:
        learned = all(v is None for v in own.values())
        rows = _learned(command, store) if learned else _given(command, store, own)
        with store.write(by=command.by, command="limits set", reason=reason) as write:
            for row in rows:
                write.set_limits(series_key(row), row["center"], row["lower"], row["upper"], reason)
        revision = store.revision()
    if command.told_as_json({"set": rows, "reason": reason, "revision": revision}):
        return
    for row in rows:
        click.echo(f"{row['id']}: {_shown(row)}, set at revision {revision}")


def _charted(command: Given, store: Any) -> list[dict[str, Any]]:
    from qc.reports import chart

    found: list[dict[str, Any]] = chart.answer(store, command.question(store))["series"]
    if not found:
        raise QuestionError("no series is charted under these filters: see qc series")
    return found


def _learned(command: Given, store: Any) -> list[dict[str, Any]]:
    from qc.history import SERIES

    rows = []
    for one in _charted(command, store):
        if one["center"] is None:
            raise QuestionError(f"{one['id']} has no limits yet: {one['not_given']['center']}")
        if one["limits"]["phase"] == "set":
            raise QuestionError(
                f"the limits of {one['id']} are set already: lift them first, or give numbers of your own"
            )
        rows.append({
            "id": one["id"], **{name: one[name] for name in SERIES}, "center": one["center"],
            "lower": one["lower_limit"], "upper": one["upper_limit"], "unit": one["unit"],
        })  # fmt: skip
    return rows


def _given(command: Given, store: Any, own: dict[str, float | None]) -> list[dict[str, Any]]:
    from qc.history import SERIES

    found = _charted(command, store)
    if len(found) > 1:
        raise QuestionError(
            f"these filters name {len(found)} series, and own numbers are for one: add --method or others"
        )
    lower, center, upper = own["lower"], own["center"], own["upper"]
    there = [v for v in (lower, center, upper) if v is not None]
    if not all(map(isfinite, there)):
        raise QuestionError("a limit is a number like -4.5: leave one out that is not wanted")
    if there != sorted(there):
        raise QuestionError("the lower limit lies below the centre, the upper above it: put them in order")
    key = {name: found[0][name] for name in SERIES}
    return [{"id": found[0]["id"], **key, **own, "unit": found[0]["unit"]}]


def _shown(row: dict[str, Any]) -> str:
    there = [name for name in _NUMBERS if row[name] is not None and row[name] == row[name]]
    ends = [f"{name} {row[name]:.6g}" for name in there]
    return ", ".join(ends) + (f" {row['unit']}" if row.get("unit") else "")


@limits.command("list")
@shared
def limits_list(**options: Any) -> None:
    """Every series whose limits are set: numbers, who, why."""
    from qc.history import series_id, series_key

    command = given(options)
    with command.opened() as store:
        frame = store.records("set_limit")
        revision = store.revision()
    rows = [
        {"id": series_id(series_key(r)),
         **{n: None if r[n] != r[n] else r[n] for n in _NUMBERS}, "by": r["by"], "reason": r["reason"],
         "revision": r["revision"]}
        for r in frame.to_dict("records")
    ]  # fmt: skip
    if command.told_as_json({"set_limits": rows, "revision": revision}):
        return
    from qc.cli.printed import table

    click.echo(f"{len(rows)} series have set limits at revision {revision}; all others are being learned.")
    if rows:
        table(
            ("series", "limits", "by", "reason"),
            [(r["id"], _shown(r), r["by"], r["reason"]) for r in rows],
            left=4,
        )


@limits.command("lift")
@because
@asks
def limits_lift(reason: str, **options: Any) -> None:
    """Let the limits of these series be learned again."""
    from qc.history import series_id, series_key

    command = given(options)
    has_words(reason)
    with command.opened() as store:
        wanted = {one["id"] for one in _charted(command, store)}
        every = store.records("set_limit", all_rows=True)
        there = every[every["withdrawn_in"].isna()].to_dict("records")
        mine = [(int(r["seq"]), series_id(series_key(r))) for r in there]
        mine = [(seq, one) for seq, one in mine if one in wanted]
        if not mine:
            raise QuestionError("no limits are set under these filters: see qc limits list")
        with store.write(by=command.by, command="limits lift", reason=reason) as write:
            for seq, _ in mine:
                write.withdraw("set_limit", seq, reason)
        revision = store.revision()
    lifted = list(dict.fromkeys(one for _, one in mine))
    if command.told_as_json({"lifted": lifted, "reason": reason, "revision": revision}):
        return
    for one in lifted:
        click.echo(f"{one}: learned again from revision {revision}")


COMMANDS = (limits,)
