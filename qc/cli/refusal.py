"""Where a refusal becomes one sentence and an exit code: the top of the command line."""

import errno
import json
import os
import sys
import traceback
from collections.abc import Sequence
from typing import Any

import click

from qc.errors import QcError

WAITS = 1  # done, and something waits for a person
REFUSED = 2
FAULT = 70  # a fault of this program (sysexits of BSD, from memory)
STOPPED = 130  # as a shell counts a program that was interrupted


class Shop(click.Group):
    """The group of all commands: a refusal is a sentence on stderr, or a JSON document, never a traceback."""

    def main(  # type: ignore[override]
        self, args: Sequence[str] | None = None, prog_name: str | None = None, **extra: Any
    ) -> None:
        """Run a command and leave with its exit code."""
        words = list(sys.argv[1:] if args is None else args)
        extra.pop("standalone_mode", None)
        _let_every_name_be_printed()
        try:
            code = self._code(words, prog_name or "qc", extra)
        except Exception:  # noqa: BLE001  Python would leave with 1, and 1 says that the work is done
            traceback.print_exc()
            click.echo("This is a fault of qc itself, no refusal: please report the lines above.", err=True)
            code = FAULT
        sys.exit(code)

    def _code(self, words: list[str], name: str, extra: dict[str, Any]) -> int:
        try:
            done = super().main(words, name, standalone_mode=False, **extra)
        except click.ClickException as refusal:
            return _refused(_sentence(refusal), words)
        except QcError as refusal:
            return _refused(str(refusal), words)
        except (KeyboardInterrupt, click.Abort):
            click.echo("stopped", err=True)
            return STOPPED
        except OSError as trouble:
            if trouble.errno != errno.EPIPE:
                raise
            # the reader of a pipe has seen enough; nothing may be flushed into it at exit
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            return 0
        return done if isinstance(done, int) else 0


def waits(something: bool) -> None:
    """Leave with exit code 1 where something waits for a person."""
    if something:
        click.get_current_context().exit(WAITS)


def _refused(sentence: str, words: list[str]) -> int:
    if "--json" in words:
        click.echo(json.dumps({"error": sentence}, ensure_ascii=True))
    else:
        click.echo(sentence, err=True)
    return REFUSED


def _sentence(refusal: click.ClickException) -> str:
    text = " ".join(refusal.format_message().split())
    where = getattr(refusal, "ctx", None)
    if where is not None and where.command_path:
        text = f"{text.rstrip('.')}: see {where.command_path} --help"
    return text


def _let_every_name_be_printed() -> None:
    for stream in (sys.stdout, sys.stderr):
        change = getattr(stream, "reconfigure", None)
        if change is not None:
            change(errors="replace")
