"""Notices by e-mail: try whether they arrive, send what is due."""

from typing import Any

import click

from qc.cli.options import given, shared
from qc.cli.refusal import waits
from qc.errors import QuestionError

_NOT_SET_UP = "notices are not set up: qc shop set mail_host, mail_sender and mail_recipients"


@click.group()
def notify() -> None:
    """Notices of new and reopened matters by e-mail; they go out by themselves after an ingest."""


@notify.command("try")
@shared
def notify_try(**options: Any) -> None:
    """Send every recipient a message that only shows that notices arrive."""
    from qc.notify.notices import attempt
    from qc.notify.post import post_of

    command = given(options)
    with command.opened() as store:
        post = post_of(store.settings())
    if post is None:
        raise QuestionError(_NOT_SET_UP)
    attempt(post)
    if command.told_as_json({"tried": list(post.recipients)}):
        return
    click.echo(f"a try was sent to {', '.join(post.recipients)}")


@notify.command("send")
@shared
def notify_send(**options: Any) -> None:
    """Send what is due: each new or reopened matter once to each recipient.

    Exit code 1 when the server refused and notices wait.
    """
    from qc.cli.judged import notices
    from qc.notify import after

    command = given(options)
    with command.opened() as store:
        told = after.sent(store, by=command.by)
        revision = store.revision()
    if told["notices"] is None:
        raise QuestionError(told["not_given"].get("notices", _NOT_SET_UP))
    if not command.told_as_json({**told["notices"], "revision": revision}):
        notices(told)
        if not told["notices"]["sent"] and not told["not_given"]:
            click.echo("nothing is due")
    waits(bool(told["notices"]["waiting"]))


COMMANDS = (notify,)
