"""What waits for a person: list it, look at it, decide it with a reason."""

from typing import TYPE_CHECKING, Any

import click

from qc.cli.options import asks, because, given, shared
from qc.cli.refusal import waits
from qc.errors import QuestionError

if TYPE_CHECKING:
    from qc.ingest.taking import Correction, Decision


@click.group(invoke_without_command=True)
@asks
@click.pass_context
def held(context: click.Context, /, **options: Any) -> None:
    """Doubts that wait for you: list, show, accept, correct, discard, undo.

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
@click.option("--decided", is_flag=True, help="Those already decided, with who and why.")
@asks
def held_list(decided: bool, **options: Any) -> None:
    """Every open doubt, one line each."""
    if decided:
        _list_decided(options)
    else:
        _list(options)


def _list_decided(options: dict[str, Any]) -> None:
    from qc.reports import held as report
    from qc.reports.words import plural

    command = given(options)
    with command.opened() as store:
        document = report.answer(store, command.question(store), every=True)
    rows = [one for one in document["findings"] if one["decided"]]
    if command.told_as_json({**document, "findings": rows}):
        return
    click.echo(f"{plural(len(rows), 'doubt')} decided; take one back with qc held undo ID --reason ...")
    for one in rows:
        done = one["decided"]
        click.echo(
            f"{one['id']:>4}  {done['decision']:<7}  {one['file']}, {plural(one['count'], 'cell')}, "
            f"by {done['by']}: {done['reason']}"
        )


def _document(options: dict[str, Any]) -> tuple[dict[str, Any], bool]:
    from qc.cli.answers import deliver
    from qc.reports import held as report

    command = given(options)
    with command.opened() as store:
        document = report.answer(store, command.question(store))
    told = command.json or command.out is not None
    if told:
        deliver(document, command, {})
    return document, told


def _list(options: dict[str, Any]) -> None:
    from qc.reports.words import plural

    document, told = _document(options)
    findings = document["findings"]
    if not told:
        click.echo(document["sentence"])
        for one in findings:
            click.echo(
                f"{one['id']:>4}  {one['severity']:<4}  {one['file']}, {plural(one['count'], 'cell')}: "
                f"{one['saw']}"
            )
            _story(one)
        if findings:
            click.echo("See one with qc held show ID; decide with qc held accept, correct or discard.")
    waits(bool(findings))


def _story(one: dict[str, Any]) -> None:
    """What was decided about it before and taken back."""
    for step in one["history"]:
        click.echo(f"        {step['sentence']}")


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
        _story(document)
        if document["again"] is not None:
            click.echo(f"  {document['sentence']}")
        _before_after(document)
    waits(not document.get("decided") or bool(document["again"]))


def _before_after(document: dict[str, Any]) -> None:
    rows = document["before_after"][:20]
    if not rows:
        return
    from qc.catalogue import said
    from qc.cli.printed import NOTHING, table

    def shown(read: dict[str, Any] | None) -> tuple[str, str]:
        if read is None or read["value"] is None:
            return NOTHING, NOTHING
        verdict = said(read["verdict"]) if read["verdict"] else "no limits"
        warm = "" if read["value_20"] is None else f" ({read['value_20']:.10g} at 20 degC)"
        return f"{read['value']:.10g} {read['unit']}{warm}", verdict

    click.echo(f"  {document['sentence']}")
    table(
        ("row", "about", "text", "counts as", "verdict", "proposed", "verdict then"),
        [
            (str(r["row"]), r["about"], r["text"], *shown(r["as_written"]), r["proposed"] or NOTHING,
             shown(r["as_proposed"])[1])
            for r in rows
        ],
        left=7,
    )  # fmt: skip


def _one(finding: int, options: dict[str, Any]) -> tuple[dict[str, Any], bool]:
    from qc.reports import held_effect as report

    command = given(options)
    with command.opened() as store:
        document = report.answer(store, finding, command.question(store))
    told = command.told_as_json(document)
    return {**document["findings"][0], "sentence": document["sentence"]}, told


def _decided(
    finding: int, decision: "Decision", reason: str, options: dict[str, Any], correction: "Correction" = None
) -> None:
    from qc.ingest import held as doubts

    command = given(options)
    with command.opened() as store:
        done = doubts.decide(store, finding, decision, reason, command.by, correction)
    told = {"finding": finding, "decision": decision, "revision": done.revision, "kept": done.kept,
            "held": done.held}  # fmt: skip
    if command.told_as_json(told):
        return
    click.echo(f"{finding}: {decision}, {done.kept} rows kept, revision {done.revision}")
    if done.held:
        click.echo(f"{done.held} rows wait again for another reason: see qc held")


def _cells(texts: tuple[str, ...]) -> dict[str, str]:
    found = {}
    for text in texts:
        place, sign, value = text.partition("=")
        if not sign or not place.strip():
            raise QuestionError(
                f"{text!r} names no cell: write ROW:COLUMN=TEXT like 7:value=93.008, or value=93.008"
            )
        found[place.strip()] = value.strip()
    return found


@held.command("accept")
@click.argument("finding", metavar="ID", type=int)
@because
@shared
def accept(finding: int, reason: str, **options: Any) -> None:
    """Take the held cells as they are written."""
    _decided(finding, "accept", reason, options)


@held.command("correct")
@click.argument("finding", metavar="ID", type=int)
@click.option("--to", metavar="TEXT", help="What its cells should read; without it the proposal is taken.")
@click.option("--cell", "cells", metavar="ROW:COLUMN=TEXT", multiple=True, help="One cell only (repeatable).")
@because
@shared
def correct(finding: int, reason: str, to: str | None, cells: tuple[str, ...], **options: Any) -> None:
    """Take the held cells as they should read."""
    if to is not None and cells:
        raise QuestionError("--to is for all cells, --cell for single ones: give one of them")
    _decided(finding, "correct", reason, options, _cells(cells) or to)


@held.command("discard")
@click.argument("finding", metavar="ID", type=int)
@because
@shared
def discard(finding: int, reason: str, **options: Any) -> None:
    """Leave the held cells out for good; they stay in the store as discarded."""
    _decided(finding, "discard", reason, options)


@held.command("undo")
@click.argument("finding", metavar="ID", type=int)
@because
@shared
def undo(finding: int, reason: str, **options: Any) -> None:
    """Take a decision back: what it took in is void, and its rows wait again under a new number."""
    from qc.ingest import held as doubts

    command = given(options)
    with command.opened() as store:
        done = doubts.undo(store, finding, reason, command.by)
        revision = store.revision()
    told = {"finding": finding, "void": done.void, "back": done.back, "findings": list(done.findings),
            "revision": revision}  # fmt: skip
    if command.told_as_json(told):
        return
    again = ", ".join(map(str, done.findings)) or "none"
    click.echo(
        f"{finding}: taken back, {done.void} readings void, {done.back} count again, revision {revision}; "
        f"waiting again as {again}"
    )


COMMANDS = (held,)
