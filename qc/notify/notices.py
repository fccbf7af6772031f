"""Which notices are due, and each of them sent once: what the server refuses is sent the next time."""

import smtplib
import ssl
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, Final

from qc.errors import PostError
from qc.notify.message import notice, trial
from qc.notify.post import Post, post_of
from qc.records import Asked

PATIENCE: Final = 10.0  # seconds: while notices are sent no other program can write to the store
Row = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Due:
    """One notice that somebody has not had yet."""

    matter: Row
    kind: str
    recipient: str

    @property
    def row(self) -> dict[str, str]:
        """As it is kept once it is sent."""
        return {"matter": self.matter["id"], "kind": self.kind, "recipient": self.recipient}


@dataclass(frozen=True, slots=True)
class Sent:
    """What went out, what still waits, and why."""

    sent: tuple[Due, ...]
    waiting: tuple[Due, ...]
    refusal: str | None = None

    def document(self) -> dict[str, Any]:
        """The same as answers write it."""
        return {
            "sent": [d.row for d in self.sent], "waiting": [d.row for d in self.waiting],
            "refusal": self.refusal,
        }  # fmt: skip


def kind_of(matter: Row) -> str:
    """`opened`, or `reopened 2` when it has opened again for the second time."""
    times = sum(turn["act"] == "reopened" for turn in matter["turns"])
    return f"reopened {times}" if times else "opened"


def due(store: Any, matters: Sequence[Row], recipients: Sequence[str]) -> list[Due]:
    """Notices of open matters that were not sent yet, in the order of the matters."""
    gone = {(r["matter"], r["kind"], r["recipient"]) for r in store.records("notice").to_dict("records")}
    found = [Due(m, kind_of(m), who) for m in matters if m["state"] == "open" for who in recipients]
    return [d for d in found if tuple(d.row.values()) not in gone]


def send(store: Any, *, by: str) -> Sent | None:
    """Send what is due; None where the shop has not set notices up.

    Every notice is noted in the transaction in which the server took it, so that two programs at once send
    it once; a program killed between the two sends it again.

    Raises
    ------
    QuestionError
        When notices are set up in part.
    """
    from qc.reports import drift

    post = post_of(store.settings())
    if post is None:
        return None
    matters = drift.answer(store, Asked())["matters"]
    if not due(store, matters, post.recipients):
        return Sent((), ())
    try:
        with connected(post) as server, store.write(by=by, command="notify send") as write:
            waiting = due(store, matters, post.recipients)
            sent, refused = _each(server, post, waiting)
            for one in sent:
                write.note("notice", one.row)
    except PostError as refusal:
        waiting = due(store, matters, post.recipients)
        return Sent((), tuple(waiting), _later(str(refusal), len(waiting)))
    left = tuple(d for d in waiting if d not in sent)
    return Sent(tuple(sent), left, _later(refused, len(left)) if refused else None)


def _later(why: str, n: int) -> str:
    return f"{why}: {n} {'notice waits' if n == 1 else 'notices wait'} and will be tried again next time"


def _each(server: smtplib.SMTP, post: Post, waiting: Sequence[Due]) -> tuple[list[Due], str | None]:
    """What the server took, and why it took the rest not."""
    sent: list[Due] = []
    refused: str | None = None
    for one in waiting:
        try:
            server.send_message(notice(post, one.recipient, one.matter, again=one.kind != "opened"))
        except smtplib.SMTPServerDisconnected as trouble:
            return sent, _said(post, trouble)
        except (smtplib.SMTPException, OSError) as trouble:
            refused = _said(post, trouble)
            continue
        sent.append(one)
    return sent, refused


def attempt(post: Post) -> None:
    """Send every recipient a message that only shows that notices arrive.

    Raises
    ------
    PostError
        When the server refuses.
    """
    with connected(post) as server:
        for recipient in post.recipients:
            try:
                server.send_message(trial(post, recipient))
            except (smtplib.SMTPException, OSError) as trouble:
                raise PostError(_said(post, trouble) + ": see qc shop list") from trouble


@contextmanager
def connected(post: Post) -> Iterator[smtplib.SMTP]:
    """A connection to the shop's mail server, logged in where it has a user.

    Raises
    ------
    PostError
        When the server cannot be reached, or refuses.
    """
    try:
        server = _opened(post)
    except (smtplib.SMTPException, OSError) as trouble:
        raise PostError(_said(post, trouble)) from trouble
    try:
        yield server
    finally:
        try:
            server.quit()
        except (smtplib.SMTPException, OSError):
            server.close()


def _opened(post: Post) -> smtplib.SMTP:
    context = ssl.create_default_context()
    if post.security == "ssl":
        server: smtplib.SMTP = smtplib.SMTP_SSL(post.host, post.port, timeout=PATIENCE, context=context)
    else:
        server = smtplib.SMTP(post.host, post.port, timeout=PATIENCE)
    try:
        if post.security == "starttls":
            server.starttls(context=context)
        if post.user is not None:
            server.login(post.user, post.password())
    except BaseException:
        server.close()
        raise
    return server


def _said(post: Post, trouble: Exception) -> str:
    """Why a server refuses, in one line; it never repeats what was sent to it."""
    if isinstance(trouble, smtplib.SMTPRecipientsRefused):
        who = ", ".join(trouble.recipients)
        return f"the mail server {post.place} does not take mail for {who}"
    if isinstance(trouble, smtplib.SMTPAuthenticationError):
        return f"the mail server {post.place} does not know {post.user} with this password"
    if isinstance(trouble, smtplib.SMTPResponseException):
        told = trouble.smtp_error
        words = told.decode("utf-8", "replace") if isinstance(told, bytes) else str(told)
        return f"the mail server {post.place} refuses ({trouble.smtp_code} {' '.join(words.split())})"
    words = " ".join(str(trouble).split()) or type(trouble).__name__
    return f"the mail server {post.place} cannot be used ({words})"
