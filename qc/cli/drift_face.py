"""What lies ahead of the urgent series, and events nobody logged, as they are read on a terminal."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

import click

from qc.cli import printed

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
