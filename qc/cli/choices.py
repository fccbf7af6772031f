"""What a person chooses for one series: its chart, its family, its wanted index; with who and why."""

from typing import Any

import click

from qc.cli.options import Given, asks, because, given
from qc.errors import QuestionError


@click.group()
def choose() -> None:
    """Choices for a series that stick: `chart`, `family`, `wanted`, `learn_without`."""


@choose.command("set", context_settings={"ignore_unknown_options": True})
@click.argument("name")
@click.argument("value")
@because
@asks
def choose_set(name: str, value: str, reason: str, **options: Any) -> None:
    """Choose VALUE for NAME in the one series that the filters leave (`chart ewma`, `family lognormal`)."""
    _write(given(options), name, value, reason, "choose set")


@choose.command("usual")
@click.argument("name")
@because
@asks
def choose_usual(name: str, reason: str, **options: Any) -> None:
    """Go back to the usual one for NAME in the one series that the filters leave."""
    _write(given(options), name, None, reason, "choose usual")


def _write(command: Given, name: str, value: str | None, reason: str, words: str) -> None:
    from qc.history import series_id, series_key
    from qc.reports import choosing, series

    with command.opened() as store:
        found = series.answer(store, command.question(store))["series"]
        if len(found) != 1:
            raise QuestionError(
                f"a choice is for one series and the filters leave {len(found)}: narrow them with --machine, "
                "--operation, --characteristic, --method, --state"
            )
        key = series_key(found[0])
        kept = choosing.note(store, key, name, value, reason=reason, by=command.by, command=words)
        revision = store.revision()
    told = {"series": series_id(key), "name": name, "value": kept, "reason": reason, "by": command.by,
            "revision": revision}  # fmt: skip
    if not command.told_as_json(told):
        click.echo(
            f"{told['series']}: {name} {'back to the usual' if kept is None else kept}, revision {revision}"
        )


@choose.command("list")
@asks
def choose_list(**options: Any) -> None:
    """Choices in force, with who and why."""
    from qc.reports import choices as report
    from qc.reports.words import plural

    command = given(options)
    with command.opened() as store:
        document = report.answer(store, command.question(store))
    if command.told_as_json(document):
        return
    from qc.cli.printed import shown, table

    how = shown({}, document["zone"])
    rows = document["choices"]
    click.echo(f"{plural(len(rows), 'choice')} in force at revision {document['revision']}.")
    table(
        ("series", "what", "chosen", "by", "on", "because"),
        [(r["id"], r["name"], r["value"], r["by"], how.day(r["at"]), r["reason"]) for r in rows],
        left=6,
    )


COMMANDS = (choose,)
