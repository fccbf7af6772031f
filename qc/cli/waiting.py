"""What waits for a person: list it, look at it, decide it with a reason."""

from typing import Any

import click

from qc.cli.options import asks, given, shared
from qc.cli.refusal import waits
from qc.errors import QuestionError


@click.group(invoke_without_command=True)
@asks
@click.pass_context
def held(context: click.Context, /, **options: Any) -> None:
    """Doubts that wait for you: list, show, accept, correct, discard.

    Exit code 1 when something waits.
    """
    if context.invoked_subcommand is None:
        _list(options)
        return
    # an option before the subcommand would be lost without a word: another store decided than the one meant
    typed = [
        name
        for name in options
        if context.get_parameter_source(name) is click.core.ParameterSource.COMMANDLINE
    ]
    if typed:
        raise click.UsageError(f"write the options behind {context.invoked_subcommand!r}", context)


@held.command("list")
@asks
def held_list(**options: Any) -> None:
    """Every open doubt, one line each."""
    _list(options)


def _document(options: dict[str, Any]) -> tuple[dict[str, Any], bool]:
    from qc.export import json, write
    from qc.reports import held as report

    command = given(options)
    with command.opened() as store:
        document = report.answer(store, command.question(store))
    if command.out is not None:
        write.answer(document, command.out)
        click.echo(f"wrote {command.out}", err=True)
    if command.json:
        click.echo(json.text(document), nl=False)
    return document, command.json or command.out is not None


def _list(options: dict[str, Any]) -> None:
    document, told = _document(options)
    findings = document["findings"]
    if not told:
        click.echo(f"{len(findings)} open." if findings else "Nothing waits for you.")
        for one in findings:
            click.echo(
                f"{one['id']:>4}  {one['severity']:<4}  {one['file']}, {one['count']} cells: {one['saw']}"
            )
        if findings:
            click.echo("See one with qc held show ID; decide with qc held accept, correct or discard.")
    waits(any(one["severity"] == "stop" or one.get("held") for one in findings) or bool(findings))


@held.command("show")
@click.argument("finding", metavar="ID", type=int)
@shared
def show(finding: int, **options: Any) -> None:
    """One doubt: its cells, what is seen, what is proposed and what it changes."""
    document, command_json = _one(finding, options)
    if not command_json:
        click.echo(f"{document['severity']} {document['id']} in {document['file']}: {document['code']}")
        for key in ("saw", "doubt", "proposal", "effect"):
            click.echo(f"  {key:<9} {document[key]}")
        for cell in document["cells"][:20]:
            sheet = f"{cell['sheet']}!" if cell.get("sheet") else ""
            click.echo(f"  {sheet}{cell['row']}  {cell['column']}: {cell['text']}")
        if document["count"] > 20:
            click.echo(f"  and {document['count'] - 20} more cells")
    waits(not document.get("decided"))


def _one(finding: int, options: dict[str, Any]) -> tuple[dict[str, Any], bool]:
    from qc.export import json
    from qc.reports import held as report

    command = given(options)
    with command.opened() as store:
        document = report.answer(store, command.question(store))
    found = [one for one in document["findings"] if one["id"] == finding]
    if not found:
        raise QuestionError(f"no open doubt has the number {finding}: see qc held")
    if command.json:
        click.echo(json.text({**document, "findings": found}), nl=False)
    return found[0], command.json


def _decided(
    finding: int, decision: str, reason: str, options: dict[str, Any], correction: str | None
) -> None:
    from qc.ingest import held as doubts

    command = given(options)
    with command.opened() as store:
        doubts.decide(store, finding, decision, reason, command.by, correction=correction)
        revision = store.revision()
    if command.json:
        from qc.export import json

        click.echo(json.text({"finding": finding, "decision": decision, "revision": revision}), nl=False)
    else:
        click.echo(f"{finding}: {decision}, revision {revision}")


_REASON = click.option("--reason", required=True, help="Why, in your words; it is kept for ever.")


@held.command("accept")
@click.argument("finding", metavar="ID", type=int)
@_REASON
@shared
def accept(finding: int, reason: str, **options: Any) -> None:
    """Take the held cells as they are written."""
    _decided(finding, "accept", reason, options, None)


@held.command("correct")
@click.argument("finding", metavar="ID", type=int)
@click.option("--to", "correction", help="What it should read; without it the proposal is taken.")
@_REASON
@shared
def correct(finding: int, reason: str, correction: str | None, **options: Any) -> None:
    """Take the held cells as they should read."""
    _decided(finding, "correct", reason, options, correction)


@held.command("discard")
@click.argument("finding", metavar="ID", type=int)
@_REASON
@shared
def discard(finding: int, reason: str, **options: Any) -> None:
    """Leave the held cells out for good; they stay in the store as discarded."""
    _decided(finding, "discard", reason, options, None)


COMMANDS = (held,)
