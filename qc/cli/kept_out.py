"""What a person keeps out of answers: true readings excluded for a time, wrong ones made void for ever."""

from typing import TYPE_CHECKING, Any

import click

from qc.cli.options import FILTERS, Given, asks, because, given, has_words, shared
from qc.errors import QuestionError

if TYPE_CHECKING:
    from qc.store import Store


def _scope(command: Given, store: "Store", readings: tuple[str, ...]) -> dict[str, Any]:
    """What the exclusion is about, its names held against what the store knows."""
    if readings and command.filters:
        raise QuestionError("name single readings with --reading, or a part of the shop by filters: not both")
    if readings:
        return {"reading": list(readings)}
    asked = command.question(store)
    scope: dict[str, Any] = {name: list(getattr(asked, name)) for name in FILTERS if getattr(asked, name)}
    ends = {"since": asked.since, "until": asked.until}
    return scope | {name: at for name, at in ends.items() if at is not None}


def _told(scope: dict[str, Any]) -> str:
    from qc.history.zone import iso

    def shown(name: str, value: Any) -> str:
        if name in ("since", "until"):
            return iso(value) or ""
        return ", ".join(value) if isinstance(value, list) else str(value)

    return "; ".join(f"{name} {shown(name, value)}" for name, value in scope.items())


@click.group()
def exclude() -> None:
    """True readings kept out of answers: add, list, lift.

    Figures are printed with and without them; nothing is deleted.
    """


@exclude.command("add")
@click.option("--reading", "readings", metavar="ID", multiple=True, help="One reading (repeatable).")
@because
@asks
def exclude_add(readings: tuple[str, ...], reason: str, **options: Any) -> None:
    """Keep out what these filters or ids name."""
    command = given(options)
    if command.as_of is not None:
        raise QuestionError("an exclusion holds from now on, and answers before it stay: leave --as-of out")
    with command.opened() as store:
        before = _excluded(store)
        scope = _scope(command, store, readings)
        with store.write(by=command.by, command="exclude add", reason=reason) as write:
            write.exclude(scope, reason)
        number = int(store.records("exclusion")["seq"].iloc[-1])
        more, revision = _excluded(store) - before, store.revision()
    told = {"exclusion": number, "scope": scope, "reason": reason, "readings": more, "revision": revision}
    if command.told_as_json(told):
        return
    click.echo(
        f"exclusion {number}: {more} readings more are kept out ({_told(scope)}), revision {revision}; "
        f"qc exclude lift {number} takes it back"
    )


def _excluded(store: "Store") -> int:
    return int(store.readings()["excluded"].sum())


@exclude.command("list")
@shared
def exclude_list(**options: Any) -> None:
    """Every exclusion in force: number, what it is about, who, why."""
    command = given(options)
    with command.opened() as store:
        rows = store.records("exclusion").to_dict("records")
        revision, excluded = store.revision(), _excluded(store)
    names = ("seq", "scope", "reason", "by", "revision")
    told = {"exclusions": [{n: row[n] for n in names} for row in rows], "readings": excluded,
            "revision": revision}  # fmt: skip
    if command.told_as_json(told):
        return
    from qc.cli.printed import table

    click.echo(f"{len(rows)} exclusions at revision {revision} keep out {excluded} readings.")
    if rows:
        lines = [(str(r["seq"]), _told(r["scope"]), r["by"], r["reason"]) for r in rows]
        table(("number", "about", "by", "reason"), lines, left=4)


@exclude.command("lift")
@click.argument("number", type=int)
@because
@shared
def exclude_lift(number: int, reason: str, **options: Any) -> None:
    """Let what an exclusion kept out count again."""
    command = given(options)
    has_words(reason)
    with command.opened() as store:
        with store.write(by=command.by, command="exclude lift", reason=reason) as write:
            write.withdraw("exclusion", number, reason)
        revision = store.revision()
    if command.told_as_json({"lifted": number, "reason": reason, "revision": revision}):
        return
    click.echo(f"exclusion {number} is lifted, revision {revision}")


@click.command()
@click.argument("reading", metavar="ID")
@because
@shared
def void(reading: str, reason: str, **options: Any) -> None:
    """Take one wrong reading out of all figures, for ever.

    ID as in qc readings. What it should have been comes in with a file; a true reading is excluded instead.
    """
    command = given(options)
    has_words(reason)
    with command.opened() as store:
        with store.write(by=command.by, command="void", reason=reason) as write:
            write.void(reading, reason)
        revision = store.revision()
    if command.told_as_json({"reading": reading, "reason": reason, "revision": revision}):
        return
    click.echo(f"{reading} is void, revision {revision}; it stays in the store and in the audit pack")


COMMANDS = (exclude, void)
