"""The commands that answer a question: options, open the store, one call, print."""

from collections.abc import Callable, Mapping
from typing import Any

import click

from qc.cli.options import Given, asks, given
from qc.cli.refusal import waits


def deliver(document: Mapping[str, Any], command: Given, settings: Mapping[str, str]) -> None:
    """Write an answer where it was asked for: a file, one JSON document, or sentences and a table."""
    if command.out is not None:
        from qc.export import write

        write.answer(document, command.out)
        click.echo(f"wrote {command.out}", err=True)
    if not command.told_as_json(document) and command.out is None:
        from qc.cli import faces, printed

        faces.FACES[document["answer"]](document, printed.shown(settings, document["zone"]))
        printed.cautions(document)


def ask(command: Given, answer: Callable[..., dict[str, Any]]) -> dict[str, Any]:
    """Open the store, ask, deliver; the document is handed back for the exit code."""
    with command.opened() as store:
        document = answer(store, command.question(store))
        deliver(document, command, store.settings())
    return document


@click.command()
@asks
def series(**options: Any) -> None:
    """Series in the store: counts, span, condition."""
    from qc.reports import series as report

    ask(given(options), report.answer)


@click.command()
@click.option(
    "--kind",
    metavar="KIND",
    help="block_means, ewma, cusum, individuals, mean_range, mean_spread, short_run, acceptance, regression, "
    "spread, multivariate, first_pass or scrap (default: what was chosen for the series, else block_means).",
)
@click.option(
    "--learn", metavar="N", type=click.IntRange(min=3), help="Learn limits from the first N blocks only."
)
@click.option(
    "--shift", metavar="SPREADS", type=float,
    help="Lasting shift that ewma and cusum are to see, in spreads of a block mean (1).",
)  # fmt: skip
@click.option(
    "--run-length", metavar="BLOCKS", type=float,
    help="Blocks to a false alarm that ewma and cusum keep to (the alarm budget's).",
)  # fmt: skip
@asks
def chart(
    kind: str | None, learn: int | None, shift: float | None, run_length: float | None, **options: Any
) -> None:
    """Block means of each series between their limits, or a chart of another kind."""
    from qc.reports import charts_by_kind as report

    ask(
        given(options),
        lambda store, asked: report.answer(
            store, asked, kind=kind, learn=learn, shift=shift, run_length=run_length
        ),
    )


@click.command()
@click.option(
    "--wanted", metavar="INDEX", type=float,
    help="Ppk to be proved (the series' own choice, the shop's setting, else 1.33).",
)  # fmt: skip
@asks
def capability(wanted: float | None, **options: Any) -> None:
    """What each series holds of its tolerance, with intervals that count blocks."""
    from qc.reports import capability as report

    ask(given(options), lambda store, asked: report.answer(store, asked, wanted=wanted))


@click.command()
@click.option(
    "--within", metavar="N", type=click.IntRange(min=1),
    help="Chance of meeting the limit within N bores or blocks (those to the usual change).",
)  # fmt: skip
@click.option(
    "--backtest", is_flag=True,
    help="Replay the shop's history block by block: how early, how often for nothing, how right.",
)  # fmt: skip
@asks
def drift(within: int | None, backtest: bool, **options: Any) -> None:
    """Which series leaves its tolerance, since when, and how many bores are left.

    Exit code 1 when a series is neither steady nor too thin to say.
    """
    from qc.cli import drift_face
    from qc.reports import drift as report

    if backtest:
        waits(not drift_face.replay(given(options)))
        return
    document = ask(given(options), lambda store, asked: report.answer(store, asked, within))
    waits(any(row["condition"] not in ("steady", "thin") for row in document["series"]))


@click.command()
@click.argument("month", metavar="YYYY-MM")
@asks
def month(month: str, **options: Any) -> None:
    """Whether this month is as consistent as last month, on each machine."""
    from qc.reports import month as report

    ask(given(options), lambda store, asked: report.answer(store, month, asked))


@click.command()
@asks
def clearance(**options: Any) -> None:
    """Whether clearances came out as planned, tightest first."""
    from qc.reports import clearance as report

    ask(given(options), report.answer)


@click.command()
@click.argument("name", metavar="BUILD")
@asks
def build(name: str, **options: Any) -> None:
    """One build: every judged quantity with its limits, verdict and gauge."""
    from qc.reports import build as report

    ask(given(options), lambda store, asked: report.answer(store, name, asked))


@click.command()
@click.option("--all", "everything", is_flag=True, help="Voided, held and excluded ones too.")
@asks
def readings(everything: bool, **options: Any) -> None:
    """Kept readings as CSV on stdout, each with the file, row, column and text it came from."""
    from qc.reports import readings as report

    command = given(options)
    with command.opened() as store:
        document = report.answer(store, command.question(store), every=everything)
        if command.out is not None or command.json:
            deliver(document, command, store.settings())
            return
    from qc.export import csv

    # a CSV brings its own line ends: nothing may turn them into others
    click.echo(csv.text(document).encode("utf-8"), nl=False)


COMMANDS: tuple[click.Command, ...] = (series, readings, chart, capability, drift, month, clearance, build)
