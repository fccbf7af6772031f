"""Matters and reactions: what is open, who has it, what was done, and what is to be done next time."""

from collections.abc import Mapping
from typing import Any

import click

from qc.cli.options import Given, asks, given, shared, stacked

Row = Mapping[str, Any]
MOST_BUILDS = 12  # of the bores to measure again, on a terminal


@click.group()
def matter() -> None:
    """Alarms that belong together: take one up, say what was done, see whether it helped."""


def _document(command: Given) -> dict[str, Any]:
    from qc.reports import drift

    with command.opened() as store:
        told = drift.answer(store, command.question(store))
    head = ("version", "revision", "asked", "zone", "cautions", "alarm_level", "matters")
    return {"answer": "matters", **{name: told[name] for name in head}}


@matter.command("list")
@click.option("--all", "everything", is_flag=True, help="Those that have ended too.")
@asks
def matter_list(everything: bool, **options: Any) -> None:
    """The open matters, most urgent first."""
    from qc.cli.answers import deliver

    command = given(options)
    document = _document(command)
    if not everything:
        document["matters"] = [m for m in document["matters"] if m["state"] == "open"]
    if command.json or command.out is not None:
        deliver(document, command, {})
        return
    from qc.cli.printed import said
    from qc.reports.words import plural

    which = "" if everything else "open "
    n = len(document["matters"])
    said(f"{plural(n, which + 'matter')} at revision {document['revision']}.")
    for one in document["matters"]:
        click.echo(f"{one['id']}")
        said(one["sentence"], "  ")
        lines(one, document["zone"])


def lines(one: Row, zone: str) -> None:
    """Print who has a matter and what was done about it."""
    from zoneinfo import ZoneInfo

    from qc.cli.printed import said
    from qc.reports.matter_words import hands

    for line in hands(one, ZoneInfo(zone)):
        said(line, "  ")


@matter.command("show")
@click.argument("name", metavar="ID")
@asks
def matter_show(name: str, **options: Any) -> None:
    """One matter: its series, its course, the reaction, and the bores made since the last good block."""
    from qc.cli.answers import deliver
    from qc.reports import acts

    command = given(options)
    document = _document(command)
    with command.opened() as store:
        wanted = acts.found(store, name, command.question(store).as_of).id
    document["matters"] = [m for m in document["matters"] if m["id"] == wanted]
    if command.json or command.out is not None:
        deliver(document, command, {})
        return
    for one in document["matters"]:
        _shown(one, document["zone"])


def _shown(one: Row, zone: str) -> None:
    from qc.cli.printed import said

    click.echo(one["id"])
    said(one["sentence"], "  ")
    for turn in one["turns"]:
        said(turn["words"], "  ")
    lines(one, zone)
    for reacted in one["reactions"]:
        said(f"Reaction: {reacted['words']}", "  ")
    for series in one["series"]:
        said(f"{series['name']}: {series['condition_now']}", "  ")
    _after(one)


def _after(one: Row) -> None:
    """Print whether the next blocks agree, and what was made since the last good one."""
    from qc.cli.printed import said
    from qc.reports import matter_words

    if one["next_blocks"] is not None:
        said(f"After it: {one['next_blocks']['words']}", "  ")
        for series in one["next_blocks"]["series"]:
            said(f"{series['id']}: {series['words']}", "    ")
    if one["bores_since"] is not None:
        said(f"{matter_words.bores(one)}:", "  ")
        for build in one["bores_since"][-MOST_BUILDS:]:
            said(f"{build['build'] or build['at']}: {matter_words.made(build)}", "    ")
        if len(one["bores_since"]) > MOST_BUILDS:
            click.echo(f"    and {len(one['bores_since']) - MOST_BUILDS} builds before: take --json or --out")


_acts = stacked([
    click.argument("name", metavar="ID"),
    click.option("--initials", metavar="TEXT", required=True, help="Who."),
    click.option("--said", metavar="TEXT", required=True, help="One free sentence; it is kept for ever."),
])  # fmt: skip
_AT = click.option("--at", metavar="WHEN", help="When, if not now (2026-05-04, 2026-05-04T10:30).")


