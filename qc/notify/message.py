"""A notice as plain text: what to do, why, how sure, where to see it."""

import textwrap
from collections.abc import Mapping
from datetime import UTC, datetime
from email.message import EmailMessage
from email.policy import SMTP
from email.utils import format_datetime, make_msgid
from typing import Any
from urllib.parse import urlencode

from qc.notify.post import Post
from qc.reports.matter_words import bores

WIDEST = 76
LONGEST_SUBJECT = 150
CAUTION = "Figures are advice: the engine maker's data and the responsible machinist decide."


def one_line(text: str) -> str:
    """Text that cannot end a header: names come out of files, and a line's end in one would begin another."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


def notice(post: Post, recipient: str, matter: Mapping[str, Any], *, again: bool) -> EmailMessage:
    """The notice of one matter to one recipient.

    Parameters
    ----------
    post : Post
    recipient : str
    matter : mapping
        A row of `matters` of the drift answer.
    again : bool
        Whether it has opened again.
    """
    what = "opened again: " if again else ""
    subject = f"{what}{matter['name']}, {', '.join(matter['conditions'])}"
    touched = bores(matter)
    parts = [
        matter["sentence"],
        *(f"Reaction: {r['words']}" for r in matter["reactions"]),
        f"May have to be measured again: {touched}." if touched else "",
        f"See it: {page(post, matter['id'])}",
        f'Take it up there, or with: qc matter take-up {matter["id"]} --initials ... --said "..."',
        f"You get this once. {CAUTION}",
    ]
    return composed(post, recipient, subject, parts)


def trial(post: Post, recipient: str) -> EmailMessage:
    """A message that only shows that notices arrive."""
    return composed(post, recipient, "a try", ["This is a try: notices of the shop floor will arrive here."])


def page(post: Post, name: str) -> str:
    """Address of a matter on the pages."""
    return f"{post.page.rstrip('/')}/?{urlencode({'matter': name})}"


def composed(post: Post, recipient: str, subject: str, parts: list[str]) -> EmailMessage:
    """A message of paragraphs."""
    message = EmailMessage(policy=SMTP)
    message["From"] = post.sender
    message["To"] = recipient
    said = f"Shop floor: {one_line(subject)}"
    message["Subject"] = textwrap.shorten(said, LONGEST_SUBJECT, placeholder=" ...")
    message["Date"] = format_datetime(datetime.now(UTC))
    message["Message-ID"] = make_msgid(domain=post.sender.rpartition("@")[2])
    message["Auto-Submitted"] = "auto-generated"  # RFC 3834: no out-of-office answers
    paragraphs = [
        textwrap.fill(one_line(part), WIDEST, break_long_words=False, break_on_hyphens=False)
        for part in parts if part
    ]  # fmt: skip
    message.set_content("\n\n".join(paragraphs) + "\n")
    return message
