"""What lies ahead of the urgent series, and events nobody logged, as they are read on a terminal."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

import click

from qc.cli import printed
from qc.cli.options import Given

Rows = Sequence[Mapping[str, Any]]
SHOWN: Final = 8


def beneath(rows: Rows, names: Sequence[str]) -> None:
    """Print forecasts and causes of series that are neither steady nor thin, then proposed events."""
    told = [
        {"sentence": f"{name}: {text}"}
        for name, r in zip(names, rows, strict=True)
        if r["condition"] not in ("steady", "thin") and (text := _ahead(r))
    ]
    if told:
        printed.sentences(told[:SHOWN])
    proposals(rows)


def _ahead(row: Mapping[str, Any]) -> str:
    evidence = row.get("evidence")
    return " ".join(part for part in (row.get("forecast"), evidence and evidence["words"]) if part)


def proposals(rows: Rows) -> None:
    """Print each proposed event once, with the command that logs it."""
    seen: set[str] = set()
    for row in rows:
        for event in row.get("proposed_events", ()):
            if event["command"] not in seen:
                seen.add(event["command"])
                printed.sentences([{"sentence": f"{row['machine']}: {event['words']}."}])
                click.echo(f"  {event['command']}")


def replay(command: Given) -> bool:
    """Replay the shop's history, tell how drift would have done; whether it came to its end.

    Stopped from the keyboard, it tells what is done so far.
    """
    from qc.cli.answers import deliver
    from qc.reports.backtest import Backtest

    with command.opened() as store:
        run = Backtest(store, command.question(store))
        try:
            for done, total in run.steps():
                click.echo(f"\rreplayed {done} of {total}", nl=done == total, err=True)
        except KeyboardInterrupt:
            click.echo("\nstopped: what follows is told from the part that was replayed", err=True)
        document = run.document()
        deliver(document, command, store.settings())
    return bool(document["complete"])


def backtest(document: Mapping[str, Any], how: printed.Shown) -> None:
    """Print a sentence for each setting, and the events of the one in force."""
    printed.sentences(document["settings"])
    events = document["settings"][0]["events"] if document["settings"] else []
    seen = [event for event in events if event["seen"]]
    printed.sentences(seen)
    if len(events) > len(seen):
        click.echo(f"Before {len(events) - len(seen)} of {len(events)} events nothing was seen.")
    if not document["complete"]:
        click.echo(f"Only {document['replayed']} of {document['of']} replays were made.")