def _noted(name: str, kind: Any, initials: str, said: str, at: str | None, options: dict[str, Any]) -> None:
    from qc.reports import acts

    command = given(options)
    with command.opened() as store:
        when = None if at is None else _moment(store, at)
        matter_, revision = acts.act(store, name, kind, initials=initials, said=said, by=command.by, at=when)
    word = {"taken_up": "taken up", "done": "done", "ended": "ended"}[kind]
    told = {"matter": matter_.id, "act": kind, "initials": initials, "said": said, "revision": revision}
    if command.told_as_json(told):
        return
    click.echo(f"{matter_.id}: {word} by {initials}, revision {revision}")


def _moment(store: Any, text: str) -> int:
    """A time; of a day alone its end, so that its own blocks count as made before, but never after now."""
    from datetime import UTC, datetime

    from qc.history.zone import microseconds, shop_zone
    from qc.reports.question import span

    return min(span(text, shop_zone(store.settings()))[1], microseconds(datetime.now(UTC)))


@matter.command("take-up")
@_acts
@shared
def take_up(name: str, initials: str, said: str, **options: Any) -> None:
    """Say that you see to it."""
    _noted(name, "taken_up", initials, said, None, options)


@matter.command("done")
@_acts
@_AT
@shared
def done(name: str, initials: str, said: str, at: str | None, **options: Any) -> None:
    """Say what was done; the next 5 blocks are then held against what is expected."""
    _noted(name, "done", initials, said, at, options)


@matter.command("end")
@_acts
@_AT
@shared
def end(name: str, initials: str, said: str, at: str | None, **options: Any) -> None:
    """End it; it opens again by itself if it goes on."""
    _noted(name, "ended", initials, said, at, options)


@click.group()
def reaction() -> None:
    """What is to be done when a characteristic leaves: set one, list them, lift one."""


_where = stacked([
    click.option("--operation", metavar="NAME", help="In this operation only."),
    click.option("--machine", metavar="NAME", help="On this machine only."),
])  # fmt: skip


@reaction.command("set")
@click.argument("characteristic")
@click.option("--does", metavar="TEXT", required=True, help="What the machinist does, in one sentence.")
@click.option("--tells", metavar="TEXT", help="Who is told.")
@click.option("--remeasures", metavar="TEXT", help="Which bores since the last good block.")
@_where
@shared
def reaction_set(
    characteristic: str, does: str, tells: str | None, remeasures: str | None, machine: str | None,
    operation: str | None, **options: Any,
) -> None:  # fmt: skip
    """Say what is to be done when CHARACTERISTIC leaves; the latest words count."""
    about = {"characteristic": characteristic, "machine": machine, "operation": operation}
    _reacted(about, {"does": does, "tells": tells, "remeasures": remeasures}, options)


@reaction.command("lift")
@click.argument("characteristic")
@_where
@shared
def reaction_lift(characteristic: str, machine: str | None, operation: str | None, **options: Any) -> None:
    """Take a reaction back."""
    about = {"characteristic": characteristic, "machine": machine, "operation": operation}
    _reacted(about, {"does": None, "tells": None, "remeasures": None}, options)


def _reacted(about: dict[str, Any], parts: dict[str, Any], options: dict[str, Any]) -> None:
    from qc.reports import acts, reactions

    command = given(options)
    with command.opened(create=True) as store:
        revision = acts.react(store, about, by=command.by, **parts)
    told = reactions.about(about)
    if command.told_as_json({**about, **parts, "revision": revision}):
        return
    click.echo(f"{told}: {'reaction set' if parts['does'] else 'reaction lifted'}, revision {revision}")


@reaction.command("list")
@asks
def reaction_list(**options: Any) -> None:
    """The reactions in force."""
    from qc.cli.answers import deliver
    from qc.reports import reactions

    command = given(options)
    with command.opened() as store:
        document = reactions.answer(store, command.question(store))
    if command.json or command.out is not None:
        deliver(document, command, {})
        return
    from qc.cli.printed import said
    from qc.reports.words import plural

    said(f"{plural(len(document['reactions']), 'reaction')} at revision {document['revision']}.")
    for row in document["reactions"]:
        said(row["sentence"], "  ")


COMMANDS = (matter, reaction)
