"""Charts of every kind as they are read on a terminal."""

from collections.abc import Mapping
from typing import Any, Final

import click

from qc.cli import printed
from qc.cli.printed import NOTHING, Shown, plain, share, span, table

LAST_BLOCKS: Final = 12
MOST_CHARTS: Final = 4
DEFAULT: Final = "block_means"
COUNTED: Final = ("first_pass", "scrap")
Document = Mapping[str, Any]
_UNSIZED: Final = ("short_run", "multivariate", *COUNTED)


def chart(document: Document, how: Shown) -> None:
    """Print each series: its sentence, what it says, how sure, what not to conclude, its last blocks."""
    rows = document["series"]
    for row in rows:
        printed.sentences([row])
        if len(rows) <= MOST_CHARTS:
            _one(row, how)
    if len(rows) > MOST_CHARTS:
        click.echo(
            "  how sure, and the blocks: narrow it (--machine, --characteristic ...), or take --json or --out"
        )
    if not rows:
        click.echo(f"No series here has what a chart of kind {document['kind']} needs.")
    if "alarm_level" in document and rows:
        printed.said(f"False alarms: {document['alarm_level']['words']}")


def _one(row: Document, how: Shown) -> None:
    for sentence in row["explained"]:
        printed.said(sentence, "  ")
    for asked in row["questions"]:
        _question(asked)
    if row["kind"] in COUNTED:
        _months(row)
    elif row["kind"] == DEFAULT:
        _block_means(row, how)
    else:
        _blocks(row, how)
    click.echo()


def _question(asked: Mapping[str, Any]) -> None:
    from qc.reports.words import whole

    if asked["off"]:
        told = f"not asked, {asked['off']}"
    else:
        blocks = asked["blocks"]
        seen = f"yes, {len(blocks)} times, last at {blocks[-1]}" if len(blocks) > 1 else (
            f"yes, at {blocks[0]}" if blocks else "no"
        )  # fmt: skip
        told = f"{seen} ({asked['rule']}; {asked['run_length']}; {asked['source']})"
    printed.said(f"Is it so that {asked['words']}? {whole(told)}", "  ")


def _words(block: Document) -> str:
    return "; ".join(str(s.get("words") or s.get("signal") or "") for s in block["signals"])


def _block_means(row: Document, how: Shown) -> None:
    limits = span(how.number(row["lower_limit"], row), how.number(row["upper_limit"], row))
    phase = str(row["limits"]["phase"]).replace("_", " ")
    center = f"{how.number(row['center'], row)} {how.unit(row)}"
    click.echo(f"  center {center}, limits for block means {limits} ({phase})")
    blocks = row["blocks"]
    if len(blocks) > LAST_BLOCKS:
        click.echo(f"  the last {LAST_BLOCKS} of {len(blocks)} blocks; all of them with --json or --out")
    table(
        ("block", "day", "bores", "mean", "spread", "lowest", "highest", "signal"),
        [
            (b["build"] or NOTHING, how.day(b["at"]), plain(b["n"]), how.number(b["mean"], row),
             how.number(b["spread"], row), how.number(b["lowest"], row), how.number(b["highest"], row),
             _words(b))
            for b in blocks[-LAST_BLOCKS:]
        ],
    )  # fmt: skip


def _blocks(row: Document, how: Shown) -> None:
    def number(value: object) -> str:
        return plain(value) if row["kind"] in _UNSIZED else how.number(value, row)

    table(
        ("block", "day", "bores", "statistic", "lower", "upper", "signal"),
        [
            (b["build"] or NOTHING, how.day(b["at"]), plain(b["n"]), number(b["statistic"]),
             number(b["lower"]), number(b["upper"]), _words(b))
            for b in row["blocks"][-LAST_BLOCKS:]
        ],
    )  # fmt: skip


def _months(row: Document) -> None:
    table(
        ("month", "counted", "of", "share", "lower", "upper", "signal"),
        [
            (b["month"], plain(b["count"]), plain(b["n"]), share(b["statistic"]), share(b["lower"]),
             share(b["upper"]), _words(b))
            for b in row["blocks"][-LAST_BLOCKS:]
        ],
    )  # fmt: skip
