"""The command line: one thin command an answer. Nothing heavy is imported until a command runs."""

import click

from qc import __version__
from qc.cli import (
    answers,
    audit,
    choices,
    files,
    kept_out,
    matters,
    notices,
    pages,
    records,
    set_limits,
    settings,
    sheets,
    upkeep,
    waiting,
)
from qc.cli.refusal import Shop


@click.group(
    cls=Shop,
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
@click.version_option(__version__, prog_name="qc")
@click.pass_context
def main(context: click.Context) -> None:
    """Quality of engine machining: files in, doubts caught, four answers out."""
    if context.invoked_subcommand is None:
        click.echo(context.get_help())


_GROUPS = (
    pages, files, waiting, answers, matters, notices, choices, audit, records, kept_out, set_limits, settings,
    sheets, upkeep,
)  # fmt: skip
for _group in _GROUPS:
    for _command in _group.COMMANDS:
        main.add_command(_command)
