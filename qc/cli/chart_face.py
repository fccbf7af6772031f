"""A chart of another kind than the default, as it is read on a terminal."""

from collections.abc import Mapping
from typing import Any, Final

import click

from qc.cli import printed
from qc.cli.printed import NOTHING, Shown, plain, table

LAST_BLOCKS: Final = 12
MOST_CHARTS: Final = 4
Document = Mapping[str, Any]
_SIZED: Final = (
    "ewma",
    "cusum",
    "individuals",
    "mean_range",
    "mean_spread",
    "acceptance",
    "regression",
    "spread",
)


def chart(document: Document, how: Shown) -> None:
    """Print each series: its sentence, what it says, how sure, what not to conclude, its last blocks."""
    rows = document["series"]
    for row in rows:
        printed.sentences([row])
        if len(rows) <= MOST_CHARTS:
            _one(row, document["kind"], how)
    if len(rows) > MOST_CHARTS:
        click.echo(
            "  how sure, and the blocks: narrow it (--machine, --characteristic ...), or take --json or --out"
        )
    if not rows:
        click.echo(f"No series here has what a chart of kind {document['kind']} needs.")


def _one(row: Document, kind: str, how: Shown) -> None:
    for sentence in row["explanation"]:
        printed.said(sentence, "  ")
    for asked in row.get("questions", ()):
        if asked["blocks"]:
            printed.said(f"Also: {asked['words']} ({asked['rule']}), last at {asked['blocks'][-1]}.", "  ")

    def number(value: object) -> str:
        return how.number(value, row) if kind in _SIZED else plain(value)

    table(
        ("block", "day", "bores", "statistic", "lower", "upper", "signal"),
        [
            (b["build"] or NOTHING, how.day(b["at"]), plain(b["n"]), number(b["statistic"]),
             number(b["lower"]), number(b["upper"]), "; ".join(s["words"] for s in b["signals"]))
            for b in row["blocks"][-LAST_BLOCKS:]
        ],
    )  # fmt: skip
    click.echo()
